"""The dipstick table: depth from the lowest point of the liquid against volume."""

import numpy as np
import pytest
from closed_forms import horizontal_cylinder
from tanks import box_tank, circle, convex_prism, tank

from tanksolve.errors import FillError
from tanksolve.project.inline import volume_at_depth
from tanksolve.questions.dip import dip


def test_box_rows():
    table = dip(box_tank((1.2, 0.5, 0.8), (5.0, -3.0, 2.0)), 0.1)
    assert [row.depth_m for row in table.rows] == pytest.approx([0.1 * k for k in range(9)])
    volumes = [row.volume_m3 for row in table.rows]
    np.testing.assert_allclose(volumes, 0.06 * np.arange(9), atol=1e-14)
    assert table.capacity_m3 == table.rows[-1].volume_m3
    assert table.depth_full_m == pytest.approx(0.8)


def test_a_step_that_does_not_divide_ends_on_the_full_tank():
    table = dip(box_tank((1.0, 1.0, 0.8)), 0.3)
    assert [row.depth_m for row in table.rows] == pytest.approx([0.0, 0.3, 0.6, 0.8])
    assert table.rows[0].volume_m3 == 0.0
    assert table.rows[-1].volume_m3 == pytest.approx(0.8)


def test_depth_counts_from_the_sump():
    mesh = tank("baffled with sump")
    assert volume_at_depth(mesh, 0.1)[0] == pytest.approx(0.25 * 0.3 * 0.1, rel=1e-12)
    table = dip(mesh, 0.05)
    assert table.depth_full_m == pytest.approx(1.0)
    assert table.rows[2].volume_m3 == pytest.approx(0.25 * 0.3 * 0.1, rel=1e-12)
    assert table.rows[-1].volume_m3 == mesh.capacity


def test_lying_cylinder_against_jones():
    """D. Jones, "Calculating Tank Volume": the segment's area times the length."""
    mesh = convex_prism(circle(0.5, 1024, equal_area=True), 2.0)
    bottom = float(mesh.upper[2])  # the polygon's facet lies a hair inside its corners
    for depth in (0.1, 0.3, 0.5, 0.9):
        found, _ = volume_at_depth(mesh, depth - (0.5 - bottom))
        assert found == pytest.approx(horizontal_cylinder(0.5, 2.0, depth), rel=2e-5)


def test_ends():
    mesh = tank("ring")
    full = float(mesh.upper[2] - mesh.lower[2])
    assert volume_at_depth(mesh, full) == pytest.approx((mesh.capacity,) * 2, rel=1e-13)
    volumes = [row.volume_m3 for row in dip(mesh, 0.002).rows]
    assert np.all(np.diff(volumes) > 0.0)


@pytest.mark.parametrize("step", [0.0, -0.1, 1e-7, float("nan")])
def test_steps_that_make_no_table_are_refused(step):
    with pytest.raises(FillError, match="makes no table"):
        dip(box_tank(), step)


@pytest.mark.parametrize("depth", [-0.001, 0.801])
def test_depths_outside_the_tank_are_refused(depth):
    with pytest.raises(FillError, match="not in the tank"):
        volume_at_depth(box_tank(), depth)
