"""Kinds of damage that meshes come with, done to a tank of known volume, and what must become of each.

Each gives corners (F, 3, 3) [m] and the volume that was meant [m³], None where what was meant cannot be
told and the mesh has to be refused.
"""

import numpy as np
from solids_by_hand import ball, box, inverted

__all__ = ["DAMAGES", "TANK", "VOLUME"]

TANK = box((4, 4, 4), cells=8)
VOLUME = 64.0
_RNG = np.random.default_rng(3)


def _without(*faces):
    return np.delete(TANK, faces, axis=0)


def _flipped(faces):
    corners = TANK.copy()
    corners[list(faces)] = corners[list(faces), ::-1]
    return corners


def _moved(face, by):
    corners = TANK.copy()
    corners[face, 0] += by
    return corners


def _with(*others):
    return np.concatenate([TANK, *others])


def _noise(size):
    return TANK + size * _RNG.uniform(-1, 1, TANK.shape)


def _stitched():
    small, large = box((4, 4, 4), cells=8), box((4, 4, 4))
    floor = small[:, :, 2].max(axis=1) == 0.0
    return np.concatenate([small[floor], large[large[:, :, 2].max(axis=1) > 0.0]])


def _slit():
    """A face split at its edge's middle on one side only, with a face of no area in between."""
    a, b, c = TANK[8]
    middle = 0.5 * (a + b)
    return np.concatenate([_without(8), [[a, middle, c], [middle, b, c], [a, b, middle]]])


def _bent_hole():
    whole = ball(40, 2.0)
    return np.delete(whole, range(900, 902), axis=0)


def _volume_of(corners):
    return float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6)


_VOID = box((1, 1, 1), (1, 1, 1))
_CROSSING = box((4, 4, 4), (2, 0.5, 0.5), cells=8)

DAMAGES = {
    # mended
    "doubled faces": (_with(TANK[7:9]), VOLUME),
    "a face doubled and turned over": (_with(TANK[7:8], inverted(TANK[7:8])), VOLUME),
    "all faces doubled": (_with(TANK), VOLUME),
    "a face without area": (_with([[(1, 1, 1), (1, 1, 1), (2, 2, 2)]]), VOLUME),
    "a needle along an edge": (_with([[TANK[0, 0], TANK[0, 1], TANK[0, 0]]]), VOLUME),
    "three faces turned over": (_flipped((3, 4, 90)), VOLUME),
    "one side turned over": (_flipped(range(128)), VOLUME),
    "inside out": (inverted(TANK), VOLUME),
    "a face missing in a flat wall": (_without(8), VOLUME),
    "four faces missing in flat walls": (_without(8, 200, 400, 700), VOLUME),
    "a face missing in a round wall": (_bent_hole(), _volume_of(ball(40, 2.0))),
    "a corner pulled off by 2 um": (_moved(5, 2e-6), VOLUME),
    "a corner pulled off by 30 um": (_moved(5, 3e-5), VOLUME),
    "noise of 10 um on every corner": (_noise(1e-5), VOLUME),
    "noise of 200 um on every corner": (_noise(2e-4), VOLUME),
    "T-junctions along an edge": (_stitched(), VOLUME),
    "a slit closed by a face without area": (_slit(), VOLUME),
    "a void wound outwards": (_with(_VOID), VOLUME - 1.0),
    "a void, and all turned inside out": (inverted(_with(inverted(_VOID))), VOLUME - 1.0),
    "a body beside, turned inside out": (_with(inverted(box((2, 2, 2), (9, 0, 0)))), VOLUME + 8.0),
    "faces shuffled and one missing": (_without(17)[_RNG.permutation(len(TANK) - 1)], VOLUME),
    # refused: what was meant cannot be told
    "a wall missing": (_without(*range(128)), None),
    "every second face turned over": (_flipped(range(0, 768, 2)), None),
    "two bodies that cross": (_with(_CROSSING), None),
    "a fin inside, of one sheet": (_with([[(1, 1, 1), (3, 1, 1), (3, 3, 1)]]), None),
    "two bodies that share an edge": (_with(box((0.5, 0.5, 0.5), (4, 4, 0))), None),
    "a wall pushed through the other": (
        TANK * [1, 1, 1] + 5.0 * (TANK[:, :, :1] == 0) * [1, 0, 0],
        None,
    ),
    "half of it": (TANK[TANK[:, :, 2].mean(axis=1) < 2.0], None),
}
