"""``tanksolve replay``: what a recorded day would have done to this tank."""

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.pump_options import Flow, Held, Line, running_left_of
from tanksolve_cli.requirement import Require, with_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve replay --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm "
    "--log day.csv --flow 60L/min --line 38.1mm,1.5m --picture day.png"
)
_RETIRED = {
    "--plot": "write --picture FILE",
    "--worst": "write --picture FILE --view worst",
}


@asks(views=("margins", "worst"), csv=True, retired=_RETIRED)
def _replay(
    ask: Ask,
    words: TankWords,
    log: Annotated[
        Path | None,
        typer.Option(
            metavar="day.csv",
            help="Columns such as time_s, pitch_deg, roll_deg (ax_g, fill_L); or a route's "
            "distance_m, elevation_m, heading_deg. CSV, also gzip; Parquet with tanksolve[logs].",
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="pitch=Inc1", help="Which column is what, where names do not say."),
    ] = None,
    column_unit: Annotated[
        list[str] | None,
        typer.Option(
            metavar="pitch=deg", help="A column's unit, where its name does not say; time=d/m/y."
        ),
    ] = None,
    reverse: Annotated[
        list[str] | None,
        typer.Option(metavar="roll", help="A column signed against nose up +, right side down +."),
    ] = None,
    reading: Annotated[
        str, typer.Option(help="What pitch and roll are: inclinometer, rotations, projected.")
    ] = "inclinometer",
    acceleration: Annotated[
        str | None,
        typer.Option(
            help="What acceleration columns are: own (the machine's), felt (with gravity)."
        ),
    ] = None,
    decimal: Annotated[
        str | None, typer.Option(help="The decimal mark where in doubt: comma, point.")
    ] = None,
    gap: Annotated[
        str | None,
        typer.Option(metavar="5s", help="Rows further apart are a gap; else three usual steps."),
    ] = None,
    filter_: Annotated[
        str | None,
        typer.Option("--filter", metavar="2s", help="Smooth by this time constant, for slosh."),
    ] = None,
    speed: Annotated[
        str | None, typer.Option(metavar="20km/h", help="Along a route without times.")
    ] = None,
    flow: Flow = None,
    line: Line = None,
    held: Held = "0L",
    require: Require = None,
) -> None:
    """Run a log of pitch and roll, or a route, through the tank."""
    from tanksolve.errors import FileFormatError
    from tanksolve.present.replay_document import ReplayAnswer, replay_document
    from tanksolve.project.log_words import parse_log_options
    from tanksolve.questions.replay.replay import replay
    from tanksolve_cli.case import read_case

    if log is None:
        raise FileFormatError(
            "no log is given",
            where="--log",
            allowed="a CSV file, or Parquet",
            next_step="add --log day.csv, your file of times, pitch and roll",
        )
    options = parse_log_options(
        {"names": column, "units": column_unit},
        {"reading": reading, "acceleration": acceleration, "decimal": decimal},
        {"gap": (gap, "time"), "time_constant": (filter_, "time"), "speed": (speed, "speed")},
        reverse,
    )
    left = running_left_of(flow, line, held)
    with busy("reading the tank"):
        case = read_case(words, limits=True)
    result = replay(
        *(case.tank, case.ports, case.fill, log, options),
        hold=None if left is None else left.seconds,
        progress=_progress(),
    )
    found = ReplayAnswer(result, case.tank, case.ports, case.fill, case.pickups == "any")
    answer(with_requirement(replay_document(case.inputs, found), case, require), ask)


def _progress() -> Callable[[int, int], None]:
    """Tell on stderr how far the log is, from one second on and then every two."""
    begun = time.monotonic()
    told = begun - 1.0

    def tell(done: int, total: int) -> None:
        nonlocal told
        now = time.monotonic()
        if now - told >= 2.0 and done < total:
            told = now
            ahead = (now - begun) * (total - done) / max(done, 1)
            sys.stderr.write(f"  {100.0 * done / total:.0f} % of the log, {ahead:.0f} s to go\n")

    return tell


register = tank_command("replay", _replay, _EXAMPLE)
