"""The worst settled state at one attitude by flooding outwards from a port: slow, nothing from the kernel.

docs/theory/worst_state.md: every vertex gets the height above which its liquid runs off to the port, by
a heap over mesh edges and drops; a face holds liquid up to that height of its lowest corner.
"""

import heapq

import numpy as np

_EDGE_ON = 1e-9  # of a face's area as seen from above: a drop along an edge hits both its faces


def ways_of(faces: np.ndarray, count: int) -> list[list[int]]:
    """The vertices next to each vertex."""
    near = [set() for _ in range(count)]
    for a, b, c in faces.tolist():
        near[a] |= {b, c}
        near[b] |= {a, c}
        near[c] |= {a, b}
    return [sorted(other) for other in near]


class Attitude:
    """One attitude of a mesh: heights, and what lies straight below a point."""

    def __init__(self, vertices, faces, up):
        helper = np.eye(3)[np.argmin(np.abs(up))]
        a = np.cross(up, helper)
        a /= np.linalg.norm(a)
        self.faces = faces
        self.z = vertices @ up
        self.across = np.stack([vertices @ a, vertices @ np.cross(up, a)], axis=1)
        self.frame = np.stack([a, np.cross(up, a), up])
        p, q, r = (self.across[faces[:, k]] for k in range(3))
        self.flow = -0.5 * ((q - p)[:, 0] * (r - p)[:, 1] - (q - p)[:, 1] * (r - p)[:, 0])
        if (self.flow * self.z[faces].mean(axis=1)).sum() > 0.0:
            raise AssertionError("the frame is left-handed, or the mesh is inside out")
        self.drops = {}

    def hit(self, point: np.ndarray, top: float, without: int = -1) -> tuple[int, float]:
        """The highest face straight below a point (2,) across, and where; -1 for none."""
        p, q, r = (self.across[self.faces[:, k]] - point for k in range(3))
        share = np.stack(
            [
                q[:, 0] * r[:, 1] - q[:, 1] * r[:, 0],
                r[:, 0] * p[:, 1] - r[:, 1] * p[:, 0],
                p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0],
            ],
            axis=1,
        )
        whole = share.sum(axis=1)
        lies = np.abs(whole) > 1e-14
        share = share / np.where(lies, whole, 1.0)[:, None]
        inside = lies & (share.min(axis=1) >= -_EDGE_ON)
        height = np.where(inside, (share * self.z[self.faces]).sum(axis=1), -np.inf)
        height[height > top] = -np.inf
        if without >= 0:
            height[(self.faces == without).any(axis=1)] = -np.inf
        best = int(np.argmax(height))
        return (best, float(height[best])) if np.isfinite(height[best]) else (-1, -np.inf)

    def drop(self, vertex: int) -> int:
        """Lowest corner of the face that a drop from a vertex hits; -1 if metal is straight below it."""
        if vertex not in self.drops:
            face, _ = self.hit(self.across[vertex], self.z[vertex], vertex)
            if face < 0 or self.flow[face] <= 0.0:
                self.drops[vertex] = -1
            else:
                self.drops[vertex] = min(self.faces[face].tolist(), key=lambda v: self.z[v])
        return self.drops[vertex]


