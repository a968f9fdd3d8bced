"""Bounding-volume tree over a closed triangle mesh, laid out so that one loop walks it.

(Interface only for now: filled in by the capacity work.)
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["FaceTree", "build_tree"]


class FaceTree(NamedTuple):
    """Arrays of the tree; coordinates relative to ``origin``, faces in depth-first tree order."""

    origin: Array


def build_tree(vertices: Array, faces: NDArray[np.int64]) -> FaceTree:
    """Build the tree."""
    raise NotImplementedError
