"""Tanks for the tests, built with numpy and manifold3d alone; ``LIBRARY`` names them all."""

from collections.abc import Callable
from functools import cache

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray
from solids_by_hand import ball, box

from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Manifold = manifold3d.Manifold


def from_corners(name: str, corners: Array) -> Tank:
    """Merge equal corners of (F, 3, 3) faces. Rounds to 1e-13 so that one point is one vertex."""
    flat = np.round(corners.reshape(-1, 3), 13) + 0.0
    vertices, index = np.unique(flat, axis=0, return_inverse=True)
    return Tank(name, vertices, index.reshape(-1, 3))


def from_manifold(name: str, solid: Manifold) -> Tank:
    mesh = solid.to_mesh64()
    return Tank(name, np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def to_manifold(tank: Tank) -> Manifold:
    mesh = manifold3d.Mesh64(
        vert_properties=np.array(tank.vertices), tri_verts=tank.faces.astype(np.uint64)
    )
    return Manifold(mesh)


def turned(tank: Tank, rotation: ArrayLike, shift: ArrayLike = (0.0, 0.0, 0.0)) -> Tank:
    """The same tank turned by (3, 3), then moved."""
    return Tank(tank.name, tank.vertices @ np.asarray(rotation).T + np.asarray(shift), tank.faces)


def random_rotation(rng: np.random.Generator) -> Array:
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    q[:, 0] *= np.sign(np.linalg.det(q))
    return q


def random_up(rng: np.random.Generator, count: int) -> Array:
    up = rng.normal(size=(count, 3))
    return up / np.linalg.norm(up, axis=1, keepdims=True)


def box_tank(
    size: ArrayLike = (1.2, 0.5, 0.8), low: ArrayLike = (0.0, 0.0, 0.0), cells: int = 1
) -> Tank:
    return from_corners("box", box(size, low, cells))


def ball_tank(rings: int = 8, radius: float = 1.0) -> Tank:
    return from_corners("ball", ball(rings, radius))


def circle(radius: float, sides: int, equal_area: bool = False) -> Array:
    """Corners of a regular polygon, inscribed in the circle or of the circle's area."""
    turn = 2.0 * np.pi * (np.arange(sides) + 0.5) / sides
    if equal_area:
        radius *= np.sqrt(2.0 * np.pi / sides / np.sin(2.0 * np.pi / sides))
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1)


