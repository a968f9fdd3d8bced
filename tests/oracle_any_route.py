"""The worst that settled liquid can stand, by one flood over the mesh: plain numpy and a heap, slow.

The *pass* m(x -> p) is the least height that liquid must climb to on its way from x to p. In every
settled state all liquid lies in the port's own pool, filled to h, or below the pass of its hollow:

    F(h) = volume { m(x -> p) <= h } + volume { m(x -> p) > h and z(x) < m(x -> p) }

so a wet port with the edge e is surely held from F(e) on, and no less will do, since the state with
every other hollow brim-full is a settled one. A port that must stay dry is held up to room(e), the
volume of its own pool. It shares the mesh with the kernel and nothing else: passes come from a flood
that starts at the port, drops are found face by face, volumes face by face.

Attitudes must not be aligned with the mesh: a drop that falls on an edge is not told apart.
"""

import heapq
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.link import Link
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Hollow", "hollows", "mean_below", "need", "passes", "room"]


class Hollow(NamedTuple):
    """Liquid that the port does not get: ``volume`` [m³] up to its brim [m], and a place a hair over its floor."""

    lowest: Array
    brim: float
    volume: float


class _Sight:
    """The mesh seen along one up vector: heights, lowest corners, and a plane across."""

    def __init__(self, tank: Tank, up: Array) -> None:
        graph = tank.graph  # its vertices are split where walls touch: nothing flows through there
        self.points = graph.vertices + graph.origin
        self.faces = graph.faces.astype(np.int64)
        self.up = np.asarray(up, float)
        self.z = self.points @ self.up
        corners = self.points[self.faces]
        area = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        self.flow = -(area @ self.up)
        self.lowest = self.faces[np.arange(len(self.faces)), self.z[self.faces].argmin(axis=1)]
        side = np.cross(self.up, np.eye(3)[np.argmin(np.abs(self.up))])
        side /= np.linalg.norm(side)
        inward = -graph.normals / np.linalg.norm(graph.normals, axis=1, keepdims=True)
        self.hairs = 1e-7 * graph.size * inward
        self.plane = np.stack([side, np.cross(self.up, side)], axis=1)
        self.flat = self.points @ self.plane

    def over(self, vertex: int) -> Array:
        """A place (3,) in the liquid a hair from a vertex: walls that touch there have one vertex each."""
        return np.asarray(self.points[vertex] + self.hairs[vertex])

    def below(self, point: Array, leave_out: int = -1, slip: float = 0.0) -> int:
        """The face that is met first straight below a point, whichever way it looks; -1 for none.

        ``slip`` [m]: a face this much higher than the point counts too.
        """
        at = point @ self.plane
        a, b, c = (self.flat[self.faces[:, k]] for k in range(3))

        def turn(p: Array, q: Array) -> Array:
            return np.asarray(
                (q[:, 0] - p[:, 0]) * (at[1] - p[:, 1]) - (q[:, 1] - p[:, 1]) * (at[0] - p[:, 0])
            )

        over = np.stack([turn(b, c), turn(c, a), turn(a, b)], axis=1)
        whole = over.sum(axis=1)
        inside = (whole != 0.0) & (np.all(over >= 0.0, axis=1) | np.all(over <= 0.0, axis=1))
        inside &= ~np.any(self.faces == leave_out, axis=1)
        share = over / np.where(whole == 0.0, 1.0, whole)[:, None]
        height = (share * self.z[self.faces]).sum(axis=1)
        inside &= height <= point @ self.up + slip
        if not inside.any():
            return -1
        return int(np.argmax(np.where(inside, height, -np.inf)))

    def floor_under(self, point: Array) -> int:
        """The lowest corner of the face that a point in the liquid stands over."""
        size = float(np.ptp(self.points, axis=0).max())
        face = self.below(point, slip=1e-6 * size)
        if face < 0 or self.flow[face] <= 0.0:
            raise ValueError(f"nothing to stand on below {point}")
        return int(self.lowest[face])

    def ways(self, links: Sequence[Link]) -> dict[int, list[tuple[int, float]]]:
        """For each vertex where liquid gets to from it, and how high it must stand for that."""
        out: dict[int, list[tuple[int, float]]] = {v: [] for v in range(len(self.points))}
        for a, b in ((0, 1), (1, 2), (2, 0)):
            for v, w in zip(self.faces[:, a], self.faces[:, b], strict=True):
                cost = float(max(self.z[v], self.z[w]))
                out[int(v)].append((int(w), cost))
                out[int(w)].append((int(v), cost))
        for v in range(len(self.points)):
            if any(self.z[w] <= self.z[v] for w, _ in out[v]):
                continue
            face = self.below(self.points[v], leave_out=v)
            if face >= 0 and self.flow[face] > 0.0:  # liquid below it: it hangs
                w = int(self.lowest[face])
                out[v].append((w, float(self.z[v])))
                out[w].append((v, float(self.z[v])))
        for link in links:
            ends = [self.floor_under(_mouth(link, end, self.up)) for end in (0, -1)]
            out[ends[0]].append((ends[1], link.sill(self.up)))
            if link.kind == "balance pipe":
                out[ends[1]].append((ends[0], link.sill(self.up)))
        return out


