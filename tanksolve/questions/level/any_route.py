"""How far each port is from its rule at one attitude, whatever the machine did before."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tanksolve.model.attitude import Attitude
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions, Pickups

__all__ = ["AnyRoute", "PortOnAnyRoute", "any_route"]


@dataclass(frozen=True)
class PortOnAnyRoute:
    """One port in the worst state of rest that any route, the pump or the filler can leave.

    Attributes
    ----------
    margin_m : how far the rule is kept there [m], cover or clearance taken off; negative where broken.
        Of several pickups of which one suffices, the best has the margin of all together.
    """

    name: str
    rule: str
    margin_m: float

    @property
    def holds(self) -> bool:
        """Whether no route can break the rule here."""
        return self.margin_m >= 0.0


@dataclass(frozen=True)
class AnyRoute:
    """All ports with a rule, and the whole tank.

    Attributes
    ----------
    margin_m, port : of the port that is worst, of pickups of which one suffices the best of them.
    """

    ports: tuple[PortOnAnyRoute, ...]
    margin_m: float
    port: str

    @property
    def holds(self) -> bool:
        """Whether no route can break a rule here."""
        return self.margin_m >= 0.0


def any_route(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    attitude: Attitude,
    *,
    pickups: Pickups = "all",
) -> AnyRoute:
    """Judge wet ports at the least fill and dry ones at the most. Raises PortError where none has a rule."""
    conditions = Conditions.of(tank, ports, fill, pickups)
    margins = conditions.margins(np.array([[attitude.up]]))[0, 0]
    worst, column = conditions.group_margins(margins)
    found = tuple(
        PortOnAnyRoute(port.name, str(port.effective_rule), float(margin))
        for port, margin in zip(conditions.ports, margins, strict=True)
    )
    return AnyRoute(found, float(worst), conditions.ports[int(column)].name)
