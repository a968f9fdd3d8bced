"""What must hold of the ports where fill, walls and openings may be off by so much.

Let every wall stand within w of where the mesh has it, along its normal, so that points where walls
meet have moved by at most c = √3 w (three walls at right angles). Then for a wet port

    F' <= F(e + c) + w A + w² Σ l tan(θ/2) + 2 c B

where A is the area of the walls below the pool, the sum is over the edges of the mesh (length l, turn θ;
it holds what is gained where walls meet, to second order), and B the area of the floors seen from above:
heights of brims and of ways over them are wrong by c each, so what is newly held lies, on one upright
line, within 2 c below one brim (docs/theory/worst_state.md, plain bound). A convex tank has neither brims
nor ways: there the first and the last c are nought. For a dry port the room is at least that of the pool
c below the edge, less the same layer at the walls. Nothing here asks which wall is off which way: the
figures hold for all of them at once and one by one.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.level import levels
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions, Group, Pickups
from tanksolve.state.openings import is_wet

Array = NDArray[np.float64]

__all__ = ["OffConditions", "area_below", "corner_share"]

_CORNER = math.sqrt(3.0)  # how far the meeting point of three walls at right angles moves with them
_SHARPEST = 4.0  # tan(θ/2) of an edge, at most: 28 degrees between its faces
_AT_ONCE = 4_000_000  # triangles cut at a time


@dataclass(frozen=True, eq=False)
class OffConditions(Conditions):
    """Rules that hold however the walls are off by up to ``walls`` [m], all over the tank.

    ``corners`` [m] is the sum over the edges in the statement above.
    """

    walls: float = 0.0
    corners: float = 0.0

    @classmethod
    def off_by(
        cls,
        tank: Tank,
        ports: Sequence[Port],
        fill: Fill,
        pickups: Pickups,
        *,
        fill_off: float,
        position: float,
        walls: float,
    ) -> "OffConditions":
        """The fill off by ``fill_off`` [m³], each opening by ``position`` [m] any way, walls by ``walls`` [m].

        A dry port sits in a wall and moves with it too. Raises as ``Conditions.of`` does.
        """
        c = 0.0 if tank.is_convex else _CORNER * walls
        beyond = {Rule.WET: position + c, Rule.DRY: position + c + walls, Rule.NONE: 0.0}
        moved = [
            replace(port, cover=port.required_cover + beyond[port.effective_rule])
            if port.effective_rule is not Rule.NONE
            else port
            for port in ports
        ]
        least = max(fill.least - fill_off, 1e-9 * tank.capacity)
        rest = Conditions.of(
            tank, moved, Fill(least, min(fill.most + fill_off, tank.capacity)), pickups
        )
        corners = corner_share(tank) if walls > 0.0 else 0.0
        return cls(tank, rest.fill, rest.ports, rest.groups, rest.tank_ports, walls, corners)

    def set_aside(
        self, group: Group, up: Array, rise: Array, slack: Array,
        hulls: Array | None = None, *, one_level: bool = False,
    ) -> Array:  # fmt: skip
        """The layer that walls off by their tolerance add below a wet port, or take from a dry one's room."""
        if self.walls == 0.0:
            return np.zeros(len(up))
        wet = is_wet(self.ports[group[0]])
        apart = np.zeros((len(up), 1, 3)) if hulls is None else hulls - up[:, None]
        edge = (np.stack([self.edge(i, up) for i in group], axis=-1) + slack).max(axis=1) + rise
        if self.walls_may_part and one_level:
            # hollows join the pool below the level of all the liquid, at any attitude of the hull
            extent = (np.abs(apart) @ (self.tank.upper - self.tank.lower)).max(axis=1)
            amount = self.least if wet else self.most
            edge = np.maximum(edge, levels(self.tank.tree, up, amount, lowest=False)[0] + extent)
        elif self.walls_may_part:
            edge = np.full(len(up), np.inf)
        layer: Array = self.walls * (area_below(self.tank, up, edge) + self.walls * self.corners)
        if not (wet and self.walls_may_part):
            return layer
        seen: Array = np.abs(up @ self.tank.graph.areas.T).sum(axis=1)
        seen += np.linalg.norm(apart, axis=2).max(axis=1) * self.tank.wall_area
        return layer + _CORNER * self.walls * seen

    def group_margins_at(
        self, group: Group, up: Array, volume: Array | float, level: Array
    ) -> Array:
        """Margins (D, ports of the group) [m] with that layer gone, or come."""
        wet = is_wet(self.ports[group[0]])
        if self.walls == 0.0 or (wet and self.walls_may_part):  # which takes it off itself
            return super().group_margins_at(group, up, volume, level)
        none = np.zeros(len(up))
        aside = self.set_aside(group, up, none, np.zeros((len(up), len(group))))
        amount = np.clip(
            volume + (-aside if wet else aside), 1e-9 * self.tank.capacity, self.tank.capacity
        )
        level = levels(self.tank.tree, up, amount, lowest=wet)[0]
        return super().group_margins_at(group, up, amount, level)


