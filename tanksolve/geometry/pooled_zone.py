"""The zone of a port where walls part the liquid: the tank cut state by state, pool by pool.

A state is liquid at rest at one attitude. Where its highest pool owns all of the tank below its
surface the state is one half-space, as with one level, and all such states cut in one go. In any
other, a port that must stay wet may be in what hangs together with a pool below that pool's
surface, down to its own half-space. A port that must stay dry is kept above the half-space of
every pool that a part of its piece stands over too low: a place lower down, in a bay that is less
full than the one beside it, is left out. Pieces are cut by the state that they break most, until
they break none. docs/theory/place.md
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.booleans import Body, intersection, mesh_of, spaces
from tanksolve.kernel.attitude.halfspaces import Optimum, box_half_spaces, corners_of, on_faces
from tanksolve.kernel.pools.pool_lookup import (
    States,
    faces_joined,
    faces_under,
    levels_below,
    owns_all_below,
    read_joined,
)
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["Cutter", "Piece", "cutter"]

_CLOSE = 1e-7  # m, to which a half-space is kept: more than a cut is off, less than is spared
_SPECK = 1e-9  # of the tank: smaller pieces are left out of the zone, which is the safe side
_INWARD = 1e-6  # of the tank's size: how far inside a wall a piece is asked where it is
_ASKED = 3  # places of a piece that are asked
_FEW = 8  # a state in so many is looked at first
_SPREAD, _MOVES = 8, 6  # places to begin at, a tank's size over this apart; moves from the best
_FIRST, _BEST = 60, 10  # states that places are first valued in; those that are valued in all


@dataclass(frozen=True, eq=False)
class Piece:
    """A connected part of the zone, with the half-spaces that bind in it.

    Attributes
    ----------
    normals, offsets : ``normal · p <= offset`` keeps the rule, one row a state (S, 3), (S,) [m].
    """

    body: Body
    normals: Array
    offsets: Array


class Cutter(Protocol):
    """What cuts a room to the places in which a port keeps its rule in all of a set of states."""

    def pieces(self, room: Body) -> list[Piece]:
        """The parts of ``room`` in which the rule is kept in all states, largest first."""

    def best(self, piece: Piece, body: Body) -> Optimum | None:
        """The place with the greatest margin in a part ``body`` of a piece; None where it is empty.

        It is on the surface: down, or up for a dry port, is better everywhere.
        """


def cutter(
    tank: Tank, states: States, normals: Array, offsets: Array, shrink: float, *, dry: bool
) -> Cutter:
    """Make what cuts a tank.

    tank : its mesh; states : the liquid; normals, offsets : (S, K, 3), (S, K) [m], the half-space
    of each pool of each state, NaN for none; shrink : [m] to spare, by which the half-spaces are
    moved in; dry : the port must stay out of the liquid.
    """
    return (_DryCutter if dry else _WetCutter)(tank, states, normals, offsets, shrink)


class _Cut:
    """What wet and dry ports share: one half-space a state where the liquid is one."""

    def __init__(
        self, tank: Tank, states: States, normals: Array, offsets: Array, shrink: float
    ) -> None:
        self.tank, self.graph, self.states = tank, tank.graph, states
        self.normals, self.offsets, self.shrink = normals, offsets, shrink
        self.alone = owns_all_below(self.graph, states.up, states.pit[:, 0], states.level[:, 0])
        self.parted = np.flatnonzero(~self.alone)

    def first_cut(self, room: Body, whole: Bools) -> list[Body]:
        """What all ``whole`` (S,) states leave of a room, each by its highest pool."""
        from manifold3d import Manifold

        low, high = box_half_spaces(self.tank.lower, self.tank.upper)
        corners = corners_of(
            np.vstack([low, self.normals[whole, 0]]),
            np.append(high, self.offsets[whole, 0] - self.shrink),
        )
        if corners is None:
            return []
        hull = Manifold.hull_points(np.ascontiguousarray(corners))
        return self.spaces(intersection(room, hull))

    def spaces(self, body: Body) -> list[Body]:
        least = _SPECK * self.tank.capacity
        return [one for one in spaces(body) if one.volume() > least] if body.volume() > 0.0 else []

    def trimmed(self, body: Body, state: int, offset: float) -> list[Body]:
        """What a half-space of a state leaves of a body; all of its pools' are parallel."""
        normal = -self.normals[state, 0]
        return self.spaces(body.trim_by_plane(normal.tolist(), self.shrink - offset))


