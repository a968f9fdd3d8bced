"""The return flow in words: what the pump draws, and what the liquid goes through on its way back."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tanksolve.project.case import TankCase, is_mesh
from tanksolve.project.tank_words import TankWords

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tanksolve.model.bays import Bays
    from tanksolve.model.ports import Port

__all__ = [
    "FlowWords",
    "RunningCase",
    "known_bays",
    "parted_by_walls",
    "running_case",
]


@dataclass(frozen=True)
class FlowWords:
    """What the user wrote about the flow, not yet read."""

    pump_flow: list[str] | None
    opening_area: list[str] | None
    discharge: str


@dataclass(frozen=True)
class RunningCase:
    """A flow with what it goes through: the ports with their flows, the openings, the coefficient."""

    ports: "tuple[Port, ...]"
    openings: "Bays | tuple[float, ...]"
    discharge: float


def running_case(case: TankCase, words: TankWords, flow: FlowWords) -> RunningCase | None:
    """The flow as given by the options, else by the tank file; None where there is none.

    A flow that only the tank file gives counts where the file (or an option) gives the return too.
    Raises TanksolveError, naming the option.
    """
    from tanksolve.errors import TankError
    from tanksolve.model.ports import PortKind
    from tanksolve.pump.flow_ports import drawn_flows
    from tanksolve.units import parse

    flows, areas = flow.pump_flow, flow.opening_area
    mesh = is_mesh(case, words)
    ports = _with_flows(case.ports, flows or ())
    returns = any(port.kind is PortKind.RETURN for port in ports)
    if not drawn_flows(ports) or (not flows and not returns):
        if areas:
            raise TankError(
                "an opening is given, but no flow through it",
                where="--opening-area",
                next_step="add --flow 60L/min and the place of the --return",
            )
        return None
    openings: Bays | tuple[float, ...]
    if areas:
        if not mesh or case.tank.is_convex:
            raise TankError(
                "the openings of this tank are known from its plates",
                where="--opening-area",
                next_step="leave --opening-area out",
            )
        openings = tuple(
            parse(text, "area", "--opening-area") for text in areas if text.strip() != "none"
        )
    else:
        openings = _bays(case, mesh)
    return RunningCase(ports, openings, _coefficient(flow.discharge))


def _coefficient(text: str) -> float:
    from tanksolve.errors import QuantityError

    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value <= 1.0:
        raise QuantityError(
            f"'{text}' is not a discharge coefficient",
            where="--discharge-coefficient",
            allowed="a number above 0, up to 1; 0.61 for a sharp edge",
        )
    return value


def _with_flows(ports: "Sequence[Port]", texts: "Sequence[str]") -> "tuple[Port, ...]":
    """The ports with the flows of ``--flow`` in place of those in the tank file."""
    from dataclasses import replace

    from tanksolve.errors import PortError
    from tanksolve.model.ports import PortKind
    from tanksolve.units import parse

    where = "--flow"
    pickups = [port.name for port in ports if port.kind is PortKind.PICKUP]
    returns = [port.name for port in ports if port.kind is PortKind.RETURN]
    several = returns if len(returns) > 1 else []
    given: dict[str, float] = {}
    for text in texts:
        name, equals, amount = text.rpartition("=")
        name = name.strip()
        if not equals and len(pickups) == 1:
            name = pickups[0]
        if name not in (*pickups, *several) or name in given:
            what = f"'{text}' is given twice" if name in given else f"'{text}' names no pickup"
            raise PortError(
                what,
                where=where,
                allowed=", ".join(f"{pickup}=60L/min" for pickup in pickups) or "a pickup's flow",
                next_step="say the flow of each pickup by its name" if pickups else "give a pickup",
            )
        given[name] = parse(amount, "flow", where)
    try:
        return tuple(replace(port, flow=given.get(port.name)) if texts else port for port in ports)
    except PortError as error:
        raise error.at(where) from None


def _bays(case: TankCase, mesh: bool) -> "Bays":
    """The tank's bays in machine axes. Raises TankError for a mesh whose plates are not known."""
    import numpy as np

    from tanksolve.errors import TankError
    from tanksolve.geometry.bays import bays_of
    from tanksolve.model.bays import Bays

    if mesh and not case.tank.is_convex:
        raise TankError(
            "this mesh may have plates inside, and a mesh does not say where their openings are",
            where="--flow",
            allowed="--opening-area 20cm2, the openings of a plate together; once for each plate "
            "that the flow crosses between return and pickup; --opening-area none where it crosses none",
            next_step="or describe shell and [[baffle]]s in a tank file: then openings are known",
        )
    project = case.project
    if project is None or project.parts is None or mesh:
        return Bays.undivided(case.tank)
    bays = bays_of(project.parts)
    turned = any(project.mounting)
    return bays.turned(np.asarray(project.rotation).T) if turned else bays


def known_bays(case: TankCase, words: TankWords) -> "Bays | None":
    """The tank's bays in machine axes where its plates are known; None in a mesh or a tank without."""
    mesh = is_mesh(case, words)
    if mesh or case.tank.is_convex or case.project is None or case.project.parts is None:
        return None
    bays = _bays(case, mesh)
    return bays if len(bays.bays) > 1 else None


def parted_by_walls(case: TankCase, words: TankWords) -> "list[tuple[str, str]]":
    """Returns and pickups, by name, that a plate or a wall stands between."""
    if case.tank.is_convex:  # and a box loads nothing of bays
        return []
    from tanksolve.geometry.bays import bays_of
    from tanksolve.model.ports import PortKind

    returns = [port for port in case.wall_ports if port.kind is PortKind.RETURN]
    pickups = [port for port in case.wall_ports if port.kind is PortKind.PICKUP]
    pairs = [(back, pickup) for back in returns for pickup in pickups]
    if not pairs:
        return []
    parts = None if case.project is None or is_mesh(case, words) else case.project.parts
    if parts is not None:
        bays = bays_of(parts)
        parted = [one for one in pairs if len({bays.bay_of(port.position) for port in one}) > 1]
    else:
        from tanksolve.model.sight import wall_between

        tank = case.wall_tank
        parted = [one for one in pairs if wall_between(tank, one[0].position, one[1].position)]
    return [(back.name, pickup.name) for back, pickup in parted]