def mean_depth(h: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Mean of (h - z)+ over triangles with corner heights z (F, 3): by cutting off what is dry."""
    z = np.sort(z, axis=1)
    low, middle, high = z.T
    whole = h - z.mean(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        # below the middle corner: a triangle similar at the lowest corner, a third of its height
        tip = (h - low) ** 3 / (3.0 * (middle - low) * (high - low))
        # above it: the dry tip at the highest corner counts negative in the whole
        dry = (high - h) ** 3 / (3.0 * (high - middle) * (high - low))
    out = np.where(h >= high, whole, np.where(h <= middle, tip, whole + dry))
    return np.where(h <= low, 0.0, out)


def lowest_below(at: Attitude, place) -> int:
    """Lowest corner of the face straight below a place (3,) in the liquid space."""
    x, y, z = at.frame @ np.asarray(place, float)
    face, _ = at.hit(np.array([x, y]), z)
    assert face >= 0, "nothing lies below the place"
    assert at.flow[face] > 0.0, "the place is not in the liquid space"
    return min(at.faces[face].tolist(), key=lambda v: at.z[v])


def hanging_above(at: Attitude, near: list[list[int]]) -> dict[int, list[int]]:
    """By vertex, those whose drop hits a face of which it is the lowest corner."""
    falls_onto: dict[int, list[int]] = {}
    for v, others in enumerate(near):
        if all(at.z[w] >= at.z[v] for w in others):
            below = at.drop(v)
            if below >= 0:
                falls_onto.setdefault(below, []).append(v)
    return falls_onto


def need_by_flood(at: Attitude, near: list[list[int]], places, edges, links=()) -> float:
    """F [m³] of one or several places (3,) of which one suffices, with the edges [m] along up.

    links : where each lets in and out (3,), (3,), and its sill [m].
    """
    brim = np.full(len(near), np.inf)
    heap = []
    for place, edge in zip(places, edges, strict=True):
        v = lowest_below(at, place)
        brim[v] = min(brim[v], max(edge, at.frame[2] @ place))
        heapq.heappush(heap, (brim[v], v))
    falls_onto = hanging_above(at, near)
    comes_from: dict[int, list[tuple[int, float]]] = {}
    for into, out, sill in links:
        v, w = (lowest_below(at, place) for place in (into, out))
        comes_from.setdefault(w, []).append((v, sill))
    done = np.zeros(len(near), bool)
    while heap:
        height, v = heapq.heappop(heap)
        if done[v]:
            continue
        done[v] = True
        ways = [(w, max(at.z[v], at.z[w])) for w in near[v]]
        ways += [(w, at.z[w]) for w in falls_onto.get(v, [])] + comes_from.get(v, [])
        if at.drops.get(v, -1) >= 0:
            ways.append((at.drops[v], at.z[v]))
        for w, cost in ways:
            if max(height, cost) < brim[w]:
                brim[w] = max(height, cost)
                heapq.heappush(heap, (brim[w], w))
    corners = at.z[at.faces]
    lowest = np.take_along_axis(at.faces, corners.argmin(axis=1)[:, None], axis=1)[:, 0]
    level = np.minimum(brim[lowest], at.z.max())
    return float((at.flow * mean_depth(level, corners)).sum())


def room_by_flood(at: Attitude, near: list[list[int]], place, edge: float, links=()) -> float:
    """Room [m³] below ``edge`` [m] for the place (3,): all that its floor is joined to below that.

    links : in-mouth (3,), out-mouth (3,) and sill [m] of each; its ends must lie over a floor.
    """

    def floor_of(point):
        x, y, z = at.frame @ np.asarray(point, float)
        face, floor = at.hit(np.array([x, y]), z)
        return (
            (min(at.faces[face].tolist(), key=lambda v: at.z[v]), floor) if face >= 0 else (-1, 0.0)
        )

    start, floor = floor_of(place)
    assert start >= 0, "nothing lies below the place"
    level = max(edge, floor)
    falls_onto = hanging_above(at, near)
    leads = {}
    for into, out, sill in links:
        a, b = floor_of(into)[0], floor_of(out)[0]
        if a >= 0 and b >= 0 and sill < level:
            leads.setdefault(a, []).append(b)
    reached, stack = np.zeros(len(near), bool), [start]
    while stack:
        v = stack.pop()
        if reached[v] or at.z[v] >= level:
            continue
        reached[v] = True
        stack += near[v] + falls_onto.get(v, []) + leads.get(v, [])
        if at.drops.get(v, -1) >= 0:
            stack.append(at.drops[v])
    corners = at.z[at.faces]
    lowest = np.take_along_axis(at.faces, corners.argmin(axis=1)[:, None], axis=1)[:, 0]
    depth = mean_depth(np.full(len(corners), min(level, at.z.max())), corners)
    return float((at.flow * depth)[reached[lowest]].sum())
