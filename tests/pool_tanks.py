"""Tanks that part their liquid into pools, made with manifold3d directly [m]."""

from collections.abc import Callable

import manifold3d as m3
import numpy as np

Solid = m3.Manifold


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Solid:
    size = tuple(b - a for a, b in zip(low, high, strict=True))
    return Solid.cube(size).translate(low)


def rod(
    start: tuple[float, float, float], axis: str, length: float, radius: float, n: int
) -> Solid:
    turn = {"x": (0.0, 90.0, 0.0), "y": (-90.0, 0.0, 0.0), "z": (0.0, 0.0, 0.0)}[axis]
    return Solid.cylinder(length, radius, radius, n).rotate(turn).translate(start)


def arrays(solid: Solid) -> tuple[np.ndarray, np.ndarray]:
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts).astype(np.int64)


def holed_baffles() -> Solid:
    tank = box((0, 0, 0), (0.9, 0.3, 0.3)) + box((0.1, 0.1, -0.05), (0.2, 0.2, 0.01))
    for x in (0.3, 0.6):
        plate = box((x, -0.01, -0.01), (x + 0.003, 0.31, 0.31))
        for y in (0.075, 0.15, 0.225):
            for z in (0.08, 0.2):
                plate -= rod((x - 0.01, y, z), "x", 0.03, 0.02, 16)
        plate -= box((x - 0.01, -0.02, 0.28), (x + 0.02, 0.02, 0.32))
        plate -= box((x - 0.01, 0.28, -0.02), (x + 0.02, 0.32, 0.01))
        tank -= plate
    return tank


def hanging_and_weirs() -> Solid:
    tank = box((0, 0, 0), (1.0, 0.4, 0.4))
    tank -= box((0.2, -1, -1), (0.21, 1, 0.2)) + box((0.7, -1, -1), (0.71, 1, 0.15))
    tank -= box((0.4, -1, 0.1), (0.42, 1, 1)) + box((0.85, 0.1, 0.05), (0.86, 0.3, 1))
    return tank - box((0.5, 0.1, 0.12), (0.55, 1, 1))


def displacers() -> Solid:
    tank = box((0, 0, 0), (0.8, 0.5, 0.4))
    tank -= box((0.1, 0.1, 0.1), (0.3, 0.3, 0.2))  # floats free of every wall
    tank -= box((0.4, 0.1, -1), (0.5, 0.2, 0.25))  # stands on the floor
    tank -= box((0.6, -1, 0.15), (0.7, 1, 0.25))  # bridges from wall to wall
    tank -= box((0.4, 0.3, 0.2), (0.5, 0.4, 1))  # hangs from the roof
    return tank - Solid.sphere(0.05, 24).translate((0.25, 0.4, 0.2))


def nested_sumps() -> Solid:
    tank = box((0, 0, 0), (0.6, 0.6, 0.3)) + box((0.1, 0.1, -0.1), (0.4, 0.4, 0.01))
    tank += box((0.15, 0.15, -0.15), (0.25, 0.25, -0.09))
    tank += rod((0.33, 0.33, -0.18), "z", 0.1, 0.04, 24)
    ring = box((0.42, 0.42, -1), (0.58, 0.58, 0.08)) - box((0.43, 0.43, -2), (0.57, 0.57, 1))
    return tank - ring


def cups() -> Solid:
    tank = box((0, 0, 0), (0.6, 0.4, 0.4))
    cup = box((0.05, 0.05, 0.1), (0.25, 0.25, 0.3)) - box((0.07, 0.07, 0.12), (0.23, 0.23, 1))
    small = box((0.1, 0.1, 0.15), (0.2, 0.2, 0.25)) - box((0.11, 0.11, 0.16), (0.19, 0.19, 1))
    bell = box((0.3, 0.1, 0.1), (0.5, 0.3, 0.3)) - box((0.32, 0.12, -1), (0.48, 0.28, 0.28))
    return tank - cup - small - bell - box((0.35, 0.15, 0.15), (0.45, 0.25, 0.2))


