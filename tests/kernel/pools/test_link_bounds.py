"""How high liquid must stand to get through a link, all over a cell: a mouth over a ridge, worked by hand."""

import numpy as np
import pytest
from pool_tanks import Solid, arrays, box

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.pools.links import Links
from tanksolve.kernel.pools.worst_state_bounds import need_over
from tanksolve.kernel.topology.mesh_graph import build_graph

WIDE, CREST, SILL, EDGE = 0.4, 0.04, 0.02, 0.01
MIDDLE, NEAR = (
    0.05,
    0.8999,
)  # the mouth's middle stands 0.1 mm beside the ridge, 10 mm above its crest


def knife():
    """A wall of 0.5 mm, and the areas of liquid left of it to its crest, right of it to the sill [m²]."""
    wall = box((NEAR - 0.0005, -1.0, -1.0), (NEAR, 1.0, CREST))
    return wall, (NEAR - 0.0005 - 0.6) * CREST, (1.0 - NEAR) * SILL


def roof():
    """A ridge whose two slopes meet at the crest, and the same areas: its feet take from them."""
    feet = {x: x + (NEAR - x) * 5.0 / 9.0 for x in (0.85, 0.95)}  # where its slopes meet the floor
    ends = [(0.85, -0.05), (NEAR, CREST), (0.95, -0.05)]
    ridge = Solid.hull_points([(x, y, z) for y in (-1.0, 1.0) for x, z in ends])
    left = (NEAR - 0.6) * CREST - 0.5 * CREST * (NEAR - feet[0.85])
    right = (1.0 - feet[0.95]) * SILL + 0.5 * SILL * (feet[0.95] - NEAR) * SILL / CREST
    return ridge, left, right


def pipe(from_x, to_x):
    """A level pipe of 60 mm bore between places at half the width: its sill is 30 mm below its middle."""
    ends = np.array([[x, 0.5 * WIDE, MIDDLE] for x in (from_x, to_x)])
    half = MIDDLE - SILL
    disc = np.tile([0.0, half, 0.0, 0.0, 0.0, half], (2, 1))
    return Links(np.hstack([ends, disc]), ends, np.array([0, 1, 2]), np.array([0, 2]))


def needs(graph, low, high):
    """The fill [m³] that a port in the left body needs at the centre of a cell and all over it."""
    cell = charts.Cells(
        np.array([charts.SLOPE_HEADING], np.int8), np.radians([[low, high, 0.0, 0.0]])
    )
    up, points = charts.centres(cell), charts.hulls(cell)
    v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
    place = np.array([[0.2, 0.5 * WIDE, EDGE]])
    found = need_over(graph, up, v, place, up @ place.T, v @ place.T, links=pipe(0.9, 0.1))
    return found.at_centre[0, 0], found.over_cell[0, 0]


@pytest.mark.parametrize(("made", "slope"), [(knife, 8.0), (roof, 2.0)])
def test_what_a_ridge_keeps_from_a_mouth_at_another_attitude_counts(made, slope):
    """Level, what falls from the mouth lands right of the ridge; at the middle of the cell, left of it.

    So level the left side of the far body stays full to the crest, and liquid that stands at the sill there does
    not get through, though it does at the middle.
    """
    ridge, left, right = made()
    solid = box((0.0, 0.0, 0.0), (0.5, WIDE, 0.4)) + box((0.6, 0.0, 0.0), (1.0, WIDE, 0.4))
    graph = build_graph(*arrays(solid - ridge))
    level = WIDE * (0.5 * EDGE + left + right)
    assert needs(graph, 0.0, 0.0) == pytest.approx((level, level), rel=1e-9)
    alone = [needs(graph, at, at)[0] for at in np.linspace(0.0, slope, 9)]
    assert alone[4] < 0.9 * level
    assert needs(graph, 0.0, slope)[1] > max(alone)
