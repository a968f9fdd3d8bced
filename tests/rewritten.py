"""The same mesh written otherwise: what may change no answer."""

import numpy as np
from solids_by_hand import turned
from walled_tank import corners_of

__all__ = ["WAYS", "rewritten"]


def _shuffled(corners, seed):
    rng = np.random.default_rng(seed)
    corners = rng.permutation(corners)
    roll = rng.integers(0, 3, len(corners))
    return corners[np.arange(len(corners))[:, None], (np.arange(3) + roll[:, None]) % 3]


def _finer(solid, length):
    return corners_of(solid.refine_to_length(length))


WAYS = {
    "shuffled": lambda solid: _shuffled(corners_of(solid), 1),
    "shuffled again": lambda solid: _shuffled(corners_of(solid), 2),
    "wound the other way": lambda solid: corners_of(solid)[:, ::-1],
    "turned and moved": lambda solid: turned(_shuffled(corners_of(solid), 3), 4, 500.0),
    "turned again": lambda solid: turned(_shuffled(corners_of(solid), 5), 6, 500.0),
    "of smaller faces": lambda solid: _shuffled(_finer(solid, 60.0), 7),
    "of small faces": lambda solid: _shuffled(_finer(solid, 25.0), 8),
    "in inches": lambda solid: corners_of(solid) / 25.4,
}


def rewritten(solid, way):
    """Corners (F, 3, 3) and the unit of a solid [mm] written in one of the ``WAYS``."""
    return WAYS[way](solid), "in" if way == "in inches" else "mm"