class _WetCutter(_Cut):
    def __init__(
        self, tank: Tank, states: States, normals: Array, offsets: Array, shrink: float
    ) -> None:
        super().__init__(tank, states, normals, offsets, shrink)
        parted = states.at(self.parted)
        self.table = faces_joined(self.graph, parted.up, parted.pit, parted.level)

    def pieces(self, room: Body) -> list[Piece]:
        found, queue = [], self.first_cut(room, np.ones(len(self.alone), bool))
        while queue:
            body = queue.pop()
            breach, pool = self._breaches(body)
            row = int(np.argmax(breach)) if len(breach) else -1
            if row < 0 or breach[row] <= _CLOSE:
                found.append(self._piece(body, pool))
                continue
            state = int(self.parted[row])
            for k in np.flatnonzero(self.states.pit[state] >= 0):
                below = self.trimmed(body, state, float(self.offsets[state, k]))
                queue += [one for one in below if self._in_pool(one, row, int(k))]
        return _largest_first(found)

    def best(self, piece: Piece, body: Body) -> Optimum | None:
        """On one face it is a linear programme: a pickup is in one pool all over a piece."""
        if body.volume() <= 0.0:
            return None
        vertices, faces = mesh_of(body)
        return on_faces(piece.normals, piece.offsets, vertices[faces])

    def _breaches(self, body: Body) -> tuple[Array, Ints]:
        """How far a piece is out of its pool's half-space in each parted state (N,), and the pool."""
        vertices, faces = mesh_of(body)
        asked = self._asked(vertices, faces, np.arange(len(self.parted)))
        joined: Bools = np.asarray(asked.all(axis=2))
        normals, offsets = self.normals[self.parted], self.offsets[self.parted] - self.shrink
        count = self.states.pit.shape[1]
        out = np.full((len(self.parted), count), np.inf)
        for k in range(count):
            rows = np.flatnonzero(joined[:, k])
            reach = (normals[rows, k] @ vertices.T).max(axis=1, initial=-np.inf)
            out[rows, k] = reach - offsets[rows, k]
        pool = np.argmin(out, axis=1) if len(out) else np.empty(0, np.int64)
        return out[np.arange(len(out)), pool], pool

    def _in_pool(self, body: Body, row: int, k: int) -> bool:
        return bool(self._asked(*mesh_of(body), np.array([row]))[0, k].all())

    def _asked(self, vertices: Array, faces: Ints, rows: Ints) -> Bools:
        """Whether a piece hangs together with each pool of parted states, asked at places just
        inside its largest faces: (N, K, places). Outside the tank counts as no.
        """
        outward, area = _outward(vertices, faces)
        largest = np.argsort(-area)[:_ASKED]
        inward = outward[largest] * _INWARD * self.graph.size
        places = vertices[faces[largest]].mean(axis=1) - inward
        under = faces_under(self.graph, self.states.up[self.parted[rows]], places)
        joined = read_joined(self.table[rows], np.maximum(under, 0))
        return np.asarray(joined & (under >= 0)[:, None, :])

    def _piece(self, body: Body, pool: Ints) -> Piece:
        """A piece with the half-space of its pool in each state."""
        binding = np.zeros(len(self.alone), np.int64)
        binding[self.parted] = pool
        rows = np.arange(len(binding))
        return Piece(body, self.normals[rows, binding], self.offsets[rows, binding])