def convex_prism(section: Array, length: float, name: str = "prism") -> Tank:
    """Convex section (N, 2) in y and z (y left, z up, anticlockwise), from x = 0 to ``length``."""
    n = len(section)
    rear = np.column_stack([np.zeros(n), section])
    front = rear + np.array([length, 0.0, 0.0])
    sides = np.arange(n)
    after = (sides + 1) % n
    faces = [
        *np.stack([sides, after, after + n], axis=1),
        *np.stack([sides, after + n, sides + n], axis=1),
        *[[0, k + 1, k] for k in range(1, n - 1)],
        *[[n, n + k, n + k + 1] for k in range(1, n - 1)],
    ]
    corners = np.concatenate([rear, front])[np.asarray(faces)]
    if np.einsum("fi,fi->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) < 0.0:
        faces = [face[::-1] for face in np.asarray(faces)]
    return Tank(name, np.concatenate([rear, front]), np.asarray(faces))


def upright_cylinder(radius: float, height: float, sides: int, *, equal_area: bool = True) -> Tank:
    """Upright cylinder on the origin, axis z."""
    lying = convex_prism(circle(radius, sides, equal_area), height, "upright cylinder")
    to_z = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    return turned(lying, to_z)


def block(size: ArrayLike, low: ArrayLike = (0.0, 0.0, 0.0)) -> Manifold:
    return Manifold.cube([float(s) for s in np.asarray(size)]).translate(
        [float(s) for s in np.asarray(low)]
    )


def _pipe(radius: float, length: float, low: ArrayLike, sides: int = 24) -> Manifold:
    """A cylinder along x from ``low``."""
    upright = Manifold.cylinder(length, radius, circular_segments=sides)
    return upright.rotate([0.0, 90.0, 0.0]).translate([float(s) for s in np.asarray(low)])


def baffled() -> Manifold:
    """1.2 x 0.5 x 0.8 with two holed baffles, a sump and a pipe across."""
    solid = block((1.2, 0.5, 0.8)) + block((0.25, 0.3, 0.25), (0.1, 0.1, -0.2))
    for x in (0.4, 0.8):
        plate = block((0.006, 0.6, 0.7), (x, -0.05, -0.01))
        for y, z in ((0.1, 0.08), (0.4, 0.08), (0.25, 0.4)):
            plate -= _pipe(0.04, 0.1, (x - 0.05, y, z))
        solid -= plate
    across = Manifold.cylinder(0.7, 0.03, circular_segments=20).rotate([90.0, 0.0, 0.0])
    return solid - across.translate([0.6, 0.6, 0.3])


def l_shape() -> Manifold:
    return block((1.0, 0.4, 0.3)) + block((0.3, 0.4, 0.9))


def u_shape() -> Manifold:
    return l_shape() + block((0.25, 0.4, 0.7), (0.75, 0.0, 0.0))


def saddle() -> Manifold:
    """A saddle tank: a round body with a tunnel's notch below, ends domed by a scaled ball."""
    body = _pipe(0.3, 1.0, (0.0, 0.0, 0.3), 40)
    dome = Manifold.sphere(0.3, circular_segments=40).scale([0.4, 1.0, 1.0])
    body += dome.translate([0.0, 0.0, 0.3]) + dome.translate([1.0, 0.0, 0.3])
    return body - block((2.0, 0.2, 0.2), (-0.5, -0.1, -0.01))


def ring() -> Manifold:
    """A torus: one hole through."""
    circle_ = manifold3d.CrossSection.circle(0.12, 24).translate([0.4, 0.0])
    return circle_.revolve(48)


def floating() -> Manifold:
    """A box with a free-standing solid inside it, which the liquid surrounds on all sides."""
    return block((0.8, 0.6, 0.5)) - Manifold.sphere(0.15, circular_segments=24).translate(
        [0.5, 0.3, 0.25]
    )


def twisted() -> Manifold:
    """A five-pointed section drawn up with a twist: no face stands upright."""
    turn = np.linspace(0.0, 2.0 * np.pi, 10, endpoint=False)
    radius = np.where(np.arange(10) % 2, 0.2, 0.45)
    section = manifold3d.CrossSection(
        [np.stack([radius * np.cos(turn), radius * np.sin(turn)], -1)]
    )
    return section.extrude(0.7, 12, 75.0, (0.7, 0.7))


def two_bodies() -> Manifold:
    """Two boxes with a gap of height between them, joined by nothing."""
    return block((0.4, 0.4, 0.3)) + block((0.5, 0.4, 0.2), (0.1, 0.0, 0.5))


def drilled() -> Manifold:
    """A block with three crossing through-holes."""
    hole = _pipe(0.09, 1.4, (-0.7, 0.0, 0.0), 32)
    holes = hole + hole.rotate([0.0, 0.0, 90.0]) + hole.rotate([0.0, 90.0, 0.0])
    return block((0.6, 0.5, 0.4), (-0.3, -0.25, -0.2)) - holes


def stepped() -> Manifold:
    """Steps, a wedge floor and an overhang."""
    floor = manifold3d.CrossSection(
        [[(0, 0.1), (0.5, 0), (0.9, 0.15), (0.9, 0.4), (0.6, 0.4), (0.7, 0.6), (0, 0.6)]]
    )
    return floor.extrude(0.5).rotate([90.0, 0.0, 0.0])


def _skewed() -> Manifold:
    return baffled().rotate([17.0, 23.0, 31.0])


LIBRARY: dict[str, Callable[[], Manifold]] = {
    "box": lambda: block((1.2, 0.5, 0.8)),
    "L": l_shape,
    "U": u_shape,
    "baffled with sump": baffled,
    "baffled, skewed": _skewed,
    "saddle": saddle,
    "ring": ring,
    "solid afloat": floating,
    "twisted star": twisted,
    "two bodies": two_bodies,
    "drilled": drilled,
    "stepped": stepped,
}


@cache
def tank(name: str) -> Tank:
    """One of ``LIBRARY``, built once."""
    return from_manifold(name, LIBRARY[name]())


# a tank file: a box with a pot below its floor, and a pickup in the middle of the pot
ASKEW = """
tanksolve_file = 1
name = "askew"
fill = "42 L"
[tank]
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"
sizes = "inside"
[[sump]]
shape = "cylinder"
name = "pot"
at = "450, 150 mm"
diameter = "100 mm"
depth = "40 mm"
[[port]]
kind = "pickup"
name = "suction"
at = "450, 150, 20 mm"
cover = "10 mm"
"""
