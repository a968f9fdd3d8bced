"""The plane for a volume: inverts the capacity kernel at given up directions.

V(h) rises from 0 to the capacity and is an exact cubic between vertex heights. Each pass over the
tree gives V and its three derivatives, hence that cubic; the next trial is the cubic's root, kept
within a bracket that only shrinks. Where no vertex height lies between trial and root, the second
pass merely confirms. Along a sweep of neighbouring attitudes the start is extrapolated from the
levels just found. Passes measured: docs/theory/level.md.

Where V does not fix one level (between bodies that do not overlap in height, empty, brim-full),
``lowest`` chooses which end of the interval of levels is returned.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.capacity.tree import LANES, FaceTree
from tanksolve.kernel.capacity.volumes import cubic_at
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import WORTH_SHARING, in_threads

Array = NDArray[np.float64]

__all__ = ["RESIDUAL", "height_bounds", "levels", "levels_along"]

RESIDUAL = 1e-12  # of the wanted volume
_MOST_PASSES = 200


def levels(
    tree: FaceTree, up: ArrayLike, volume: ArrayLike, *, lowest: bool = True
) -> tuple[Array, NDArray[np.int64]]:
    """Heights of the free surface for D attitudes, each solved cold and in parallel.

    up : (D, 3) float [-]   unit vectors, tank frame
    volume : (D,) float [m³]   between 0 and the capacity; broadcast
    Returns heights (D,) [m] with ``up · x <= height`` holding ``volume`` to 1e-12 of itself (or to
    the last digit of the height, where that is coarser), and the passes over the tree (D,).

    Raises ValueError for a volume below 0 or above the capacity.
    """
    up = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    found, passes = levels_along(tree, up[:, None, :], volume, lowest=lowest)
    return found[:, 0], passes[:, 0]


def levels_along(
    tree: FaceTree, paths: ArrayLike, volume: ArrayLike, *, lowest: bool = True
) -> tuple[Array, NDArray[np.int64]]:
    """Heights along K paths of P attitudes; each step starts from the ones before it.

    paths : (K, P, 3) float [-], volume : scalar or (K,) [m³].
    Returns heights (K, P) [m] and passes (K, P). Paths run in parallel. Raises as :func:`levels`.
    """
    paths = np.ascontiguousarray(np.asarray(paths, np.float64))
    if paths.ndim != 3 or paths.shape[2] != 3:
        raise ValueError(f"paths must be (K, P, 3), not {paths.shape}")
    wanted = np.array(np.broadcast_to(np.asarray(volume, np.float64), len(paths)), order="C")
    full = float(tree.flux[0, 5])  # zz of M over the whole mesh: the volume
    if np.any(~(wanted >= 0.0)) or np.any(wanted > full * (1.0 + RESIDUAL)):
        raise ValueError(f"a volume is not between 0 and the capacity, {full} m³")
    found, passes = np.empty(paths.shape[:2]), np.zeros(paths.shape[:2], np.int64)
    least = max(1, WORTH_SHARING // max(1, paths.shape[1]))
    in_threads(
        _levels_along, len(paths), tree, paths, wanted, full, lowest, found, passes, least=least
    )
    return found + paths @ tree.origin, passes


def height_bounds(tree: FaceTree, up: ArrayLike) -> tuple[Array, Array]:
    """Lowest and highest vertex along each of ``up`` (D, 3): heights (D,), (D,) [m]."""
    up = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    shift = up @ tree.origin
    return shift - _highest(tree, -up), shift + _highest(tree, up)


@compiled_inner
def _highest_one(tree: FaceTree, x: float, y: float, z: float) -> float:
    """Highest vertex along (x, y, z), relative to the origin: branch and bound on the tree."""
    best = -np.inf
    node = 0
    while node < len(tree.skip):
        box = tree.boxes[node]
        top = x * box[0] + y * box[1] + z * box[2]
        top += abs(x) * box[3] + abs(y) * box[4] + abs(z) * box[5]
        if top <= best:
            node = tree.skip[node]
        elif tree.first[node] < 0:
            node += 1
        else:
            for face in range(tree.first[node], tree.last[node]):
                p = tree.blocks[face // LANES, :, face % LANES]
                for k in range(0, 9, 3):
                    best = max(best, x * p[k] + y * p[k + 1] + z * p[k + 2])
            node = tree.skip[node]
    return best


@compiled
def _highest(tree: FaceTree, up: Array) -> Array:
    found = np.empty(len(up))
    for d in range(len(up)):
        found[d] = _highest_one(tree, up[d, 0], up[d, 1], up[d, 2])
    return found


@compiled_inner
def _box_start(tree: FaceTree, x: float, y: float, z: float, share: float) -> float:
    """Level of the enclosing box at the same share of its volume: the cold start.

    The cut box is Scardovelli and Zaleski's, J. Comput. Phys. 164 (2000) 228-237 (citation from
    memory); sixteen halvings cost less than one pass.
    """
    box = tree.boxes[0]
    m = np.array([abs(x) * box[3] * 2.0, abs(y) * box[4] * 2.0, abs(z) * box[5] * 2.0])
    total = m.sum()
    m = np.maximum(m, 1e-3 * total)
    total = m.sum()
    low, high = 0.0, total
    for _ in range(16):
        a = 0.5 * (low + high)
        cut = a**3
        for k in range(3):
            cut -= max(a - m[k], 0.0) ** 3
            cut += max(a - total + m[k], 0.0) ** 3
        if cut < 6.0 * m[0] * m[1] * m[2] * share:
            low = a
        else:
            high = a
    return float(0.5 * (low + high) / total)  # as a share of the height range


@compiled_inner
def _cubic_step(wanted: float, v1: float, v2: float, v3: float) -> float:
    """Root near 0 of v1 t + v2 t²/2 + v3 t³/6 = wanted; NaN where Newton does not settle."""
    if v1 <= 0.0:
        return np.nan
    t = wanted / v1
    for _ in range(8):
        value = t * (v1 + t * (0.5 * v2 + t * v3 / 6.0)) - wanted
        slope = v1 + t * (v2 + 0.5 * t * v3)
        if slope <= 0.05 * v1:
            return wanted / v1
        step = value / slope
        t -= step
        if abs(step) <= 1e-15 * abs(t):
            break
    return t


@compiled_inner
def _solve(
    tree: FaceTree, u: Array, wanted: float, low: float, high: float, start: float
) -> tuple[float, float, int]:
    """Height relative to the origin, dV/dh there, and passes; ``low`` holds less, ``high`` more."""
    h = start if low < start < high else 0.5 * (low + high)
    v1 = 0.0
    for count in range(1, _MOST_PASSES):
        v, v1, v2, v3 = cubic_at(tree, u[0], u[1], u[2], h)
        short = wanted - v
        if abs(short) <= RESIDUAL * wanted:
            return h, v1, count
        if short > 0.0:
            low = h
        else:
            high = h
        trial = h + _cubic_step(short, v1, v2, v3)
        if not (low < trial < high):
            trial = 0.5 * (low + high)
        if trial in (low, high) or abs(trial - h) <= 1e-16 * (abs(low) + abs(high)):
            return h, v1, count  # the height has no more digits
        h = trial
    return h, v1, _MOST_PASSES


@compiled_inner
def _extrapolate(done: Array, place: Array, count: int, to: float) -> float:
    """Value at ``to`` of the polynomial through the last (at most four) known levels."""
    known = min(count, 4)
    value = 0.0
    for i in range(count - known, count):
        weight = 1.0
        for j in range(count - known, count):
            if j != i:
                gap = place[i] - place[j]
                if gap == 0.0:
                    return float(done[count - 1])
                weight *= (to - place[j]) / gap
        value += weight * done[i]
    return float(value)


@compiled_inner
def _flat_end(
    tree: FaceTree, u: Array, wanted: float, low: float, high: float, h: float, lowest: bool
) -> float:
    """Far end of the interval of levels with the same volume, by halving; only where S = 0."""
    inside, outside = (h, low) if lowest else (h, high)
    for _ in range(100):
        middle = 0.5 * (inside + outside)
        if middle in (inside, outside):
            break
        v = cubic_at(tree, u[0], u[1], u[2], middle)[0]
        if abs(v - wanted) <= RESIDUAL * wanted:
            inside = middle
        else:
            outside = middle
    return inside


@compiled_inner
def _one_level(
    tree: FaceTree, u: Array, wanted: float, full: float, start: float, lowest: bool
) -> tuple[float, int]:
    """Level relative to the origin, and passes; a NaN ``start`` is cold."""
    box = tree.boxes[0]
    high = u[0] * box[0] + u[1] * box[1] + u[2] * box[2]
    half = abs(u[0]) * box[3] + abs(u[1]) * box[4] + abs(u[2]) * box[5]
    low, high = high - half, high + half
    if wanted <= 0.0 or wanted >= full or np.isnan(start):
        low = -_highest_one(tree, -u[0], -u[1], -u[2])
        high = _highest_one(tree, u[0], u[1], u[2])
        if wanted <= 0.0 or wanted >= full:
            return (low if wanted <= 0.0 else high), 0
        start = low + _box_start(tree, u[0], u[1], u[2], wanted / full) * (high - low)
    h, area, passes = _solve(tree, u, wanted, low, high, start)
    if not lowest:  # a gap may begin just here, where the area below says nothing of it
        area = cubic_at(tree, u[0], u[1], u[2], h + 1e-9 * (high - low))[1]
        passes += 1
    if area * (high - low) <= 1e-9 * full:
        h = _flat_end(tree, u, wanted, low, high, h, lowest)
    return h, passes


@compiled
def _levels_along(
    first: int,
    last: int,
    tree: FaceTree,
    paths: Array,
    wanted: Array,
    full: float,
    lowest: bool,
    found: Array,
    passes: NDArray[np.int64],
) -> None:
    for k in range(first, last):
        place = np.zeros(paths.shape[1])
        for p in range(paths.shape[1]):
            start = np.nan
            if p > 0:
                step = paths[k, p] - paths[k, p - 1]
                place[p] = place[p - 1] + math.sqrt(step[0] ** 2 + step[1] ** 2 + step[2] ** 2)
                start = _extrapolate(found[k], place, p, place[p])
            found[k, p], passes[k, p] = _one_level(
                tree, paths[k, p], wanted[k], full, start, lowest
            )
