"""Which pickups draw and where the flow comes back: a tank's ports put together to a return flow."""

from collections.abc import Sequence

from tanksolve.errors import PortError, TankError
from tanksolve.model.bays import Bays
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank
from tanksolve.pump.crossflow import DISCHARGE
from tanksolve.pump.running import ReturnFlow

__all__ = ["check_flow", "return_flow"]


def check_flow(ports: Sequence[Port]) -> dict[str, float]:
    """Flow of each pickup that draws [m³/s], by name.

    Raises PortError for no return or several, or no pickup with a flow.
    """
    returns = [port for port in ports if port.kind is PortKind.RETURN]
    if len(returns) != 1:
        what = "no return is given" if not returns else f"{len(returns)} returns are given"
        raise PortError(
            f"{what}, and the flow needs the place where it comes back",
            where="--return",
            allowed="one return: --return NAME=X,Y,Zmm, or a [[port]] of kind return",
            next_step="" if not returns else "leave the one that is farthest from the pickup",
        )
    flows = {port.name: port.flow for port in ports if port.flow}
    if not flows:
        raise PortError("no pickup has a flow", where="--flow", allowed="--flow 60L/min")
    return flows


def return_flow(
    tank: Tank, bays: Bays, ports: Sequence[Port], discharge: float = DISCHARGE
) -> ReturnFlow:
    """Put the flow together from the ports: pickups with a flow, and the one return.

    Raises PortError for no return or several, or no pickup with a flow; TankError where nothing joins
    the return's bay and a pickup's.
    """
    if not 0.0 < discharge <= 1.0:
        raise TankError(
            f"a discharge coefficient of {discharge:g} is not possible",
            where="--discharge-coefficient",
            allowed=f"above 0, up to 1; {DISCHARGE:g} for a sharp edge",
        )
    flows = check_flow(ports)
    back = next(port for port in ports if port.kind is PortKind.RETURN)
    drawn = [port for port in ports if port.name in flows]
    found = ReturnFlow(
        tank,
        bays,
        bays.bay_of(back.position),
        {port.name: bays.bay_of(port.position) for port in drawn},
        flows,
        discharge,
    )
    for name, bay in found.pickups.items():
        if not found.between(name):
            raise TankError(
                f"no opening leads from the return's bay ({bays.bays[found.source].name}) to that of "
                f"pickup '{name}' ({bays.bays[bay].name})",
                next_step="give the plates between them a hole or a gap; flow through balance pipes, "
                "or against a flap, is not computed",
            )
    return found
