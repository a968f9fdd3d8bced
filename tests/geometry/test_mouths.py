"""What is said of a wall's faces by few of them, against all round, is taken back."""

from types import SimpleNamespace

import numpy as np
import pytest
from solids_by_hand import box

from tanksolve.geometry.mouths import _without_islands
from tanksolve.kernel.topology.edges import edges_of, merge_equal


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("wide", "believed"), [(2, False), (3, True)])
def test_a_lone_patch_is_believed_from_nine_cells_on(sign, wide, believed):
    """A patch of 2 x 2 or 3 x 3 on a cube of 10, the cells of the grid as wide as its own: 4 and 9 areas."""
    corners = box((10.0, 10.0, 10.0), cells=10)
    faces = merge_equal(corners.reshape(-1, 3))[1].reshape(-1, 3)
    area = np.full(len(faces), 0.5)
    middle = corners.mean(axis=1)
    patch = (middle[:, 2] > 9.99) & (np.abs(middle[:, :2] - 4.0 - 0.5 * wide) < 0.5 * wide).all(
        axis=1
    )
    assert patch.sum() == 2 * wide * wide
    side = np.where(patch, -sign, sign).astype(np.int8)
    side[middle[:, 2] < 0.01] = 0  # a floor of which nothing is said
    found = _without_islands(side, edges_of(faces).twin // 3, area, SimpleNamespace(cell=1.0))
    assert (found[patch] == (-sign if believed else 0)).all()
    assert (found[~patch] == side[~patch]).all()
