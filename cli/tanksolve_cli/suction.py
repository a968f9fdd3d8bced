"""``tanksolve suction``: will the pump's suction line cavitate."""

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require
from tanksolve_cli.suction_options import LineAndMouth
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve suction --liquid 'ISO VG 46' --flow 60L/min --line '38.1mm,1.5m,drop tube,"
    "2 elbow' --level 300mm --from -10C --to 80C --vacuum 5inHg --picture inlet.png"
)
_RETIRED = {
    "--plot": "write --picture FILE",
    "--attitude": "write --require slope=9deg,heading=90deg, or --require 15deg",
}


@asks(views=("inlet",), csv=True, retired=_RETIRED)
def _suction(ask: Ask, words: TankWords, asked: LineAndMouth, require: Require = None) -> None:
    """Find the inlet pressure at the pump, cold to hot: what passes, and the smallest bore."""
    from tanksolve.present.suction_document import suction_document
    from tanksolve.project.suction_words import find_suction
    from tanksolve_cli.case import read_case

    with busy("solving the suction line"):
        case = read_case(words) if words.has_tank else None
        found = find_suction(asked, case, words, require)
    answer(suction_document(found, None if case is None else case.inputs), ask)


register = tank_command("suction", _suction, _EXAMPLE)
