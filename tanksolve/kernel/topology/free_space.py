"""The space round a closed surface on a grid: how far each cell is from it, and where balls fit.

A cell is *open* when the ball about its middle with half the cell's width as its radius is free.
Between two open cells that share a side the way is then free as well, however thin a wall may be:
no wall is ever leapt over. A gap may be missed only where it is narrower than 2.8 cells.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

__all__ = ["first_hits", "in_balls", "near_surface", "winding_numbers"]


@compiled_inner
def _closest(a: Array, b: Array, c: Array, p: Array, found: Array) -> bool:
    """Put the point of a triangle nearest to ``p`` in ``found``; true inside the triangle.

    Reference: C. Ericson, "Real-Time Collision Detection" (2005), section 5.1.5 (from memory).
    """
    d1, d2, d3, d4, d5, d6 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(3):
        ab, ac = b[k] - a[k], c[k] - a[k]
        d1 += ab * (p[k] - a[k])
        d2 += ac * (p[k] - a[k])
        d3 += ab * (p[k] - b[k])
        d4 += ac * (p[k] - b[k])
        d5 += ab * (p[k] - c[k])
        d6 += ac * (p[k] - c[k])
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    v, w, inside = 0.0, 0.0, False
    if d1 <= 0.0 and d2 <= 0.0:
        v, w = 0.0, 0.0
    elif d3 >= 0.0 and d4 <= d3:
        v, w = 1.0, 0.0
    elif d6 >= 0.0 and d5 <= d6:
        v, w = 0.0, 1.0
    elif vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        v, w = d1 / (d1 - d3), 0.0
    elif vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        v, w = 0.0, d2 / (d2 - d6)
    elif va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        v = 1.0 - w
    else:
        total = va + vb + vc
        v, w, inside = vb / total, vc / total, True
    for k in range(3):
        found[k] = a[k] + v * (b[k] - a[k]) + w * (c[k] - a[k])
    return inside


@compiled
def near_surface(
    corners: Array, low: Array, cell: float, shape: Ints, reach: float
) -> tuple[Array, Ints, Bools, Array]:
    """Distance of all cells within ``reach`` of a surface.

    Parameters
    ----------
    corners : (F, 3, 3) float, any unit; low : (3,) middle of the first cell, same unit.
    cell : width of a cell; shape : (3,) int, cells along each axis.

    Returns
    -------
    distance : (nx, ny, nz), infinite beyond reach; face : nearest face, -1 beyond; inner : whether
    the nearest point lies within that face, not on its border; nearest : (nx, ny, nz, 3) that point.
    """
    nx, ny, nz = shape[0], shape[1], shape[2]
    distance = np.full((nx, ny, nz), np.inf)
    face, inner = np.full((nx, ny, nz), -1), np.zeros((nx, ny, nz), np.bool_)
    nearest = np.zeros((nx, ny, nz, 3))
    first, last = np.empty(3, np.int64), np.empty(3, np.int64)
    point, found = np.empty(3), np.empty(3)
    for f in range(len(corners)):
        a, b, c = corners[f, 0], corners[f, 1], corners[f, 2]
        n0 = (b[1] - a[1]) * (c[2] - a[2]) - (b[2] - a[2]) * (c[1] - a[1])
        n1 = (b[2] - a[2]) * (c[0] - a[0]) - (b[0] - a[0]) * (c[2] - a[2])
        n2 = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        limit = reach * np.sqrt(n0 * n0 + n1 * n1 + n2 * n2)
        for k in range(3):
            lowest, highest = min(a[k], b[k], c[k]), max(a[k], b[k], c[k])
            first[k] = max(0, int(np.ceil((lowest - reach - low[k]) / cell)))
            last[k] = min(shape[k] - 1, int(np.floor((highest + reach - low[k]) / cell)))
        for i in range(first[0], last[0] + 1):
            point[0] = low[0] + i * cell
            for j in range(first[1], last[1] + 1):
                point[1] = low[1] + j * cell
                off = n0 * (point[0] - a[0]) + n1 * (point[1] - a[1])
                for m in range(first[2], last[2] + 1):
                    point[2] = low[2] + m * cell
                    if abs(off + n2 * (point[2] - a[2])) > limit:
                        continue
                    within = _closest(a, b, c, point, found)
                    d = 0.0
                    for k in range(3):
                        d += (point[k] - found[k]) ** 2
                    d = np.sqrt(d)
                    best = distance[i, j, m]
                    tie = abs(d - best) <= 1e-9 * cell
                    if d <= reach and (
                        (d < best and not tie) or (tie and within and not inner[i, j, m])
                    ):
                        distance[i, j, m], face[i, j, m], inner[i, j, m] = d, f, within
                        for k in range(3):
                            nearest[i, j, m, k] = found[k]
    return distance, face, inner, nearest


@compiled_inner
def _envelope(row: Array, hull: Ints, cut: Array, out: Array) -> None:
    """Least of ``(x - i)² + row[i]`` over i, for all x of a row.

    Reference: P. F. Felzenszwalb and D. P. Huttenlocher, "Distance Transforms of Sampled
    Functions", Theory of Computing 8 (2012) 415-428, section 2 (from memory).
    """
    n, top = len(row), -1
    for q in range(n):
        if not np.isfinite(row[q]):
            continue
        s = -np.inf
        while top >= 0:
            p = hull[top]
            s = ((row[q] + q * q) - (row[p] + p * p)) / (2.0 * (q - p))
            if s > cut[top]:
                break
            top -= 1
        top += 1
        hull[top] = q
        cut[top] = s if top > 0 else -np.inf
    if top < 0:
        out[:n] = np.inf
        return
    k = 0
    for x in range(n):
        while k < top and cut[k + 1] < x:
            k += 1
        out[x] = (x - hull[k]) ** 2 + row[hull[k]]


@compiled
def in_balls(radius: Array) -> Bools:
    """Cells (nx, ny, nz) that lie in any ball; ``radius`` of the ball about each cell's middle, in
    cells, 0 for none.
    """
    nx, ny, nz = radius.shape
    power = np.where(radius > 0.0, -radius * radius, np.inf)
    longest = max(nx, ny, nz)
    hull, cut, out = np.empty(longest, np.int64), np.empty(longest + 1), np.empty(longest)
    for i in range(nx):
        for j in range(ny):
            _envelope(power[i, j, :].copy(), hull, cut, out)
            power[i, j, :] = out[:nz]
    for i in range(nx):
        for m in range(nz):
            _envelope(power[i, :, m].copy(), hull, cut, out)
            power[i, :, m] = out[:ny]
    for j in range(ny):
        for m in range(nz):
            _envelope(power[:, j, m].copy(), hull, cut, out)
            power[:, j, m] = out[:nx]
    return power < 0.0


@compiled
def winding_numbers(corners: Array, points: Array) -> Array:
    """Winding numbers (P,) of faces (F, 3, 3) about points (P, 3): 1 inside an outward surface.

    References: A. van Oosterom and J. Strackee, "The Solid Angle of a Plane Triangle", IEEE Trans.
    Biomed. Eng. BME-30 (1983) 125-126, equation 8 (citation from memory).
    """
    found = np.zeros(len(points))
    r = np.empty((3, 3))
    for p in range(len(points)):
        total = 0.0
        for f in range(len(corners)):
            la, lb, lc, ab, bc, ca = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
            for k in range(3):
                for c in range(3):
                    r[c, k] = corners[f, c, k] - points[p, k]
                la += r[0, k] * r[0, k]
                lb += r[1, k] * r[1, k]
                lc += r[2, k] * r[2, k]
                ab += r[0, k] * r[1, k]
                bc += r[1, k] * r[2, k]
                ca += r[2, k] * r[0, k]
            la, lb, lc = np.sqrt(la), np.sqrt(lb), np.sqrt(lc)
            triple = (
                r[0, 0] * (r[1, 1] * r[2, 2] - r[1, 2] * r[2, 1])
                + r[0, 1] * (r[1, 2] * r[2, 0] - r[1, 0] * r[2, 2])
                + r[0, 2] * (r[1, 0] * r[2, 1] - r[1, 1] * r[2, 0])
            )
            total += np.arctan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb)
        found[p] = total / (2.0 * np.pi)
    return found


@compiled
def first_hits(corners: Array, chosen: Ints) -> Ints:
    """First face (C,) that the normal from the middle of each chosen face hits; -1 where it hits none.

    ``corners`` (F, 3, 3) float; ``chosen`` (C,) int. A ray that grazes an edge may miss it.

    Reference: T. Möller and B. Trumbore, "Fast, Minimum Storage Ray-Triangle Intersection", Journal
    of Graphics Tools 2 (1997) 21-28 (from memory).
    """
    hits = np.full(len(chosen), -1)
    for k in range(len(chosen)):
        own = corners[chosen[k]]
        ray = np.cross(own[1] - own[0], own[2] - own[0])
        start = (own[0] + own[1] + own[2]) / 3.0
        nearest = np.inf
        for f in range(len(corners)):
            if f == chosen[k]:
                continue
            e, g = corners[f, 1] - corners[f, 0], corners[f, 2] - corners[f, 0]
            p = np.array(
                [
                    ray[1] * g[2] - ray[2] * g[1],
                    ray[2] * g[0] - ray[0] * g[2],
                    ray[0] * g[1] - ray[1] * g[0],
                ]
            )
            across = e[0] * p[0] + e[1] * p[1] + e[2] * p[2]
            if not across < 0.0 and not across > 0.0:
                continue
            s = start - corners[f, 0]
            u = (s[0] * p[0] + s[1] * p[1] + s[2] * p[2]) / across
            if u < 0.0 or u > 1.0:
                continue
            q0, q1, q2 = (
                s[1] * e[2] - s[2] * e[1],
                s[2] * e[0] - s[0] * e[2],
                s[0] * e[1] - s[1] * e[0],
            )
            v = (ray[0] * q0 + ray[1] * q1 + ray[2] * q2) / across
            t = (g[0] * q0 + g[1] * q1 + g[2] * q2) / across
            if v >= 0.0 and u + v <= 1.0 and 1e-12 < t < nearest:
                nearest = t
                hits[k] = f
    return hits
