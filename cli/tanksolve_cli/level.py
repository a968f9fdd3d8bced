"""``tanksolve level``: where the liquid stands at one attitude."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.flow_options import Discharge, OpeningArea, PumpFlow
from tanksolve_cli.requirement import Require, with_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tanksolve.model.attitude import Attitude
    from tanksolve.model.liquid import Fill
    from tanksolve.present.level_document import LevelAnswer
    from tanksolve.project.flow_words import RunningCase
    from tanksolve.pump.running_level import RunningLevel
    from tanksolve.questions.level.any_route import AnyRoute
    from tanksolve.questions.level.pools import PortInPool
    from tanksolve_cli.case import Case

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
    from tanksolve.project.motion_words import parse_attitude
    from tanksolve_cli.case import read_case

    with busy("reading the tank and solving the level"):
        case = read_case(words)
        running = running_case(case, words, FlowWords(flow, opening_area, discharge))
        route = [parse_attitude(text, "--through") for text in through or ()]
        found = _found(case, parse_attitude(attitude), route, most, running)
        document = with_requirement(level_document(case.inputs, found), case, require)
    answer(document, ask)


def _found(
    case: "Case",
    attitude: "Attitude",
    route: "list[Attitude]",
    most: bool,
    running: "RunningCase | None",
) -> "LevelAnswer":
    """Everything at the attitude, with what must stay dry at the most of a fill range."""
    from tanksolve.model.liquid import Fill
    from tanksolve.model.ports import Rule
    from tanksolve.present.level_document import LevelAnswer
    from tanksolve.questions.level.air import air_above
    from tanksolve.questions.level.pools import pools
    from tanksolve.questions.level.surface import level

    tank, ports, fill = case.tank, case.ports, case.fill
    volume = fill.most if most else fill.least
    settled = pools(tank, volume, attitude, ports, path=route)
    dry, air = None, None
    if fill.least != fill.most and not most:
        full = pools(tank, fill.most, attitude, ports, path=route)
        dry = tuple(port for port in full.ports if port.rule == str(Rule.DRY))
        air = air_above(tank, full, ports, density=case.density)
    return LevelAnswer(
        *(tank, ports, attitude, fill, most),
        level=level(tank, volume, attitude, ports, density=case.density),
        settled=settled,
        air=air_above(tank, settled, ports, density=case.density),
        any_pickup=case.pickups == "any",
        dry_at_most=dry,
        air_at_most=air,
        any_route=_any_route(case, Fill.of(volume) if most else fill, attitude),
        running=_running(case, running, volume, attitude, settled.ports),
    )


def _any_route(case: "Case", fill: "Fill", attitude: "Attitude") -> "AnyRoute | None":
    """The verdict whatever the machine did before; None where no wall parts the liquid, or no port has a rule."""
    from tanksolve.model.ports import Rule
    from tanksolve.questions.level.any_route import any_route

    ruled = any(port.effective_rule is not Rule.NONE for port in case.ports)
    if case.tank.is_convex or not ruled:
        return None
    return any_route(case.tank, case.ports, fill, attitude, pickups=case.pickups)


def _running(
    case: "Case",
    running: "RunningCase | None",
    volume: float,
    attitude: "Attitude",
    ports: "Sequence[PortInPool]",
) -> "RunningLevel | None":
    """The bays in steady running, from the ports at rest; None where no flow is given."""
    from tanksolve.model.bays import Bays
    from tanksolve.pump.flow_ports import return_flow
    from tanksolve.pump.running_level import running_level, running_level_stated

    if running is None:
        return None
    rest = {port.name: port.margin_m for port in ports}
    if isinstance(running.openings, Bays):
        through = return_flow(case.tank, running.openings, running.ports, running.discharge)
        return running_level(through, volume, attitude, running.ports, rest)
    given = (running.ports, rest, running.openings, running.discharge)
    parted = any(port.pool != 0 for port in ports)
    return running_level_stated(case.tank, volume, attitude, *given, parted=parted)


register = tank_command("level", _level, _EXAMPLE)
