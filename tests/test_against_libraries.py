"""A sample of the campaign against manifold3d, trimesh and VTK; the whole: campaign_libraries.py."""

import numpy as np
import pytest
from library_cuts import AGREE, compare_cuts
from tanks import LIBRARY, tank


@pytest.mark.parametrize("name", LIBRARY)
def test_volume_is_that_of_two_libraries_that_agree(name):
    errors = compare_cuts(tank(name), 8, seed=99)
    settled = errors["settled"] > 0
    assert settled.sum() >= 7
    assert np.all(errors["ours"][settled] <= AGREE)
