"""Limits while the pump runs: the pickup's bay is lower, the return's bay higher, than at rest.

A pickup is judged by the liquid that steady running takes with its bay at the pickup's edge
(``running.ReturnFlow.needed``). A port that must stay dry is judged by the highest level that its bay
can then have: as if the pickup's bay stood at the level at rest. Both lean to the safe side, and
both carry over to whole cells of attitudes, since levels and openings move together:
docs/theory/crossflow.md.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.attitude.slack import cell_centres, cell_chords, cell_slack
from tanksolve.kernel.capacity.level import levels, levels_along
from tanksolve.kernel.topology.one_surface import one_plane_over
from tanksolve.model.ports import Rule
from tanksolve.pump.running import ReturnFlow
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["OneSurfaceEach", "RunningConditions"]

_HAIR = 1e-5  # rad: at the very symmetric attitudes of a symmetric tank two pits tie


@dataclass(frozen=True, eq=False)
class RunningConditions(Conditions):
    """What must hold of the ports in steady running; each bay has one level.

    ``running`` is the flow; ``dry_bays`` the bays of the ports, by name.
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
        theirs. In the return's bay, the highest, none.
        """
        port, flow = self.ports[column], self.flow
        names = (port.name,) if port.name in flow.pickups else tuple(flow.pickups)
        if port.effective_rule is not Rule.WET or self.port_bays[port.name] == flow.source:
            return ()
        return tuple(name for name in names if flow.crosses(name))

    def needed(self, column: int, up: Array, edge: Array, slack: Array) -> Array:
        """Liquid [m³] that it takes to keep a wet port covered (D,); infinite where none does."""
        names = self.drawn_by(column)
        if not names:
            return super().needed(column, up, edge, slack)
        return np.asarray(np.max([self.flow.needed(n, up, edge, slack) for n in names], axis=0))

    def stays_dry(self, column: int, up: Array, edge: Array) -> Bools:
        """Whether a port's bay stays below ``edge`` (D,) however the bays' levels part: (D,)."""
        kept = super().stays_dry(column, up, edge)
        k = np.flatnonzero(kept)  # at rest it is lower than while the pump runs
        if len(k) and any(self.flow.crosses(name) for name in self.flow.pickups):
            rest = levels(self.tank.tree, up[k], self.most)[0]
            kept[k] = self.highest(column, up[k], rest) <= edge[k]
        return kept

    def points(self, column: int) -> Array:
        """A port's opening, and the corners of the openings that the levels rest on (K, 8).

        Those on the way of its flow, and all where a dead end holds liquid up to its way out.
        """
        own = super().points(column)
        drawn = self.drawn_by(column)
        doors = [corners for name in drawn for _, corners, _ in self.flow.doors(name)]
        if drawn and self.flow.beside():
            doors += [corners for _, corners in self.flow.all_doors()]
        return np.concatenate([own, _as_points(doors)]) if doors else own

    def margins(self, paths: Array) -> Array:
        """Margins (K, P, ports) [m] as at rest, by each port's own bay in steady running."""
        out = super().margins(paths)
        flat = np.ascontiguousarray(paths.reshape(-1, 3))
        shape = paths.shape[:2]
        for i, port in enumerate(self.ports):
            wet = port.effective_rule is Rule.WET
            if self.drawn_by(i):
                rest = levels_along(self.tank.tree, paths, self.least, lowest=False)[0].ravel()
                level = self.lowest(i, flat, rest)
                out[..., i] = (level - self.edge(i, flat)).reshape(shape)
            elif not wet:
                rest = levels_along(self.tank.tree, paths, self.most)[0].ravel()
                highest = self.highest(i, flat, rest)
                out[..., i] = (self.edge(i, flat) - highest).reshape(shape)
        return out

    def margins_within(self, up: Array, hulls: Array) -> Array:
        """Bounds of the margins as at rest; a running pickup's from the levels, raised by the slack."""
        out = super().margins_within(up, hulls)
        for i in range(len(self.ports)):
            if self.drawn_by(i):
                slack = self.hull_slack(i, up, hulls)
                rest = levels(self.tank.tree, up, self.least, lowest=False)[0]
                level = self.lowest(i, up, rest, slack)
                out[:, i] = level - self.edge(i, up)
        return out

    @property
    def is_one_level_sure(self) -> bool:
        """Whether each bay has one level for certain too: it is convex, and no dead end."""
        each = OneSurfaceEach(self)
        return each.is_possible and not each.is_needed

    def lowest(self, column: int, up: Array, rest: Array, slack: Array | float = 0.0) -> Array:
        """Bound from below the level (D,) [m] of a wet port's bay; see :meth:`ReturnFlow.level_of`."""
        flow, least = self.flow, self.least
        found = [flow.level_of(n, up, least, rest, slack) for n in self.drawn_by(column)]
        return np.asarray(np.min(found, axis=0))

    def highest(self, column: int, up: Array, rest: Array) -> Array:
        """Bound from above the level (D,) [m] of a port's bay, from the level at rest.

        Of the bays that the pumps draw from, one at least stands no higher than at rest; so no bay
        stands higher than the flow asks for with that one at rest. A dead end is as full as any
        drive can have left it.
        """
        bay = self.port_bays[self.ports[column].name]
        highest = rest
        for name in self.flow.pickups:
            if self.flow.crosses(name):
                each = self.flow.levels(name, up, rest)
                at = bay if len(self.flow.pickups) == 1 else self.flow.source
                highest = np.maximum(highest, each[:, at])
                if bay in self.flow.beside():
                    highest = np.maximum(highest, each[:, bay])
        return highest