def rings() -> Solid:
    shell = rod((0, 0, 0), "x", 1.0, 0.25, 48)
    for x, hole in ((0.3, 0.15), (0.6, 0.08)):
        shell -= rod((x, 0, 0), "x", 0.01, 0.3, 48) - rod((x - 0.1, 0, 0.02), "x", 0.3, hole, 32)
    circle = m3.CrossSection.circle(0.03, 16).translate((0.12, 0))
    torus = Solid.revolve(circle, 32).rotate((20, 70, 0)).translate((0.8, 0, 0))
    return shell - torus


def saddle_tank() -> Solid:
    legs = box((0, 0, 0), (0.3, 0.3, 0.5)) + box((0.6, 0, 0.1), (0.9, 0.3, 0.5))
    return (
        legs + box((0.2, 0.1, 0.35), (0.7, 0.2, 0.45)) + rod((0.2, 0.25, 0.2), "x", 0.5, 0.02, 12)
    )


def egg_crate() -> Solid:
    tank = box((0, 0, 0), (0.8, 0.8, 0.4))
    for i, (a, b) in enumerate(((0.1, 0.2), (0.15, 0.05), (0.22, 0.12))):
        at = 0.2 * (i + 1)
        tank -= box((at, -1, -1), (at + 0.005, 1, a)) + box((-1, at, -1), (1, at + 0.005, b))
    return tank - box((0.3, 0.3, 0.25), (0.5, 0.5, 0.3))


def leaning() -> Solid:
    tank = box((0, 0, 0), (0.7, 0.5, 0.4)) + box((0.5, 0.3, 0), (1.0, 0.5, 0.3))
    leaning_weir = (
        box((-0.005, -1, -1), (0.005, 1, 0.25)).rotate((0, 25, 0)).translate((0.25, 0, 0))
    )
    hung = box((-0.005, -1, -0.2), (0.005, 1, 1)).rotate((10, -30, 5)).translate((0.5, 0.25, 0.3))
    return tank - leaning_weir - hung


def floating_tube() -> Solid:
    tank = box((0, 0, 0), (0.5, 0.5, 0.5))
    tube = Solid.cylinder(0.3, 0.06, 0.06, 32) - Solid.cylinder(1, 0.05, 0.05, 32, center=True)
    closed = Solid.cylinder(0.3, 0.08, 0.04, 20) - Solid.cylinder(0.28, 0.07, 0.03, 20).translate(
        (0, 0, 0.01)
    )
    tank -= tube.rotate((40, 20, 0)).translate((0.2, 0.2, 0.15))
    return tank - closed.rotate((0, -35, 10)).translate((0.38, 0.35, 0.1))  # holds a sealed pocket


def stepped_floor() -> Solid:
    tank = box((0, 0, 0.1), (0.3, 0.4, 0.5)) + box((0.3, 0, 0), (0.6, 0.4, 0.5))
    tank += box((0.6, 0, 0.05), (0.9, 0.4, 0.5))
    wedge = Solid.hull_points(
        [(0.4, 0.1, 0.2), (0.5, 0.1, 0.2), (0.45, 0.3, 0.1), (0.45, 0.2, 0.3)]
    )
    return tank - wedge - box((0.3, -1, -1), (0.31, 1, 0.16)) - box((0.6, -1, 0.3), (0.61, 1, 1))


def bubbles(seed: int = 4) -> Solid:
    random = np.random.default_rng(seed)
    tank = box((0, 0, 0), (1, 1, 1))
    for _ in range(14):
        low = random.uniform(-0.1, 0.9, 3)
        high = low + random.uniform(0.05, 0.35, 3)
        block = box(tuple(low), tuple(high))
        if random.random() < 0.5:
            block = block.rotate(tuple(random.uniform(0, 90, 3))).translate(tuple(0.3 * low))
        tank -= block
    return tank


TANKS: dict[str, Callable[[], Solid]] = {
    "holed baffles": holed_baffles,
    "hanging and weirs": hanging_and_weirs,
    "displacers": displacers,
    "nested sumps": nested_sumps,
    "cups": cups,
    "rings": rings,
    "saddle tank": saddle_tank,
    "egg crate": egg_crate,
    "leaning": leaning,
    "floating tube": floating_tube,
    "stepped floor": stepped_floor,
    "bubbles": bubbles,
}
