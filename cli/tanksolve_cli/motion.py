"""``tanksolve motion``: braking, cornering, climbing; sloshing; seconds of running left."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.pump_options import Flow, Held, Line, running_left_of
from tanksolve_cli.requirement import Require, with_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve motion --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm "
    "--do 'brake 0.4g' --do 'corner left 8m/s 20m' --excitation 1.2Hz --baffle 450mm"
)
_RETIRED = {"--map": "write --picture FILE", "--in-g": "write --picture FILE --view map-in-g"}


@asks(views=("map", "map-in-g"), csv=True, retired=_RETIRED)
def _motion(
    ask: Ask,
    words: TankWords,
    do: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MANOEUVRE",
            help="brake 0.4g; accelerate 2m/s2 on 15deg; corner left 8m/s 20m. Repeat for more.",
        ),
    ] = None,
    excitation: Annotated[
        list[str] | None,
        typer.Option(metavar="1.2Hz", help="A frequency that the machine puts in."),
    ] = None,
    baffle: Annotated[
        list[str] | None,
        typer.Option(metavar="450mm", help="Try a solid baffle this far from the rear wall."),
    ] = None,
    flow: Flow = None,
    line: Line = None,
    held: Held = "0L",
    require: Require = None,
) -> None:
    """See what the liquid does in a machine that brakes, corners and climbs."""
    from tanksolve.errors import RequirementError
    from tanksolve.present.motion_document import MotionAnswer, motion_document
    from tanksolve.project.motion_words import parse_manoeuvre
    from tanksolve.pump.motion_check import check_motion
    from tanksolve.units import parse, parse_length
    from tanksolve_cli.case import read_case

    if not (do or excitation or baffle):
        raise RequirementError(
            "nothing to do is given",
            where="--do",
            allowed="a manoeuvre, an --excitation or a --baffle",
            next_step="add --do 'brake 0.4g'",
        )
    manoeuvres = [parse_manoeuvre(text) for text in do or []]
    frequencies = [parse(text, "frequency", "--excitation") for text in excitation or []]
    with busy("reading the tank and solving the manoeuvres"):
        case = read_case(words)
        result = check_motion(
            *(case.tank, case.ports, case.fill, manoeuvres),
            excitations=frequencies,
            baffles=[parse_length(text, "--baffle") for text in baffle or []],
            running_left=running_left_of(flow, line, held),
            pickups=case.pickups,
        )
        found = MotionAnswer(
            *(result, tuple(manoeuvres), tuple(frequencies)),
            *(case.tank, case.ports, case.pickups),
        )
        document = with_requirement(motion_document(case.inputs, found), case, require)
    answer(document, ask)


register = tank_command("motion", _motion, _EXAMPLE)
