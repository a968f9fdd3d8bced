"""Where a wet port may sit in a tank whose walls part the liquid: a proved zone for each compartment.

A piece of the tank that hangs together and lies below the least level over one of its places is in
that place's pool whatever the machine did before, all of it. So the tank is cut at a sample of the
required attitudes, pool by pool, until every piece lies so; then each piece is proved over cells
of attitudes. What cannot be proved within a stated amount of work is cut off. docs/theory/place.md
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.booleans import Body, intersection, joined_mesh, mesh_of, pieces, union
from tanksolve.geometry.pieces import below, connected, place_inside, within
from tanksolve.geometry.zone import region_of
from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.direction import slope_heading_deg
from tanksolve.kernel.attitude.halfspaces import Optimum, box_half_spaces, corners_of, on_faces
from tanksolve.kernel.attitude.support import support_high
from tanksolve.kernel.attitude.tangent import on_tangent
from tanksolve.kernel.pools.pool_levels import least_levels
from tanksolve.kernel.pools.worst_state_bounds import need_over
from tanksolve.model.requirement import Requirement
from tanksolve.progress import tell
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.place.points import Opening, cut_depth, samples
from tanksolve.questions.place.zone_parts import Places, Spot, ZonePart, as_point

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["parted_places"]

_SAMPLES = 6  # halvings of the requirement's cells, at which the tank is cut
_CLOSE = 1e-7  # m, to which a half-space is kept when cutting
_NOUGHT = 1e-12  # m
_SPECK = 1e-6  # of the tank: smaller pieces are left out of the zone, which is the safe side
_WORK = 40_000  # cells of attitudes valued for all pieces together
_CHUNK = 256
_ROUNDS = 4  # in which what is left of a piece is cut by cells that are not proved
_TRIED = 20  # places judged where there is no zone


@dataclass(eq=False)
class _Piece:
    """A part of the tank that hangs together, and the opening as seen from a place inside it."""

    body: Body
    opening: Opening

    @property
    def vertices(self) -> Array:
        return mesh_of(self.body.hull())[0]


def parted_places(
    name: str,
    opening: Opening,
    requirement: Requirement,
    anywhere: Body,
    off_floor: Body,
    shrink: float,
) -> Places:
    """Find the zone of each compartment for a wet port.

    name : the port's; anywhere : the room that it may have; off_floor : what of that is off floor
    and walls; shrink : how far inside the half-spaces of the sample pieces are cut [m], which is
    what is to spare for the proof.
    """
    cells = requirement.cells()
    for _ in range(_SAMPLES):
        cells = attitude_cells.halves(cells)
    tried = _Sample(opening, samples(cells), shrink)
    proof = _Proof(opening, requirement, shrink)
    proved = [part for piece in tried.pieces(anywhere) for part in proof.of(piece)]
    found = [
        part for piece in proved if (part := _part(name, piece, requirement, tried, off_floor))
    ]
    if not found:
        return _least_bad(name, opening, requirement, tried, (anywhere, off_floor), proof.spent)
    found.sort(key=lambda one: (-(one[2].margin if one[2] else -np.inf), -one[1].margin))
    parts = [
        ZonePart.of(count, region, best, advised)
        for count, (piece, best, advised) in enumerate(found, 1)
        if (region := region_of(piece.body)) is not None
    ]
    return Places(
        parts=tuple(parts),
        best=max((best for _, best, _ in found), key=lambda spot: spot.margin),
        recommended=found[0][2],
        region=region_of(union([piece.body for piece, _, _ in found])),
        evaluations=proof.spent,
    )


class _Sample:
    """A sample of the required attitudes, and the pools that there are at each."""

    def __init__(self, opening: Opening, up: Array, shrink: float) -> None:
        tank = opening.tank
        self.opening, self.up, self.shrink = opening, up, shrink
        self.levels = least_levels(tank.graph, up, opening.volume, tank.link_stations)
        self.least = _SPECK * tank.capacity

    def pieces(self, room: Body) -> list[_Piece]:
        """The parts of a room that lie in one pool of each attitude, largest first."""
        highest = np.nan_to_num(self.levels[:, 0], nan=-1e3)
        normals, offsets = self.opening.rows_below(highest, self.up, self.up[:, None])
        box = box_half_spaces(self.opening.tank.lower, self.opening.tank.upper)
        corners = corners_of(
            np.vstack([box[0], normals[:, 0]]), np.append(box[1], offsets[:, 0] - self.shrink)
        )
        queue = [_seen(self.opening, body) for body in within(room, corners, self.least)]
        found: list[_Piece] = []
        while queue:
            piece = queue.pop()
            if piece is None:
                continue
            normals, offsets = piece.opening.rows(self.up)
            reach = (normals[:, 0] @ piece.vertices.T).max(axis=1) - offsets[:, 0] + self.shrink
            worst = int(np.argmax(reach))
            if reach[worst] <= _CLOSE:
                found.append(piece)
            else:
                queue += self._cut(piece.body, worst)
        return sorted(found, key=lambda piece: -float(piece.body.volume()))

    def _cut(self, body: Body, row: int) -> list[_Piece]:
        """What lies in some pool of one attitude, cut at its surface: highest pool first."""
        up, found, rest = self.up[row : row + 1], [], [body]
        for level in self.levels[row][~np.isnan(self.levels[row])]:
            normals, offsets = self.opening.rows_below(np.array([level]), up, up[:, None])
            cut, rest = rest, []
            for one in cut:
                for part in below(one, normals[0, 0], offsets[0, 0] - self.shrink, self.least):
                    piece = _seen(self.opening, part)
                    if piece is None:
                        continue
                    if piece.opening.level(up)[0] >= level - _CLOSE:
                        found.append(piece)
                    else:
                        rest.append(part)
        return found


def _seen(opening: Opening, body: Body) -> _Piece | None:
    place = place_inside(body)
    return None if place is None else _Piece(body, opening.at(place))


class _Proof:
    """Proves pieces over all required attitudes, and counts what that costs."""

    def __init__(self, opening: Opening, requirement: Requirement, shrink: float) -> None:
        self.tank, self.requirement, self.spent = opening.tank, requirement, 0
        size = float(np.linalg.norm(self.tank.upper - self.tank.lower))
        self.smallest = 0.5 * shrink / size

    def of(self, piece: _Piece) -> list[_Piece]:
        """The proved parts of a piece: all of it, unless some cells of attitudes are given up."""
        given_up, cells = [], self.requirement.cells()
        while len(cells.box):
            open_ = ~self._holds(piece, cells)
            chord = _chord(cells)
            last = open_ & ((chord < self.smallest) | (self.spent > _WORK))
            given_up.append(cells.at(last))
            cells = attitude_cells.halves(cells.at(open_ & ~last))
            tell(f"proving the zone, {self.spent:,} cells of attitudes so far")
        return self._cut(piece, given_up)

    def _holds(self, piece: _Piece, cells: attitude_cells.Cells) -> Bools:
        """Whether the rule certainly holds all over the piece and all over each cell."""
        out = np.zeros(len(cells.box), bool)
        vertices = piece.vertices
        for rows in np.array_split(np.arange(len(out)), 1 + len(out) // _CHUNK):
            some = cells.at(rows)
            up, hulls = attitude_cells.centres(some), attitude_cells.hulls(some)
            held = cut_depth(*piece.opening.rows(up, hulls), vertices) <= _NOUGHT
            k = np.flatnonzero(~held)
            if len(k):
                held[k] = _need_of_all(piece, vertices, up[k], hulls[k]) <= piece.opening.volume
            out[rows] = held
            self.spent += len(rows)
        return out

    def _cut(self, piece: _Piece, given_up: list[attitude_cells.Cells]) -> list[_Piece]:
        """What of a piece is below the half-spaces of cells that were given up, seen from inside it."""
        rest = [
            (attitude_cells.centres(c), attitude_cells.hulls(c)) for c in given_up if len(c.box)
        ]
        if not rest:
            return [piece]
        up, hulls = (np.concatenate(part) for part in zip(*rest, strict=True))
        box = box_half_spaces(self.tank.lower, self.tank.upper)
        todo, proved = [piece], []
        for _ in range(_ROUNDS):
            cut, todo = todo, []
            for one in cut:
                normals, offsets = one.opening.rows(up, hulls)
                if (cut_depth(normals, offsets, one.vertices) <= _NOUGHT).all():
                    proved.append(one)
                    continue
                corners = corners_of(
                    np.vstack([box[0], normals.reshape(-1, 3)]),
                    np.append(box[1], offsets.ravel() - _CLOSE),
                )
                parts = within(one.body, corners, _SPECK * self.tank.capacity)
                todo += [part for body in parts if (part := _seen(one.opening, body))]
        return proved


def _chord(cells: attitude_cells.Cells) -> Array:
    up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
    return np.asarray(np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1))


def _need_of_all(piece: _Piece, vertices: Array, up: Array, hulls: Array) -> Array:
    """At least the liquid (C,) [m³] that covers the opening wherever in the piece it is, over each hull.

    The piece hangs together, so it needs no more than one port whose opening is all of it.
    """
    opening = piece.opening
    discs = np.repeat(opening.discs, len(vertices), axis=0)
    discs[:, :3] += np.tile(vertices, (len(opening.discs), 1))
    points = on_tangent(up, hulls)
    size = np.linalg.norm(points, axis=2)
    flat = (points / size[..., None]).reshape(-1, 3)
    edges_at = size * (support_high(discs, flat).reshape(size.shape) + opening.cover)
    edges = support_high(discs, up) + opening.cover
    return need_over(
        opening.tank.graph, up, hulls, opening.foot[None], edges[:, None], edges_at[..., None],
        opening.tank.link_stations,
    ).over_cell[:, 0]  # fmt: skip


def _part(
    name: str, piece: _Piece, requirement: Requirement, tried: _Sample, off_floor: Body
) -> tuple[_Piece, Spot, Spot | None] | None:
    """A piece, its best place, and the best that is off floor and walls, where there is one."""
    normals, offsets = piece.opening.rows(tried.up)

    def best(body: Body) -> Spot | None:
        kept = pieces(body) if body.volume() > 0.0 else []
        if not kept:
            return None
        vertices, faces = joined_mesh(kept)
        hope = on_faces(normals[:, 0], offsets[:, 0], vertices[faces])
        spot = _spot(name, piece.opening, requirement, hope, 0.5 * tried.shrink)
        return Spot(spot.place, max(spot.margin, 0.0), spot.set_by)  # all of the piece is proved

    first = best(piece.body)
    return (piece, first, best(intersection(piece.body, off_floor))) if first else None


def _spot(
    name: str, opening: Opening, requirement: Requirement, hope: Optimum, tolerance: float
) -> Spot:
    """A place with its least margin over the requirement, bounded."""
    worst = opening.worst_margin(hope.place, requirement, tolerance)
    by = SetBy(name, *slope_heading_deg(np.array(worst.up)))
    return Spot(as_point(hope.place), -worst.bound, by)


def _least_bad(
    name: str,
    opening: Opening,
    requirement: Requirement,
    tried: _Sample,
    rooms: tuple[Body, Body],
    spent: int,
) -> Places:
    """No zone: the best of the most promising places on the walls of either room."""
    spots: list[Spot | None] = []
    for room in rooms:
        hoped = [one for body in connected(room, 0.0) for one in _promising(opening, tried, body)]
        if not hoped:
            spots.append(None)
            continue
        hope = max(hoped, key=lambda one: one.margin)
        seen = opening.at(opening.tank.seated(hope.place))
        spots.append(_spot(name, seen, requirement, hope, tried.shrink))
    if spots[0] is None:
        raise ValueError("there is no room to try a place in")
    return Places((), spots[0], spots[1], None, spent)


def _promising(opening: Opening, tried: _Sample, body: Body) -> list[Optimum]:
    """Places in a body's faces that the highest pools would suit best, with what they have at the sample."""
    normals, offsets = opening.rows_below(
        np.nan_to_num(tried.levels[:, 0], nan=-1e3), tried.up, tried.up[:, None]
    )
    vertices, faces = mesh_of(body)
    places = vertices[faces].mean(axis=1)
    hope = (offsets[:, 0, None] - normals[:, 0] @ places.T).min(axis=0)
    found = []
    for place in places[np.argsort(-hope, kind="stable")[:_TRIED]]:
        seen = opening.at(opening.tank.seated(place))
        normals, offsets = seen.rows(tried.up)
        found.append(Optimum(place, float((offsets[:, 0] - normals[:, 0] @ place).min())))
    return found
