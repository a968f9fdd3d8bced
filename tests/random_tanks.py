"""Random tanks that part their liquid: weirs with notches and holes, hung plates, cups, shelves, sumps [m]."""

import numpy as np

from tests.pool_tanks import Solid, arrays, box, rod


def plate(rng, size, aligned) -> Solid:
    """A plate across the box with gaps below, above, beside or through it."""
    x, y, z = size
    at, thick = rng.choice([0.25, 0.5, 0.75]) if aligned else rng.uniform(0.15, 0.85), 0.01
    low = rng.choice([-1.0, -1.0, 0.1 * z])
    high = rng.choice([0.3 * z, 0.5 * z, 0.7 * z, 2.0])
    if not aligned:
        high *= rng.uniform(0.7, 1.2)
    across = rng.random() < 0.6
    long, wide = (x, y) if across else (y, x)
    solid = box((at * long, -1.0, low), (at * long + thick, 1.0 + wide, high))
    for _ in range(rng.integers(0, 3)):
        c, r = rng.uniform(0.1, 0.9) * wide, rng.uniform(0.02, 0.08) * wide
        h = rng.uniform(0.0, 0.8) * z
        if rng.random() < 0.5:
            solid -= box((-1.0, c - r, h), (2.0 + long, c + r, rng.choice([h + r, 2.0])))
        else:
            solid -= rod((-1.0, c, h), "x", 3.0 + long, r, 8)
    if rng.random() < 0.3:
        solid -= box((-1.0, -2.0, -2.0), (2.0 + long, 0.1 * wide, 2.0))
    if not across:
        solid = solid.rotate((0.0, 0.0, 90.0)).translate((x, 0.0, 0.0))
    if not aligned and rng.random() < 0.3:
        middle = (0.5 * x, 0.5 * y, 0.0)
        solid = solid.translate(tuple(-c for c in middle))
        solid = solid.rotate(tuple(rng.uniform(-20, 20, 3))).translate(middle)
    return solid


def fitting(rng, size) -> Solid:
    """A cup (perhaps with another in it), a shelf, a free block, or a post."""
    x, _, z = size
    a = rng.uniform(0.0, 0.7, 3) * size
    d = rng.uniform(0.1, 0.35, 3) * size
    b, kind = a + d, rng.integers(0, 4)
    if kind == 0:
        wall = 0.12 * d.min()
        return box(tuple(a), tuple(b)) - box(tuple(a + wall), (*(b - wall)[:2], 2.0))
    if kind == 1:  # a shelf at a wall, with a rim or a hole now and then
        shelf = box((-1.0, -1.0, a[2]), (b[0], b[1], a[2] + 0.03 * z))
        if rng.random() < 0.5:
            shelf += box((b[0] - 0.02 * x, -1.0, a[2]), (b[0], b[1], a[2] + 0.1 * z))
        return shelf - rod((0.5 * b[0], 0.5 * b[1], -1.0), "z", 3.0, 0.1 * min(b[0], b[1]), 8)
    if kind == 2:
        return box(tuple(a), tuple(b)).rotate(tuple(rng.uniform(-30, 30, 3)))
    return box((a[0], a[1], -1.0), (b[0], b[1], b[2]))


def random_tank(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Vertices (N, 3) [m] and faces (F, 3) of a box with walls; half are symmetric, with equal crests."""
    aligned = rng.random() < 0.5
    size = np.array([rng.uniform(0.5, 1.2), rng.uniform(0.3, 0.8), rng.uniform(0.2, 0.5)])
    if aligned:
        size = np.round(size, 1)
    tank = box((0.0, 0.0, 0.0), tuple(size))
    for _ in range(rng.integers(0, 3)):
        a = rng.uniform(0.05, 0.6, 2) * size[:2]
        b = a + rng.uniform(0.1, 0.35, 2) * size[:2]
        tank += box((*a, -rng.uniform(0.02, 0.1)), (*b, 0.01))
    for _ in range(rng.integers(0, 4)):
        tank -= plate(rng, size, aligned)
    for _ in range(rng.integers(0, 3)):
        tank -= fitting(rng, size)
    return arrays(tank)


def random_pair(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Two random tanks side by side, as pipes join them."""
    (one, its_faces), (other, other_faces) = random_tank(rng), random_tank(rng)
    shift = np.array([one[:, 0].max() - other[:, 0].min() + 0.1, 0.0, rng.choice([0.0, 0.1])])
    return np.vstack([one, other + shift]), np.vstack([its_faces, other_faces + len(one)])
