"""``tanksolve level``: where the liquid stands at one attitude."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.flow_options import Discharge, OpeningArea, PumpFlow
from tanksolve_cli.requirement import Require, with_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve level --box 900x300x300mm --fill 42L --pickup suction=20,150,100mm "
    "--attitude 10deg,5deg --picture side.png"
)
_AT = "write --attitude 10deg,5deg (pitch, roll), slope=9deg,heading=90deg or nose_up=10deg"
_RETIRED = {
    "--pump-flow": "write --flow 60L/min",
    **dict.fromkeys(("--pitch", "--roll", "--slope", "--heading"), _AT),
    "--rotations": "write --attitude pitch=10deg,roll=5deg,as=rotations",
    **{
        f"--{view}": f"write --picture FILE --view {view}"
        for view in ("side", "front", "solid", "tree")
    },
    "--one-level": "leave it out: every port is judged by its own pool",
}


@asks(views=("side", "front", "solid", "tree"), retired=_RETIRED)
def _level(
    ask: Ask,
    words: TankWords,
    attitude: Annotated[
        str, typer.Option(metavar="ATTITUDE", help="As 10deg,-5deg: tanksolve help attitude.")
    ] = "0deg,0deg",
    through: Annotated[
        list[str] | None,
        typer.Option(metavar="ATTITUDE", help="On the route there; repeat for more."),
    ] = None,
    most: Annotated[bool, typer.Option("--most", help="Of a fill range take the most.")] = False,
    flow: PumpFlow = None,
    opening_area: OpeningArea = None,
    discharge: Discharge = "0.61",
    require: Require = None,
) -> None:
    """Find the free surface at one attitude, and how far each port is from its rule."""
    from tanksolve.present.level_document import level_document
    from tanksolve.project.flow_words import FlowWords, running_case
    from tanksolve.project.level_case import level_answer
    from tanksolve.project.motion_words import parse_attitude
    from tanksolve_cli.case import read_case

    with busy("reading the tank and solving the level"):
        case = read_case(words)
        running = running_case(case, words, FlowWords(flow, opening_area, discharge))
        route = [parse_attitude(text, "--through") for text in through or ()]
        found = level_answer(case, parse_attitude(attitude), route, most, running)
        document = with_requirement(level_document(case.inputs, found), case, require)
    answer(document, ask)


register = tank_command("level", _level, _EXAMPLE)