def _as_points(corners: list[Array]) -> Array:
    """Corners of openings as rows (K, 8) of ``kernel.support``, each once."""
    places = np.unique(np.concatenate([one.reshape(-1, 3) for one in corners]), axis=0)
    rows = np.zeros((len(places), 8))
    rows[:, :3], rows[:, 5] = places, 1.0
    return rows


@dataclass(frozen=True, eq=False)
class OneSurfaceEach:
    """Proof for cells whatever happened before, with one surface in each bay for certain.

    A bay that the flow goes through has one if it is convex, or by ``kernel.one_plane``. A dead end
    has to be convex: it is counted as full up to its way out. Only for cells over which the rules
    are proved already, for one level in each bay.
    """

    conditions: RunningConditions

    @property
    def is_needed(self) -> bool:
        """Whether any bay is not convex."""
        return not all(bay.is_convex for bay in self.conditions.flow.bays.bays)

    @property
    def is_possible(self) -> bool:
        """Whether all dead ends are convex."""
        flow = self.conditions.flow
        return all(flow.bays.bays[b].is_convex for b in flow.beside())

    def held(self, up: Array) -> Bools:
        """Nothing is lost at a single attitude: (D, 1)."""
        return np.ones((len(up), 1), bool)

    def held_over(self, cells: Array) -> Bools:
        """Whether each bay has one surface all over each cell (C, 4): (C,)."""
        c = self.conditions
        proved = np.ones(len(cells), bool)
        for column in range(len(c.ports)):
            for name in c.drawn_by(column):
                proved[proved] = self._one_each(column, name, cells[proved])
        return proved

    def _one_each(self, column: int, name: str, cells: Array) -> Bools:
        c = self.conditions
        cells = cells + np.array([0.0, 0.0, -_HAIR, 2.0 * _HAIR])
        up = up_from_slope_heading(*cell_centres(cells).T)
        slack = cell_slack(c.tank.lower, c.tank.upper, c.points(column), cells, dry=True)
        edge = c.edge(column, up)
        each = np.tile(edge[:, None], len(c.flow.bays.bays))  # no bay is lower than a pickup's
        if c.flow.has_one_way:
            each = c.flow.levels(name, up, edge)
        each -= slack[:, None]
        proved = np.ones(len(cells), bool)
        for b in c.flow.between(name):
            bay = c.flow.bays.bays[b]
            if not bay.is_convex:
                proved &= one_plane_over(
                    bay.graph, bay.pit_cones, up, cell_chords(cells), each[:, b]
                )
        return proved
