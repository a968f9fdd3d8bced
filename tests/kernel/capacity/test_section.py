"""Outlines of plane cuts, against areas worked by hand and against the capacity kernel."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import directions

from tanksolve.geometry.parts import box, cylinder
from tanksolve.kernel.capacity.section import loop_area, plane_axes, section_loops
from tanksolve.kernel.capacity.tree import build_tree
from tanksolve.kernel.capacity.volumes import volumes

BOX = box(0.9, 0.3, 0.25)
ROUND = cylinder(0.4, 0.9, "along")


def flat(loops, normal):
    helper = np.eye(3)[np.argmin(np.abs(normal))]
    axes = plane_axes(normal, helper)
    return [loop @ axes.T for loop in loops]


def area(tank, normal, height):
    loops = section_loops(tank.vertices, tank.faces, normal, height)
    return sum(loop_area(loop) for loop in flat(loops, normal))


def nested_boxes():
    """A box with an inner void of a third its size: faces of the void point into the void."""
    inner = (BOX.vertices - BOX.centre) / 3.0 + BOX.centre
    vertices = np.vstack([BOX.vertices, inner])
    return vertices, np.vstack([BOX.faces, BOX.faces[:, ::-1] + len(BOX.vertices)])


def test_level_section_of_a_box():
    loops = section_loops(BOX.vertices, BOX.faces, (0.0, 0.0, 1.0), 0.1)
    assert len(loops) == 1
    np.testing.assert_allclose(loops[0].min(axis=0), (0.0, 0.0, 0.1))
    np.testing.assert_allclose(loops[0].max(axis=0), (0.9, 0.3, 0.1))
    assert area(BOX, np.array([0.0, 0.0, 1.0]), 0.1) == pytest.approx(0.27, rel=1e-14)


def test_loops_run_counter_clockwise_seen_from_the_normal_and_holes_clockwise():
    vertices, faces = nested_boxes()
    for normal in (np.array([0.0, 0.0, 1.0]), np.array([0.6, 0.0, -0.8])):
        height = float(BOX.centre @ normal)
        areas = sorted(
            loop_area(p) for p in flat(section_loops(vertices, faces, normal, height), normal)
        )
        assert len(areas) == 2
        assert areas[1] > 0.0
        assert areas[0] == pytest.approx(-areas[1] / 9.0)


def test_a_plane_beside_the_tank_gives_nothing():
    assert section_loops(BOX.vertices, BOX.faces, (0.0, 0.0, 1.0), 0.3) == ()
    assert section_loops(BOX.vertices, BOX.faces, (0.0, 0.0, 1.0), -0.1) == ()


@pytest.mark.parametrize("height", [0.0, 0.25])
def test_a_plane_through_floor_or_roof_is_just_below_it(height):
    """At the floor nothing is below: a loop at floor height; at the roof nothing is above."""
    loops = section_loops(BOX.vertices, BOX.faces, (0.0, 0.0, 1.0), height)
    assert len(loops) == (1 if height == 0.0 else 0)


def test_a_plane_through_corners_still_closes():
    """Through four corners of the box, along two of its edges."""
    normal = np.array([-0.25, 0.0, 0.9]) / math.hypot(0.25, 0.9)
    assert area(BOX, normal, 0.0) == pytest.approx(0.3 * math.hypot(0.25, 0.9))


@pytest.mark.parametrize("tank", [BOX, ROUND], ids=["box", "cylinder"])
@given(normal=directions(), share=st.floats(0.01, 0.99))
def test_area_inside_the_outline_is_the_free_surface(tank, normal, share):
    low, high = tank.height_range(normal)
    height = float(low[0] + share * (high[0] - low[0]))
    tree = build_tree(tank.vertices, tank.faces)
    expected = volumes(tree, normal[None], np.array([height]))[1][0]
    assert area(tank, normal, height) == pytest.approx(expected, rel=1e-6, abs=1e-7)


@given(directions(), st.floats(0.01, 0.99))
def test_every_point_is_on_the_plane(normal, share):
    low, high = BOX.height_range(normal)
    height = float(low[0] + share * (high[0] - low[0]))
    for loop in section_loops(BOX.vertices, BOX.faces, normal, height):
        np.testing.assert_allclose(loop @ normal, height, atol=1e-14)


@pytest.mark.parametrize("normal", [(0.6, 0.0, 0.8), (0.0, 0.6, 0.8)])
def test_an_open_mesh_is_noticed(normal):
    """Without two of its faces the box is open along any plane through its middle."""
    height = float(BOX.centre @ np.array(normal))
    side = np.abs(BOX.vertices[BOX.faces].mean(axis=1)[:, 1] - 0.15) > 0.149  # left and right walls
    with pytest.raises(ValueError, match="open"):
        section_loops(BOX.vertices, BOX.faces[~side], normal, height)


def test_axes_of_a_plane():
    axes = plane_axes((0.0, 0.0, 1.0), (1.0, 0.0, 5.0))
    np.testing.assert_allclose(axes, [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
    with pytest.raises(ValueError, match="square"):
        plane_axes((0.0, 0.0, 1.0), (0.0, 0.0, 2.0))
