"""Which pickups draw and where the flow comes back: a tank's ports put together to a return flow."""

from collections.abc import Sequence

from tanksolve.errors import PortError, TankError
from tanksolve.model.bays import Bays
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank
from tanksolve.pump.crossflow import DISCHARGE
from tanksolve.pump.running import ReturnFlow
from tanksolve.unit_systems import stated

__all__ = ["check_flow", "drawn_flows", "return_flow"]

_SAME = (
    1e-3  # of the whole flow: what comes back may differ by so much from what is drawn, as rounded
)


def drawn_flows(ports: Sequence[Port]) -> dict[str, float]:
    """Flow of each pickup that draws [m³/s], by name."""
    return {port.name: port.flow for port in ports if port.flow and port.kind is PortKind.PICKUP}


def check_flow(ports: Sequence[Port]) -> dict[str, float]:
    """Flow of each pickup that draws [m³/s], by name.

    Raises PortError for no return, or no pickup with a flow.
    """
    if not any(port.kind is PortKind.RETURN for port in ports):
        raise PortError(
            "no return is given, and the flow needs the place where it comes back",
            where="--return",
            allowed="a return: --return NAME=X,Y,Zmm, or a [[port]] of kind return",
        )
    flows = drawn_flows(ports)
    if not flows:
        raise PortError("no pickup has a flow", where="--flow", allowed="--flow 60L/min")
    return flows


def return_flow(
    tank: Tank, bays: Bays, ports: Sequence[Port], discharge: float = DISCHARGE
) -> ReturnFlow:
    """Put the flow together from the ports: pickups with a flow, and returns.

    Raises PortError for no return or no pickup with a flow, or returns that bring back another flow than is
    drawn; TankError where nothing joins a return's bay and a pickup's.
    """
    if not 0.0 < discharge <= 1.0:
        raise TankError(
            f"a discharge coefficient of {discharge:g} is not possible",
            where="--discharge-coefficient",
            allowed=f"above 0, up to 1; {DISCHARGE:g} for a sharp edge",
        )
    flows = check_flow(ports)
    backs = [port for port in ports if port.kind is PortKind.RETURN]
    found = ReturnFlow(
        tank,
        bays,
        tuple(bays.bay_of(port.position) for port in backs),
        {port.name: bays.bay_of(port.position) for port in ports if port.name in flows},
        flows,
        discharge,
        _brought(backs, sum(flows.values())),
    )
    for name, bay in found.pickups.items():
        if not found.between(name):
            raise TankError(
                f"no opening leads from the return's bay ({bays.bays[found.sources[0]].name}) to that of "
                f"pickup '{name}' ({bays.bays[bay].name})",
                next_step="give the plates between them a hole or a gap, or a balance pipe; no flow goes "
                "against a flap",
            )
    reached = {bay for name in found.pickups for bay in found.between(name)}
    for port, source in zip(backs, found.sources, strict=True):
        if source not in reached:
            raise TankError(
                f"no opening leads from the bay of return '{port.name}' ({bays.bays[source].name}) to a pickup",
                next_step="give the plates between them a hole or a gap, or a balance pipe",
            )
    return found


def _brought(backs: Sequence[Port], total: float) -> tuple[float, ...] | None:
    """What comes back at each return [m³/s]; the rest at the only one that does not say."""
    silent = sum(port.flow is None for port in backs)
    stated_ = sum(port.flow or 0.0 for port in backs)
    if silent > 1:
        return None
    if stated_ > total * (1.0 + _SAME) or (not silent and stated_ < total * (1.0 - _SAME)):
        raise PortError(
            f"{stated(stated_, 'flow')} come back at the returns, and {stated(total, 'flow')} are drawn",
            where="--flow",
            allowed="as much as is drawn; one return may be left without a flow, for the rest",
        )
    rest = max(total - stated_, 0.0)
    share = total / stated_ if not silent else 1.0  # rounding only
    return tuple(rest if port.flow is None else port.flow * share for port in backs)
