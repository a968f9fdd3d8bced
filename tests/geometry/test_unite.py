"""Bodies made one, by hand: what crosses stays whole, a void stays a void."""

import numpy as np
import pytest
from manifold3d import Manifold
from solids_by_hand import box, inverted
from walled_tank import corners_of

from tanksolve.errors import MeshError
from tanksolve.geometry.formats import RawMesh
from tanksolve.geometry.unite import unite

CUBE = box((10.0, 10.0, 10.0))


def volume(corners):
    return float(np.einsum("fi,fi->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))) / 6.0


def united(*bodies):
    return unite(RawMesh(np.concatenate(bodies)), 1e-3)


def test_a_pyramid_whose_tip_alone_stands_out_is_not_taken_for_one_that_lies_inside():
    """Its faces' middles all lie in the cube; of its 64 a tip of a third of its height is outside."""
    base = [(3.0, 3.0, 2.0), (7.0, 3.0, 2.0), (7.0, 7.0, 2.0), (3.0, 7.0, 2.0)]
    pyramid = corners_of(Manifold.hull_points([*base, (5.0, 5.0, 14.0)]))
    assert (pyramid.mean(axis=1)[:, 2] < 10.0).all()
    assert volume(pyramid) == pytest.approx(64.0)
    found = united(CUBE, pyramid)
    assert found is not None
    assert volume(found.corners) == pytest.approx(1000.0 + 64.0 / 27.0, rel=1e-4)


def test_what_lies_inside_is_a_void_where_it_is_wound_as_one_and_else_refused():
    """A third body overlaps the cube by a tenth of itself, so that there is something to unite."""
    inner, beside = box((4.0, 4.0, 4.0), (3.0, 3.0, 3.0)), box((10.0, 4.0, 4.0), (9.0, 3.0, 3.0))
    found = united(CUBE, inverted(inner), beside)
    assert found is not None
    assert volume(found.corners) == pytest.approx(1000.0 - 64.0 + 0.9 * 160.0, rel=1e-4)
    with pytest.raises(MeshError, match="wholly inside"):
        united(CUBE, inner, beside)


def test_bodies_apart_are_not_united():
    assert united(CUBE, box((1.0, 1.0, 1.0), (12.0, 0.0, 0.0))) is None