class _DryCutter(_Cut):
    def pieces(self, room: Body) -> list[Piece]:
        found, queue = [], self.first_cut(room, self.alone)
        while queue:
            body = queue.pop()
            cuts = self._cuts(*mesh_of(body))
            left = [body]
            for state, offset in cuts:
                left = [one for part in left for one in self.trimmed(part, state, offset)]
            if cuts:
                queue += left
            else:
                found.append(Piece(body, self.normals[:, 0], self.offsets[:, 0]))
        return _largest_first(found)

    def best(self, piece: Piece, body: Body) -> Optimum | None:
        """Of places spread over the surface the best, moved to where what is below it is best met.

        A dry port may be over any of several pools in one piece.
        """
        if body.volume() <= 0.0:
            return None
        vertices, faces = mesh_of(body)
        spread = mesh_of(body.refine_to_length(self.graph.size / _SPREAD))
        places, seats = spread[0], _inside(*spread, _INWARD * self.graph.size)
        some = np.unique(np.linspace(0, len(self.alone) - 1, _FIRST).astype(np.int64))
        first = np.argsort(-self._margins(places, seats, some))[:_BEST]
        each = self._margins(places[first], seats[first])
        best = Optimum(places[first[np.argmax(each)]], float(each.max()))
        for _ in range(_MOVES):
            level = self._below(self.tank.seated(best.place)[None])[:, 0]
            moved = on_faces(self.normals[:, 0], self._offsets(level), vertices[faces])
            margin = self._margins(moved.place[None], self.tank.seated(moved.place)[None])[0]
            if margin <= best.margin + _CLOSE:
                break
            best = Optimum(moved.place, float(margin))
        return best

    def _offsets(self, level: Array | float, states: Ints | int | slice = slice(None)) -> Array:
        """Offsets of half-spaces over liquid that stands at ``level`` [m] in some states."""
        highest = self.offsets[states, 0] + self.states.level[states, 0]
        return np.asarray(highest - level)

    def _cuts(self, vertices: Array, faces: Ints) -> list[tuple[int, float]]:
        """States, and offsets of their half-spaces, that vertices are out of; the deepest first.

        One for each vertex: cutting where a vertex is that another cut takes off would take too much.
        """
        highest = self.offsets[self.parted, 0] - self.shrink
        may = self.normals[self.parted, 0] @ vertices.T - highest[:, None] > _CLOSE
        columns = np.flatnonzero(may.any(axis=0))
        seats = _inside(vertices, faces, _INWARD * self.graph.size)[columns]
        for states in (self.parted[may.any(axis=1)][::_FEW], self.parted[may.any(axis=1)]):
            if len(states) and (found := self._cuts_in(states, vertices[columns], seats)):
                return found
        return []

    def _cuts_in(self, states: Ints, vertices: Array, seats: Array) -> list[tuple[int, float]]:
        offsets = self._offsets(self._below(seats, states).T, states).T
        depth = self.normals[states, 0] @ vertices.T - (offsets - self.shrink)
        deepest = depth.argmax(axis=0)
        found: list[tuple[int, float]] = []
        for t in np.argsort(-depth.max(axis=0), kind="stable"):
            row, at = deepest[t], vertices[t]
            off = any(self.normals[s, 0] @ at > offset - self.shrink for s, offset in found)
            if depth[row, t] > _CLOSE and not off:
                found.append((int(states[row]), float(offsets[row, t])))
        return found

    def _below(self, seats: Array, states: Ints | slice = slice(None)) -> Array:
        """Level of what is below places (T, 3) in states: (S, T) [m]; outside the tank the highest."""
        at = self.states.at(states)
        level = levels_below(self.graph, at.up, at.pit, at.level, seats)
        return np.where(np.isnan(level), at.level[:, :1], level)

    def _margins(self, places: Array, seats: Array, states: Ints | slice = slice(None)) -> Array:
        """Least margin (T,) [m] over states at places (T, 3); ``seats`` are just inside the tank."""
        offsets = self._offsets(self._below(seats, states).T, states).T
        return np.asarray((offsets - self.normals[states, 0] @ places.T).min(axis=0))


def _largest_first(pieces: list[Piece]) -> list[Piece]:
    return sorted(pieces, key=lambda piece: -float(piece.body.volume()))


def _outward(vertices: Array, faces: Ints) -> tuple[Array, Array]:
    """Unit normals (F, 3) of faces, and twice their areas (F,) [m²]."""
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normal, axis=1)
    return normal / np.where(area > 0.0, area, 1.0)[:, None], area


def _inside(vertices: Array, faces: Ints, inward: float) -> Array:
    """A place (V, 3) by each vertex, ``inward`` [m] from it along and below its largest face."""
    outward, area = _outward(vertices, faces)
    largest = np.empty(len(vertices), np.int64)
    rising = np.argsort(area, kind="stable")
    largest[faces[rising].ravel()] = np.repeat(rising, 3)
    along = vertices[faces[largest]].mean(axis=1) - vertices
    along /= np.linalg.norm(along, axis=1)[:, None]
    return np.asarray(vertices + inward * (along - outward[largest]))
