"""Lowest natural frequencies of a liquid with a free surface between still walls.

Small waves of a liquid without viscosity have a potential with ``laplace(phi) = 0`` inside, no slope
across the walls, and ``d phi / dz = (w²/g) phi`` on the still surface (H. Lamb, "Hydrodynamics",
chapter 9; from memory). So w²/g is the least of

    integral over the liquid of |grad phi|² dV  /  integral over the surface of phi² dA

over potentials without a mean on the surface, and the next ones likewise: Rayleigh's quotient.
Walls need no condition at all, and any set of trial potentials gives figures that are never too
low. Here they are quadratic in each brick of a grid (``cut_mesh``, ``cell_matrices``).
"""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, solve_triangular
from scipy.sparse import coo_array, csc_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import LinearOperator, eigsh, splu

from tanksolve.kernel.waves.cell_matrices import (
    loads,
    stiffness,
    surface_masses,
    surface_moments,
    volume_moments,
)
from tanksolve.kernel.waves.cut_mesh import CutMesh, shared_nodes

Array = NDArray[np.float64]

__all__ = ["wave_numbers"]

_STIFFENING = 1e-7  # of the whole brick's stiffness, so that a sliver of a brick is not loose


def wave_numbers(mesh: CutMesh, count: int) -> tuple[Array, Array]:
    """The lowest ``w²/g`` (k,) [1/m] and how far each wave leans along x and y (k, 2).

    count : how many, k is no more. The leaning is ``integral of phi x dA`` over the root of
    ``integral of phi² dA * integral of (x - mean)² dA``: its square is 1 for a tilted plane and 0
    for a wave that rises and falls alike at both ends. Nothing where there is no free surface.
    """
    top = mesh.on_face(2, 1.0) & (mesh.places[mesh.owner, 2] == mesh.places[:, 2].max())
    if not top.any():
        return np.zeros(0), np.zeros((0, 2))
    parts = len(mesh.places)
    moments = volume_moments(mesh.corners, mesh.owner, parts)
    moments += _STIFFENING * _whole_brick()
    surface = surface_moments(mesh.corners[top], mesh.owner[top], parts)
    number = shared_nodes(mesh)
    masses, nodes = surface_masses(surface, mesh.sizes)
    size = int(number.max()) + 1
    k = _summed(stiffness(moments, mesh.sizes), number, size)
    m = _summed(masses, number[:, nodes], size)
    load = np.zeros((3, size))
    each = loads(surface, mesh.centres, mesh.sizes)
    for row in range(3):
        np.add.at(load[row], number[:, nodes].ravel(), each[:, row].ravel())
    use = _largest_body(k, load[0])
    area, first, second = load[0].sum(), load[1:].sum(axis=1), _second_moments(surface, mesh)
    lean = second - first**2 / area
    values, forms = _lowest(k[use][:, use], m[use][:, use], math.sqrt(area), count)
    along = (load[1:, use] - np.outer(first / area, load[0, use])) @ forms
    return values, (along / np.sqrt(lean)[:, None]).T


def _lowest(k: csc_array, m: csc_array, length: float, count: int) -> tuple[Array, Array]:
    """Lowest pairs of ``K x = w²/g M x`` but the constant one; forms have ``x M x = 1``.

    With ``M = L L'`` on the unknowns of the surface, s > 0 and G the part of ``(K + s M)^-1`` there, they
    are the greatest of ``L' G L z = z / (w²/g + s)``: small vectors, one solve each step.
    """
    shift = 1.0 / length
    factor = splu(
        csc_array(k + shift * m),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    wet = np.flatnonzero(m.diagonal() > 0.0)
    mass = m[wet][:, wet].toarray()
    mass[np.diag_indices_from(mass)] *= 1.0 + 1e-10
    root = cholesky(mass, lower=True)

    def solved(z: Array) -> Array:
        right = np.zeros(k.shape[0])
        right[wet] = root @ z
        return np.asarray(factor.solve(right))

    operator = LinearOperator(mass.shape, matvec=lambda z: root.T @ solved(z)[wet], dtype=float)
    start = np.random.default_rng(1).normal(size=len(wet))
    values, vectors = eigsh(operator, min(count + 1, len(wet) - 1), v0=start, which="LA", tol=1e-9)
    order = np.argsort(-values)[1:]  # the first is the constant: the level itself
    forms = np.zeros((k.shape[0], len(order)))
    forms[wet] = solve_triangular(root, vectors[:, order], lower=True, trans="T")
    return 1.0 / values[order] - shift, forms


def _summed(each: Array, number: NDArray[np.int64], size: int) -> csc_array:
    rows = np.repeat(number, number.shape[1], axis=1).ravel()
    columns = np.tile(number, (1, number.shape[1])).ravel()
    return csc_array(coo_array((each.ravel(), (rows, columns)), shape=(size, size)))


def _largest_body(k: csc_array, surface: Array) -> NDArray[np.intp]:
    """The unknowns of the body with most surface: slivers that rounding cut off are left out."""
    bodies = connected_components(k, directed=False)[1]
    return np.flatnonzero(bodies == np.argmax(np.bincount(bodies, surface)))


def _second_moments(surface: Array, mesh: CutMesh) -> Array:
    """Integrals (2,) of x² and y² over the free surface [m⁴]."""
    grid, half = surface.reshape(-1, 5, 5), 0.5 * mesh.sizes
    area = half[:, 0] * half[:, 1]
    out = []
    for axis, powers in enumerate((grid[:, :3, 0], grid[:, 0, :3])):
        at, step = mesh.centres[:, axis], half[:, axis]
        terms = at**2 * powers[:, 0] + 2.0 * at * step * powers[:, 1] + step**2 * powers[:, 2]
        out.append(float((area * terms).sum()))
    return np.array(out)


def _whole_brick() -> Array:
    """Moments (125,) of a whole brick from -1 to 1."""
    one = np.array([2.0, 0.0, 2.0 / 3.0, 0.0, 2.0 / 5.0])
    return np.asarray(np.einsum("a,b,c->abc", one, one, one).ravel())
