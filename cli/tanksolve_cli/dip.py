"""``tanksolve dip``: the dipstick table."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = "tanksolve dip --cylinder 450x1200mm --lies across --step 25mm --csv dip.csv"


@asks(csv=True)
def _dip(
    ask: Ask,
    words: TankWords,
    step: Annotated[str, typer.Option(help="Step of depth.")] = "10mm",
) -> None:
    """Tabulate depth against volume, standing level, from the lowest point of the liquid."""
    from tanksolve.present.dip_document import dip_document
    from tanksolve.questions.dip import dip
    from tanksolve.units import parse_length
    from tanksolve_cli.case import read_case

    with busy("reading the tank and filling the table"):
        case = read_case(words)
        table = dip(case.wall_tank, parse_length(step, "--step"), case.wall_ports)
    answer(dip_document(case.inputs, table), ask)


register = tank_command("dip", _dip, _EXAMPLE)