def area_below(tank: Tank, up: Array, height: Array) -> Array:
    """Area of the surface below planes (D,) [m²]: ``up`` (D, 3), ``height`` (D,) [m] from the origin.

    A triangle with corners at z0 <= z1 <= z2 has the share (h - z0)² / ((z1 - z0) (z2 - z0)) of its area
    below h where h lies under its middle corner, by similar triangles, and likewise seen from its top.
    """
    corners, area = tank.vertices[tank.faces], np.linalg.norm(_areas(tank), axis=1)
    whole = height == np.inf
    out = np.where(whole, tank.wall_area, 0.0)
    for rows in np.array_split(np.flatnonzero(~whole), 1 + len(up) * len(area) // _AT_ONCE):
        if len(rows):
            low, middle, high = np.moveaxis(np.sort(corners @ up[rows].T, axis=1), 1, 0)
            h, tiny = height[rows], np.finfo(float).tiny
            under = (h - low) ** 2 / np.maximum((middle - low) * (high - low), tiny)
            over = 1.0 - (high - h) ** 2 / np.maximum((high - middle) * (high - low), tiny)
            share = np.where(
                h <= low, 0.0, np.where(h >= high, 1.0, np.where(h < middle, under, over))
            )
            out[rows] = area @ share
    return out


def corner_share(tank: Tank) -> float:
    """Sum over the mesh's edges of length times tan(θ/2), θ the turn from face to face [m].

    Two walls that meet, both off by w, add w² tan(θ/2) per length: two right triangles, each with w and
    w tan(θ/2) as legs.
    """
    areas = _areas(tank)
    normals = areas / np.maximum(np.linalg.norm(areas, axis=1, keepdims=True), np.finfo(float).tiny)
    sides = np.concatenate([tank.faces[:, [a, b]] for a, b in ((0, 1), (1, 2), (2, 0))])
    face = np.tile(np.arange(len(tank.faces)), 3)
    order = np.lexsort(np.sort(sides, axis=1).T)
    first, second = order[::2], order[1::2]  # a closed mesh has each edge an even number of times
    length = np.linalg.norm(np.diff(tank.vertices[sides[first]], axis=1)[:, 0], axis=1)
    cosine = np.clip((normals[face[first]] * normals[face[second]]).sum(axis=1), -1.0, 1.0)
    turn = np.sqrt((1.0 - cosine) / np.maximum(1.0 + cosine, 1e-12))
    return float(length @ np.minimum(turn, _SHARPEST))


def _areas(tank: Tank) -> Array:
    """Outward area vectors of the faces (F, 3) [m²]."""
    a, b, c = np.moveaxis(tank.vertices[tank.faces], 1, 0)
    return np.asarray(0.5 * np.cross(b - a, c - a))
