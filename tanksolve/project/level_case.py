"""Everything at one attitude of a tank as it was read."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tanksolve.model.attitude import Attitude
    from tanksolve.model.liquid import Fill
    from tanksolve.project.case import TankCase
    from tanksolve.project.flow_words import RunningCase
    from tanksolve.pump.level_answer import LevelAnswer
    from tanksolve.pump.running_level import RunningLevel
    from tanksolve.questions.level.any_route import AnyRoute
    from tanksolve.questions.level.pools import PortInPool

__all__ = ["level_answer"]


def level_answer(
    case: "TankCase",
    attitude: "Attitude",
    route: "list[Attitude]",
    most: bool,
    running: "RunningCase | None",
) -> "LevelAnswer":
    """Everything at the attitude, with what must stay dry at the most of a fill range."""
    from tanksolve.model.liquid import Fill
    from tanksolve.model.ports import Rule
    from tanksolve.pump.level_answer import LevelAnswer
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


def _any_route(case: "TankCase", fill: "Fill", attitude: "Attitude") -> "AnyRoute | None":
    """The verdict whatever the machine did before; None where no wall parts the liquid, or no port has a rule."""
    from tanksolve.model.ports import Rule
    from tanksolve.questions.level.any_route import any_route

    ruled = any(port.effective_rule is not Rule.NONE for port in case.ports)
    if case.tank.is_convex or not ruled:
        return None
    return any_route(case.tank, case.ports, fill, attitude, pickups=case.pickups)


def _running(
    case: "TankCase",
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
