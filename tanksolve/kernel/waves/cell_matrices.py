"""Stiffness and surface matrices of brick cells that walls cut: exact moments, no mesh.

A cell is a brick, or the connected part of one that holds liquid, given by its closed surface of
triangles. Shape functions are those of the whole brick, quadratic along each axis (27 to a cell), so

    K_ij = integral over the wet part of grad N_i . grad N_j dV
    M_ij = integral over the wet part of the top face of N_i N_j dA

are sums of the wet part's moments ``x^a y^b z^c``, a, b, c <= 4. These come from the divergence theorem:
a sum over triangles of ``n_z x^a y^b z^(c+1) / (c+1)``. Nothing is approximated but by rounding,
and by quadrature of degree 9 on sloping triangles (exact on level ones).
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import roots_jacobi

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["NODES", "loads", "stiffness", "surface_masses", "surface_moments", "volume_moments"]

NODES = np.array([(i, j, k) for i in range(3) for j in range(3) for k in range(3)])
"""Place of each of a cell's 27 nodes along x, y, z: 0, 1 (the middle) or 2."""
_TOP = np.flatnonzero(NODES[:, 2] == 2)
# coefficients of the shape functions on (-1, 1), lowest power first, and of their derivatives
_SHAPE = np.array([[0.0, -0.5, 0.5], [1.0, 0.0, -1.0], [0.0, 0.5, 0.5]])
_SLOPE = np.array([[-0.5, 1.0], [0.0, -2.0], [0.5, 1.0]])


def _products(one: Array) -> Array:
    """Coefficients (3, 3, 5) of the products of two polynomials each, powers 0 to 4."""
    out = np.zeros((3, 3, 5))
    for i in range(3):
        for j in range(3):
            both = np.convolve(one[i], one[j])
            out[i, j, : len(both)] = both
    return out


_NN, _DD = _products(_SHAPE), _products(_SLOPE)


def _tensor(x: Array, y: Array, z: Array) -> Array:
    """Matrix (729, 125) from moments to a cell's 27 x 27 sums of products along the axes."""
    return np.asarray(np.einsum("ila,jmb,knc->ijklmnabc", x, y, z).reshape(729, 125))


_STIFF = (_tensor(_DD, _NN, _NN), _tensor(_NN, _DD, _NN), _tensor(_NN, _NN, _DD))
_MASS = np.einsum("ila,jmb->ijlmab", _NN, _NN).reshape(81, 25)


def _triangle_rule(n: int) -> tuple[Array, Array]:
    """Barycentric points (n², 3) and weights of twice the area: the conical product of Gauss rules.

    Exact to degree 2n - 1. References: A. H. Stroud, "Approximate Calculation of Multiple
    Integrals", 1971 (from memory; tested against closed forms).
    """
    x, wx = np.polynomial.legendre.leggauss(n)
    y, wy = roots_jacobi(n, 1.0, 0.0)
    u = np.repeat(0.5 * (y + 1.0), n)
    v = np.tile(0.5 * (x + 1.0), n) * (1.0 - u)
    return np.stack([1.0 - u - v, u, v], axis=-1), np.repeat(wy, n) * np.tile(wx, n) / 8.0


_POINTS, _WEIGHTS = _triangle_rule(5)


def _powers(t: Array, shifted: bool = False) -> Array:
    """Powers 0 to 4 (..., 5); ``shifted``: t^(c+1) / (c+1)."""
    powers = np.stack([np.ones_like(t), t, t**2, t**3, t**4], axis=-1)
    return powers * t[..., None] / np.arange(1.0, 6.0) if shifted else powers


def volume_moments(corners: Array, owner: Ints, count: int) -> Array:
    """Moments (count, 125) of wet parts from their triangles.

    corners : (T, 3, 3) float [-], in the coordinates of the owner's brick, each axis from -1 to 1,
    outward; owner : (T,) int, sorted, which of the ``count`` cells a triangle belongs to.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    use = np.abs(twice) > 1e-14  # upright triangles do not count
    return _summed(corners[use], twice[use], owner[use], count, upright=True)


def surface_moments(corners: Array, owner: Ints, count: int) -> Array:
    """Moments (count, 25) of the free surface from its triangles, parameters as above."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return _summed(corners, np.abs(twice), owner, count, upright=False)


def _summed(corners: Array, twice: Array, owner: Ints, count: int, *, upright: bool) -> Array:
    out = np.zeros((count, 125 if upright else 25))
    for start in range(0, len(corners), 4096):
        part = slice(start, start + 4096)
        at = np.einsum("qb,tbc->tqc", _POINTS, corners[part])
        x, y = _powers(at[..., 0]), _powers(at[..., 1])
        x *= (twice[part, None] * _WEIGHTS)[..., None]
        plane = np.einsum("tqa,tqb->tqab", x, y).reshape(*at.shape[:2], 25)
        heights = _powers(at[..., 2], shifted=True) if upright else np.ones((*at.shape[:2], 1))
        each = np.swapaxes(plane, 1, 2) @ heights
        np.add.at(out, owner[part], each.reshape(len(each), -1))
    return out


def stiffness(moments: Array, sizes: Array) -> Array:
    """K (n, 27, 27) [m] of cells with ``moments`` (n, 125) and brick sizes (n, 3) [m]."""
    room = sizes.prod(axis=1) / 8.0
    total = np.zeros((len(moments), 729))
    for axis, tensor in enumerate(_STIFF):
        total += (room * (2.0 / sizes[:, axis]) ** 2)[:, None] * (moments @ tensor.T)
    return total.reshape(-1, 27, 27)


def surface_masses(moments: Array, sizes: Array) -> tuple[Array, Ints]:
    """M (n, 9, 9) [m²] over the nodes of the top face, and which 9 of the 27 those are."""
    scale = sizes[:, 0] * sizes[:, 1] / 4.0
    return (scale[:, None] * (moments @ _MASS.T)).reshape(-1, 9, 9), _TOP


def loads(moments: Array, centres: Array, sizes: Array) -> Array:
    """Integrals (n, 3, 9) of N, x N and y N over the free surface [m², m³, m³]."""
    scale = (sizes[:, 0] * sizes[:, 1] / 4.0)[:, None]
    grid = moments.reshape(-1, 5, 5)

    def over(shift_x: int, shift_y: int) -> Array:
        part = grid[:, shift_x : shift_x + 3, shift_y : shift_y + 3]
        return np.asarray(np.einsum("ia,jb,nab->nij", _SHAPE, _SHAPE, part).reshape(-1, 9) * scale)

    plain = over(0, 0)
    x = centres[:, :1] * plain + 0.5 * sizes[:, :1] * over(1, 0)
    y = centres[:, 1:2] * plain + 0.5 * sizes[:, 1:2] * over(0, 1)
    return np.stack([plain, x, y], axis=1)
