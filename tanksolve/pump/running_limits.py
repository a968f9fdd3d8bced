"""Limits while the pump runs: the pickup's bay is lower, the return's bay higher, than at rest.

Steady running adds to the worst state of rest (``state.conditions``). With a pickup's bay at a level,
each opening on the way of its flow asks for a level before it; what those bays then hold above the
pickup's level is liquid that the pickup misses, and it comes on top of all that hollows can hold.
A port that must stay dry stands over liquid that is higher than at rest by no more than the heads
that drive the flow through the openings in free fall. Both carry over to whole cells of attitudes,
since levels and openings move together: docs/theory/crossflow.md.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.pump.running import ReturnFlow
from tanksolve.state.conditions import Conditions, Group
from tanksolve.state.openings import is_wet

Array = NDArray[np.float64]

__all__ = ["RunningConditions"]


@dataclass(frozen=True, eq=False)
class RunningConditions(Conditions):
    """What must hold of the ports at rest and in steady running, each bay with one level where it flows.

    ``running`` is the flow; ``port_bays`` the bays of the ports, by name.
    """

    running: ReturnFlow | None = None
    port_bays: dict[str, int] = field(default_factory=dict)

    @classmethod
    def running_of(cls, rest: Conditions, running: ReturnFlow) -> "RunningConditions":
        """The same ports and fill while the pump runs."""
        bays = {port.name: running.bays.bay_of(port.position) for port in rest.ports}
        tank, fill, ports = rest.tank, rest.fill, rest.ports
        return cls(tank, fill, ports, rest.groups, rest.tank_ports, running, bays)

    @property
    def flow(self) -> ReturnFlow:
        """The flow."""
        if self.running is None:
            raise ValueError("RunningConditions are made by running_of")
        return self.running

    def drawn_by(self, column: int) -> tuple[str, ...]:
        """Pickups whose flow crosses an opening and lowers what a port stands in, by name.

        Itself; of a wet port that draws nothing itself, every one: no bay is lower than all of
        theirs. In the bay of the only return, the highest, none.
        """
        port, flow = self.ports[column], self.flow
        names = (port.name,) if port.name in flow.pickups else tuple(flow.pickups)
        if not is_wet(port) or flow.sources == (self.port_bays[port.name],):
            return ()
        return tuple(name for name in names if flow.crosses(name))

    def points(self, column: int) -> Array:
        """A port's opening, and the corners of the openings on the way of its flow (K, 8)."""
        own = super().points(column)
        names = self.drawn_by(column) if is_wet(self.ports[column]) else tuple(self.flow.pickups)
        doors = [door.corners for name in names for door, _ in self.flow.doors(name)]
        return np.concatenate([own, _as_points(doors)]) if doors else own

    def set_aside(
        self, group: Group, up: Array, rise: Array, slack: Array,
        hulls: Array | None = None, *, one_level: bool = False,
    ) -> Array:  # fmt: skip
        """Liquid that bays on the way hold above the pickup's level (D,) [m³]; infinite where no level carries."""
        most = np.zeros(len(up))
        for k, column in enumerate(group):
            level = self.edge(column, up) + rise
            for name in self.drawn_by(column):
                most = np.maximum(most, self.flow.carried(name, up, level, slack[:, k]))
        return most

    def swell(self, column: int, up: Array, slack: Array) -> Array:
        """The heads of all openings on the way, in free fall, one after the other (D,) [m]."""
        heads = [
            self.flow.heads(name, up, 2.0 * slack)
            for name in self.flow.pickups
            if self.flow.crosses(name)
        ]
        return np.max(heads, axis=0) if heads else np.zeros(len(up))


def _as_points(corners: list[Array]) -> Array:
    """Corners of openings as rows (K, 8) of ``kernel.attitude.support``, each once."""
    places = np.unique(np.concatenate([one.reshape(-1, 3) for one in corners]), axis=0)
    rows = np.zeros((len(places), 8))
    rows[:, :3], rows[:, 5] = places, 1.0
    return rows