def _mouth(link: Link, end: int, up: Array) -> Array:
    """The place in the liquid at the lowest part of a link's first or last opening."""
    rows = link.stations[end]
    low = rows[:, :3] @ up - np.hypot(rows[:, 3:6] @ up, rows[:, 6:] @ up)
    return np.asarray(link.mouths[end][int(np.argmin(low))])


def mean_below(h: Array, z: Array) -> Array:
    """Mean of max(h - z, 0) over triangles with corner heights z (F, 3), h (F,) [m]: (F,) [m].

    By the part of the triangle that is cut off at its lowest or its highest corner.
    """
    z0, z1, z2 = np.sort(z, axis=1).T
    mean = h - (z0 + z1 + z2) / 3.0
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = (h - z0) ** 3 / (3.0 * (z1 - z0) * (z2 - z0))
        cap = (z2 - h) ** 3 / (3.0 * (z2 - z0) * (z2 - z1))
    return np.where(h <= z0, 0.0, np.where(h >= z2, mean, np.where(h <= z1, tip, mean + cap)))


def passes(sight: _Sight, links: Sequence[Link], sources: Sequence[tuple[Array, float]]) -> Array:
    """The brim of each vertex (N,) [m]: its pass to the nearest source; infinite without a way.

    sources : places (3,) in the liquid and the height that stands over each.
    """
    return _flooded(sight, links, sources)[0]


def _flooded(
    sight: _Sight, links: Sequence[Link], sources: Sequence[tuple[Array, float]]
) -> tuple[Array, Ints]:
    """The brims of :func:`passes`, and in which turn (N,) the flood came to each vertex."""
    back: dict[int, list[tuple[int, float]]] = {v: [] for v in range(len(sight.points))}
    for v, ways in sight.ways(links).items():
        for w, cost in ways:
            back[w].append((v, cost))
    brim, turn = np.full(len(sight.points), np.inf), np.full(len(sight.points), -1)
    heap = []
    for place, edge in sources:
        v = sight.floor_under(np.asarray(place, float))
        brim[v] = min(brim[v], edge)
        heapq.heappush(heap, (brim[v], v))
    while heap:
        height, w = heapq.heappop(heap)
        if height > brim[w] or turn[w] >= 0:
            continue
        turn[w] = turn.max() + 1
        for v, cost in back[w]:
            new = max(height, cost)
            if new < brim[v]:
                brim[v] = new
                heapq.heappush(heap, (new, v))
    return brim, turn


def _filled(sight: _Sight, height: Array) -> Array:
    """What the column over each face holds (F,) [m³] where its pool stands at ``height`` (F,) [m]."""
    top = float(sight.z.max())
    return sight.flow * mean_below(np.minimum(height, top), sight.z[sight.faces])


def need(tank: Tank, up: Array, sources: Sequence[tuple[Array, float]]) -> float:
    """F(e) [m³]: the least liquid that covers one of ``sources`` (place, edge) on every route."""
    sight = _Sight(tank, up)
    brim = passes(sight, tank.links, sources)
    return float(_filled(sight, brim[sight.lowest]).sum())


def hollows(tank: Tank, up: Array, sources: Sequence[tuple[Array, float]]) -> list[Hollow]:
    """The hollows of the worst state, the highest brim first: in this order liquid that is poured into
    one after the other stays there, if the port's own pool stands before those of its own height."""
    sight = _Sight(tank, up)
    brim, turn = _flooded(sight, tank.links, sources)
    filled = _filled(sight, brim[sight.lowest])
    part = np.arange(len(sight.points))
    below = [v for v in range(len(part)) if sight.z[v] < brim[v]]

    def root(v: int) -> int:
        while part[v] != v:
            v = int(part[v])
        return v

    ways = sight.ways(())
    for v in below:
        for w, cost in ways[v]:
            if cost < brim[v] and sight.z[w] < brim[w]:
                part[root(v)] = root(w)
    found: dict[int, list[int]] = {}
    for v in below:
        found.setdefault(root(v), []).append(v)
    starts = {root(sight.floor_under(np.asarray(place, float))) for place, _ in sources}
    out = []
    for name, members in found.items():
        if name in starts:
            continue
        volume = float(filled[np.isin(sight.lowest, members)].sum())
        low = members[int(np.argmin(sight.z[members]))]
        # of two of one brim a flap may drain one into the other, which the flood came to before
        hollow = Hollow(sight.over(low), float(brim[low]), volume)
        out.append((-hollow.brim, int(turn[members].min()), hollow))
    return [hollow for *_, hollow in sorted(out, key=lambda one: one[:2])]


def room(tank: Tank, up: Array, place: Array, height: float) -> float:
    """The most liquid [m³] that leaves a place dry above ``height`` [m] on every route."""
    sight = _Sight(tank, up)
    ways = sight.ways(tank.links)
    start = sight.floor_under(np.asarray(place, float))
    reached = {start} if sight.z[start] < height else set()
    stack = list(reached)
    while stack:
        for w, cost in ways[stack.pop()]:
            if cost < height and w not in reached:
                reached.add(w)
                stack.append(w)
    own = np.isin(sight.lowest, list(reached))
    return float(_filled(sight, np.full(len(own), height))[own].sum())
