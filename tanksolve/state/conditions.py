"""At these attitudes, with this liquid: does every port keep its rule, whatever the machine did before.

The one door to levels and margins for every question. Ports that must stay wet are judged at the
least fill, ports that must stay dry at the most; of several pickups either all must be covered or
any one suffices. Where one free surface is certain its level decides; where walls part the liquid,
the worst state of rest does (``kernel.pools.worst_state``), so no route is asked for and none is
left out.

Rules are compared as volumes: a group of ports *needs* liquid (wet) or air (dry), and is kept where
the need is no more than the *amount* there is. Over a cell of attitudes the need is bounded.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import hull_slack
from tanksolve.kernel.attitude.tangent import on_tangent
from tanksolve.kernel.capacity.level import levels, levels_along
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.pools.room_bounds import room_over
from tanksolve.kernel.pools.worst_state import need, room
from tanksolve.kernel.pools.worst_state_bounds import need_over
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.state.one_surface import one_surface_over
from tanksolve.state.openings import (
    dry_fixed,
    dry_places,
    dry_places_over,
    edge_of,
    is_wet,
    wet_places,
    worst_place,
)
from tanksolve.state.worst_margins import dry_margin, parted_margins

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Group = tuple[int, ...]
Pickups = Literal["all", "any"]

__all__ = ["Conditions", "Group", "Pickups"]


@dataclass(frozen=True, eq=False)
class Conditions:
    """A tank, its fill and the ports that limit it.

    Attributes
    ----------
    ports : those with a rule, in the user's order; ``margins`` has a column for each.
    groups : column indices; each group needs one of its ports to hold.
    tank_ports : all ports, those without a rule too.
    beyond : [m]   by how much more than its rule asks each port is to be kept.
    """

    tank: Tank
    fill: Fill
    ports: tuple[Port, ...]
    groups: tuple[Group, ...]
    tank_ports: tuple[Port, ...] = ()
    beyond: float = field(default=0.0, kw_only=True)

    @classmethod
    def of(
        cls, tank: Tank, ports: Sequence[Port], fill: Fill | float, pickups: Pickups = "all"
    ) -> "Conditions":
        """Check ports and fill against the tank. Raises PortError, FillError."""
        tank.check_ports(ports)
        fill = Fill.of(fill)
        fill.check(tank.capacity)
        ruled = tuple(port for port in ports if port.effective_rule is not Rule.NONE)
        if not ruled:
            raise PortError(
                "no port sets a limit",
                allowed="a pickup (must stay wet), a breather or filler (must stay dry)",
                next_step=f"add --pickup suction={tank.somewhere_low}, or where it is",
            )
        joined = tuple(
            i
            for i, port in enumerate(ruled)
            if pickups == "any" and port.kind is PortKind.PICKUP and is_wet(port)
        )
        single = tuple((i,) for i in range(len(ruled)) if i not in joined)
        groups = ((joined,) if joined else ()) + single
        return cls(tank, fill, ruled, groups, tuple(ports))

    @property
    def least(self) -> float:
        """Volume for wet ports [m³]; a hair below brim-full, where no plane marks the top."""
        return min(self.fill.least, self.tank.capacity * (1.0 - 1e-9))

    @property
    def most(self) -> float:
        """Volume for dry ports [m³]."""
        return min(self.fill.most, self.tank.capacity)

    @cached_property
    def walls_may_part(self) -> bool:
        """Whether liquid can stand in more than one pool at all."""
        return not self.tank.is_convex

    @property
    def at_rest(self) -> bool:
        """Whether these are of a tank as it is, its liquid at rest: bounds to first order hold for no others."""
        return type(self) is Conditions

    def columns(self, *, wet: bool) -> list[int]:
        """Columns of the ports that must stay wet, or dry."""
        return [i for i, port in enumerate(self.ports) if is_wet(port) is wet]

    def groups_of(self, *, wet: bool) -> tuple[Group, ...]:
        """The groups of ports that must stay wet, or of those that must stay dry."""
        return tuple(g for g in self.groups if is_wet(self.ports[g[0]]) is wet)

    def edge(self, column: int, up: Array) -> Array:
        """Height that the liquid must reach (wet port) or stay below (dry port): see ``edge_of``."""
        port = self.ports[column]
        more = self.beyond if is_wet(port) else -self.beyond
        return np.asarray(edge_of(port, up) + more * np.linalg.norm(up, axis=-1))

    def points(self, column: int) -> Array:
        """What a port's rule looks at, as rows (K, 8) of ``kernel.attitude.support``: its opening."""
        return self.ports[column].discs

    def amounts(self, groups: Sequence[Group]) -> Array:
        """Liquid that there is for wet groups, air for dry ones (G,) [m³]."""
        air = self.tank.capacity - self.most
        return np.array([self.least if is_wet(self.ports[g[0]]) else air for g in groups])

    def set_aside(
        self, group: Group, up: Array, rise: Array, slack: Array,
        hulls: Array | None = None, *, one_level: bool = False,
    ) -> Array:  # fmt: skip
        """Liquid that a wet group, room that a dry one must do without, beyond rest in this mesh (D,) [m³].

        What flow holds up, or walls that are off take; none at rest. rise : (D,) [m] by which the pool
        stands higher than the edge; slack : (D, ports of the group) [m] by which all heights may be wrong
        all over ``hulls``; one_level : where it counts only if one surface is certain for the amounts.
        """
        return np.zeros(len(up))

    def swell(self, column: int, up: Array, slack: Array) -> Array:
        """How much higher than any state of rest flow may hold the liquid under a dry port (D,) [m]."""
        return np.zeros(len(up))

    def held(self, up: Array) -> Bools:
        """Whether each group's rule is kept at ``up`` (D, 3), whatever came before: (D, groups)."""
        return np.asarray(self.lacking(up) <= 0.0)

    def lacking(self, up: Array) -> Array:
        """By how much more liquid, or air, than there is each group needs at ``up`` (D, 3): (D, groups) [m³].

        Right in sign, and near zero; of an attitude where one group lacks much, others are told roughly.
        """
        amounts = self.amounts(self.groups)
        return np.asarray(self.needs(self.groups, up, enough=amounts) - amounts)

    def held_over(self, cells: Array) -> Bools:
        """Whether all rules are certainly kept all over each cell (C, 4) of slope and heading: (C,)."""
        chart = np.full(len(cells), attitude_cells.SLOPE_HEADING, np.int8)
        charted = attitude_cells.Cells(chart, cells)
        up, hulls = attitude_cells.centres(charted), attitude_cells.hulls(charted)
        amounts = self.amounts(self.groups)
        found = self.needs(self.groups, up, hulls, enough=amounts)
        return np.asarray((found <= amounts).all(axis=1))

    def needs(
        self,
        groups: Sequence[Group],
        up: Array,
        hulls: Array | None = None,
        enough: Array | None = None,
    ) -> Array:
        """Liquid that each wet group needs, air that each dry one does (D, G) [m³].

        hulls : (D, J, 3); the result is then at least the need all over each hull.
        enough : (G,) where only more or less than this matters: rows of which any group needs more
            are told roughly, and where one surface is certain for this amount its need stands.
        """
        slack = np.zeros((len(up), len(self.ports)))
        if hulls is not None:
            for column in {i for group in groups for i in group}:
                slack[:, column] = self.hull_slack(column, up, hulls)
        found = np.stack([self._by_one_level(group, up, slack, hulls) for group in groups], axis=-1)
        if not self.walls_may_part:
            return found
        open_: Bools = np.ones(len(up), bool)
        if enough is not None:
            open_ = np.asarray((found <= enough).all(axis=1))
            k = np.flatnonzero(open_)
            if len(k):
                over, none = None if hulls is None else hulls[k], np.zeros(len(k))
                beyond = [
                    self.set_aside(g, up[k], none, slack[k][:, list(g)], over, one_level=True)
                    for g in groups
                ]
                open_[k] = ~self.one_surface(up[k], over, np.max(beyond, axis=0))
        k = np.flatnonzero(open_)
        for g, group in enumerate(groups):
            if len(k):
                over = None if hulls is None else hulls[k]
                if over is not None and self.at_rest:
                    found[k, g] = self._over_at_rest(group, up[k], over, found[k, g])
                    continue
                found[k, g] = np.maximum(found[k, g], self._parted(group, up[k], over))
        return found

    def _over_at_rest(self, group: Group, up: Array, hulls: Array, one_level: Array) -> Array:
        """Bounds of the need (D,) [m³] all over each hull; ``one_level`` (D,) bounds that with one level."""
        # neither F nor the air over a dry port's own pool up to its edge is less than with one level; a
        # floor above the edge leaves more room in the worst state, but not with one level
        found = self.needs_of_one_surface([group], up, hulls)[:, 0]
        k = np.flatnonzero(one_level < found)
        if len(k) and not is_wet(self.ports[group[0]]):
            raised = np.maximum(one_level[k], self._parted(group, up[k], hulls[k]))
            found[k] = np.minimum(found[k], raised)
        return found

    def needs_of_one_surface(self, groups: Sequence[Group], up: Array, hulls: Array) -> Array:
        """Bounds of the needs (D, G) [m³] with one level, all over each hull, to first order; at rest only."""
        none, found = np.zeros(len(up)), np.empty((len(up), len(groups)))
        for g, group in enumerate(groups):
            if is_wet(self.ports[group[0]]):
                found[:, g] = self._stands_over(group, up, hulls)
            else:
                found[:, g] = self._air_over(group[0], up, hulls, none, over_floors=False)
        return np.where(np.isnan(found), np.inf, found)

    def _by_one_level(self, group: Group, up: Array, slack: Array, hulls: Array | None) -> Array:
        """Need (D,) [m³] with one level through the whole tank; never more than with walls."""
        own = slack[:, list(group)]
        beyond = self.set_aside(group, up, np.zeros(len(up)), own, hulls, one_level=True)
        if not is_wet(self.ports[group[0]]):
            below = self.edge(group[0], up) - own[:, 0] - self.swell(group[0], up, own[:, 0])
            return np.asarray(self.tank.capacity - volumes(self.tank.tree, up, below)[0] + beyond)
        each = [
            volumes(self.tank.tree, up, self.edge(i, up) + own[:, k])[0]
            for k, i in enumerate(group)
        ]
        return np.asarray(np.min(each, axis=0) + beyond)

    def _parted(self, group: Group, up: Array, hulls: Array | None) -> Array:
        """Need (D,) [m³] in the worst state of rest, or a bound of it all over each hull."""
        slack = np.zeros((len(up), len(group)))
        if hulls is not None:
            slack = np.stack([self.hull_slack(i, up, hulls) for i in group], axis=-1)
        if not is_wet(self.ports[group[0]]):
            found = self._air(group[0], up, hulls, self.swell(group[0], up, slack[:, 0]))
        elif hulls is None:
            found = self._stands_at(group, up)
        else:
            found = self._stands_over(group, up, hulls)
        found = found + self.set_aside(group, up, np.zeros(len(up)), slack, hulls)
        return np.where(np.isnan(found), np.inf, found)

    def _air(self, column: int, up: Array, hulls: Array | None, swell: Array) -> Array:
        """Air (D,) [m³] that a dry port needs with the liquid risen by ``swell`` (D,), or a bound of it."""
        if hulls is not None:
            return self._air_over(column, up, hulls, swell)
        port = self.ports[column]
        at = dry_places(port, up, self.dry_fixed_places[column])
        edges = np.broadcast_to((self.edge(column, up) - swell)[:, None], at.shape[:2])
        return self.tank.capacity - room(self.tank.graph, up, at, edges, self.tank.link_stations)

    def _air_over(
        self, column: int, up: Array, hulls: Array, swell: Array, *, over_floors: bool = True
    ) -> Array:
        """At least the air (D,) [m³] that a dry port needs all over each hull, to first order."""
        port, tank = self.ports[column], self.tank
        places, moves = dry_places_over(tank, port, up, hulls, self.dry_fixed_places[column])
        edges = np.broadcast_to((self.edge(column, up) - swell)[:, None], moves.shape)
        edges_at = (self.edge(column, on_tangent(up, hulls)) - swell[:, None])[..., None]
        found = room_over(
            tank.graph, up, hulls, places, edges, np.repeat(edges_at, moves.shape[1], axis=2),
            tank.link_stations, spread=moves, clearance=port.required_cover > 0.0,
            over_floors=over_floors,
        )  # fmt: skip
        for d, q in np.argwhere(np.isnan(found.at_centre)):  # out of the tank all over the cell?
            at = places[d, q]
            if tank.winding(at)[0] < 0.5 and tank.distance_to_wall(at) > moves[d, q]:
                found.over_cell[d, q] = np.inf
        return np.asarray(tank.capacity - found.over_cell.min(axis=1))

    def _stands_at(self, group: Group, up: Array) -> Array:
        """F (D,) [m³] of a wet group."""
        places, owner = self.places_of(group)
        edges = np.stack([self.edge(i, up) for i in group], axis=-1)[:, owner]
        graph, links = self.tank.graph, self.tank.link_stations
        return worst_place(
            lambda at: need(graph, up, places[at], edges[:, at], links), group, owner
        )

    def _stands_over(self, group: Group, up: Array, hulls: Array) -> Array:
        """At least F (D,) [m³] of a wet group all over each hull, to first order."""
        places, owner = self.places_of(group)
        at_points = on_tangent(up, hulls)
        edges = np.stack([self.edge(i, up) for i in group], axis=-1)[:, owner]
        edges_at = np.stack([self.edge(i, at_points) for i in group], axis=-1)[..., owner]

        def over(at: NDArray[np.intp]) -> Array:
            return need_over(
                self.tank.graph, up, hulls, places[at], edges[:, at], edges_at[..., at],
                self.tank.link_stations, any_suffices=True,
            ).over_cell[:, 0]  # fmt: skip

        return worst_place(over, group, owner)

    def newly_held(self, up: Array, hulls: Array) -> Array:
        """What hollows may hold more all over a hull than at ``up`` (D,) [m³], edges apart."""
        # on one upright line what is newly held lies within the extent along u' - u below one brim
        tank, apart = self.tank, hulls - up[:, None]
        extent = (np.abs(apart) @ (tank.span[1] - tank.span[0])).max(axis=1)
        area = np.abs(up @ tank.graph.areas.T).sum(axis=1)
        area += np.linalg.norm(apart, axis=2).max(axis=1) * tank.wall_area
        return np.asarray(0.5 * extent * area)

    def places_of(self, group: Group) -> tuple[Array, NDArray[np.intp]]:
        """Places (Q, 3) of a wet group's ports, and the place in the group of each one's port."""
        each = [self._places[i] for i in group]
        owner = np.repeat(np.arange(len(group)), [len(one) for one in each])
        return np.concatenate(each), owner

    @cached_property
    def dry_fixed_places(self) -> dict[int, Array]:
        """Of each dry port, with places all round its rim where it has a clearance: see ``dry_fixed``."""
        return {
            i: dry_fixed(self.tank, self.ports[i], all_round=self.ports[i].required_cover > 0.0)
            for i in self.columns(wet=False)
        }

    @cached_property
    def _places(self) -> dict[int, Array]:
        return {i: wet_places(self.tank, self.ports[i]) for i in self.columns(wet=True)}

    def one_surface(
        self, up: Array, hulls: Array | None = None, less: Array | float = 0.0
    ) -> Bools:
        """Whether the liquid certainly has one surface at ``up`` (D, 3), or all over each hull: (D,).

        At the less of the fills, and ``less`` [m³] than that, whatever the machine did before; False
        proves nothing.
        """
        tank = self.tank
        if not self.walls_may_part:
            return np.ones(len(up), bool)
        volume = np.maximum(min(self.least, self.most) - less, 1e-12 * tank.capacity)
        return one_surface_over(tank, volume, up, up[:, None] if hulls is None else hulls)

    def hull_slack(self, column: int, up: Array, hulls: Array) -> Array:
        """How far a port's margin may fall from ``up`` (D, 3) to any attitude of a hull (D,) [m]."""
        tank, points, dry = self.tank, self.points(column), not is_wet(self.ports[column])
        return hull_slack(tank.lower, tank.upper, points, up, hulls, dry=dry)

    def margins(self, paths: Array) -> Array:
        """Margin of each port [m] at paths of attitudes (K, P, 3), whatever came before: (K, P, ports).

        Liquid over a wet port beyond its required cover, or air under a dry one beyond its
        clearance; negative where the rule is broken. Of several pickups of which one suffices, the
        best has the margin of all together.
        """
        out = np.empty((*paths.shape[:2], len(self.ports)))
        flat = np.ascontiguousarray(paths.reshape(-1, 3))
        for wet, volume in ((True, self.least), (False, self.most)):
            if not self.columns(wet=wet):
                continue
            level = levels_along(self.tank.tree, paths, volume, lowest=not wet)[0].ravel()
            for group in self.groups_of(wet=wet):
                margin = self.group_margins_at(group, flat, volume, level)
                out[..., list(group)] = margin.reshape(*paths.shape[:2], len(group))
        return out

    def margins_at_fill(self, up: Array, volume: Array) -> Array:
        """Margins (D, ports) [m] at ``up`` (D, 3) with ``volume`` (D,) [m³] in the tank at each row."""
        out = np.empty((len(up), len(self.ports)))
        for wet in (True, False):
            if self.columns(wet=wet):
                held = np.minimum(volume, self.tank.capacity * (1.0 - 1e-9 if wet else 1.0))
                level = levels(self.tank.tree, up, held, lowest=wet)[0]
                for group in self.groups_of(wet=wet):
                    out[:, list(group)] = self.group_margins_at(group, up, held, level)
        return out

    def group_margins_at(
        self, group: Group, up: Array, volume: Array | float, level: Array
    ) -> Array:
        """Margins (D, ports of the group) [m]; ``level`` (D,) [m] is that of one surface."""
        none = np.zeros((len(up), len(group)))
        if is_wet(self.ports[group[0]]):
            flow = self.set_aside(group, up, none[:, 0], none)
            found = np.stack([level - self.edge(i, up) for i in group], axis=-1)
        else:
            flow = self.swell(group[0], up, none[:, 0])
            found = (self.edge(group[0], up) - flow - level)[:, None]
        if not self.walls_may_part:
            return found
        less = min(self.least, self.most) - volume
        k = np.flatnonzero((flow > 0.0) | ~self.one_surface(up, less=less))
        if len(k):
            held = np.broadcast_to(volume, len(up))[k]
            found[k] = parted_margins(self, group, up[k], held, level[k], found[k])
        return found

    def margins_within(self, up: Array, hulls: Array) -> Array:
        """Bounds of the margins [m] all over each of D hulls (D, J, 3) about ``up`` (D, 3): (D, ports)."""
        margins = self.margins(up[:, None, :])[:, 0]
        for column in range(len(self.ports)):
            margins[:, column] -= self.hull_slack(column, up, hulls)
        if not self.walls_may_part:
            return margins
        open_ = np.flatnonzero(~self.one_surface(up, hulls))
        if len(open_):
            margins[open_] = np.minimum(
                margins[open_], self._parted_within(up[open_], hulls[open_])
            )
        return margins

    def _parted_within(self, up: Array, hulls: Array) -> Array:
        """The same (D, ports) in the worst state of rest."""
        out = np.empty((len(up), len(self.ports)))
        for group in self.groups:
            slack = np.stack([self.hull_slack(i, up, hulls) for i in group], axis=-1)
            if not is_wet(self.ports[group[0]]):
                level = levels(self.tank.tree, up, self.most)[0]
                margin = dry_margin(self, group[0], up, self.most, level, hulls)
                out[:, group[0]] = margin - slack[:, 0]
                continue
            volume = np.maximum(self.least - self.newly_held(up, hulls), 0.0)
            level = levels(self.tank.tree, up, np.maximum(volume, 1e-12 * self.tank.capacity))[0]
            out[:, list(group)] = self.group_margins_at(group, up, volume, level) - slack
        return out

    def group_margins(self, margins: Array) -> tuple[Array, NDArray[np.intp]]:
        """Margin of the whole tank (...,) [m] and the port column that sets it, from port margins.

        A group's margin is that of its best port; the tank's is that of its worst group.
        """
        best = [margins[..., list(g)].max(axis=-1) for g in self.groups]
        which = [np.asarray(g)[margins[..., list(g)].argmax(axis=-1)] for g in self.groups]
        worst = np.argmin(np.stack(best, axis=-1), axis=-1)
        port = np.take_along_axis(np.stack(which, axis=-1), worst[..., None], axis=-1)[..., 0]
        return np.min(np.stack(best, axis=-1), axis=-1), port
