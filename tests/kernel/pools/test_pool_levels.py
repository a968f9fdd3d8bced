"""The least and the highest that liquid may stand in each pool, by hand, in a box of 1 m with a weir."""

import numpy as np
import pytest
from pool_tanks import arrays, box

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.pool_levels import highest_over, least_levels, space_of, spaces_of
from tanksolve.kernel.topology.mesh_graph import build_graph

WIDE, AT, THICK, WALL = 0.4, 0.6, 0.01, 0.1
BAYS = AT, 1.0 - AT - THICK
LEVEL = np.array([[0.0, 0.0, 1.0]])


def two_bays():
    weir = box((AT, -1.0, -1.0), (AT + THICK, 1.0, WALL))
    return build_graph(*arrays(box((0.0, 0.0, 0.0), (1.0, WIDE, 0.4)) - weir))


def everywhere(graph):
    return np.ones(len(graph.vertices), bool)


def test_a_bay_stands_least_where_the_other_is_full():
    """0.02 m³: with one bay full to the weir the rest stands in the other."""
    graph, fill = two_bays(), 0.02
    rests = [(fill - WIDE * BAYS[1 - k] * WALL) / (WIDE * BAYS[k]) for k in range(2)]
    (found,) = least_levels(graph, LEVEL, fill)
    assert found == pytest.approx(sorted((rest for rest in rests if rest > 0.0), reverse=True))
    assert np.isnan(least_levels(graph, LEVEL, 0.01)).all()  # either bay may be dry


def test_over_the_weir_both_bays_stand_at_one_level():
    graph, fill = two_bays(), 0.06
    level = (fill + WIDE * THICK * WALL) / WIDE
    assert least_levels(graph, LEVEL, fill) == pytest.approx(np.array([[level]]))
    assert highest_over(graph, LEVEL, LEVEL[None], fill, everywhere(graph)) == pytest.approx(level)


def test_the_highest_that_a_little_liquid_stands_is_in_the_narrow_bay():
    """0.01 m³ all in the bay of 0.39 m; in the wide one alone where that is all that counts."""
    graph, fill = two_bays(), 0.01
    wide_bay = graph.vertices[:, 0] + graph.origin[0] < AT + 0.5 * THICK
    found = highest_over(graph, LEVEL, LEVEL[None], fill, everywhere(graph))
    assert found == pytest.approx(fill / (WIDE * BAYS[1]))
    floors = wide_bay & (graph.vertices[:, 2] + graph.origin[2] < 1e-9)
    assert highest_over(graph, LEVEL, LEVEL[None], fill, floors) == pytest.approx(
        fill / (WIDE * BAYS[0])
    )
    none = np.zeros(len(graph.vertices), bool)
    assert highest_over(graph, LEVEL, LEVEL[None], fill, none) == -np.inf


def test_all_over_a_cell_every_corner_that_may_be_lowest_counts():
    """About level each corner of a floor may be the lowest: at the middle of the cell it stands as the pit does.

    The x axis uphill by 10 degrees, each bay's low end alone is.
    """
    graph, fill = two_bays(), 0.01
    flat = charts.Cells(np.array([charts.PROJECTED], np.int8), np.radians([[-5.0, 5.0, -5.0, 5.0]]))
    found = highest_over(graph, charts.centres(flat), charts.hulls(flat), fill, everywhere(graph))
    assert found == pytest.approx(fill / (WIDE * BAYS[1]))
    up, fill = up_from_slope_heading(np.radians(10.0), 0.0)[None], 0.004
    tan = np.tan(np.radians(10.0))
    depth = np.sqrt(2.0 * tan * fill / WIDE)  # a wedge at the low end of the far bay
    assert depth < tan * BAYS[1]
    surface = (AT + THICK) * up[0, 0] + depth * up[0, 2]
    assert highest_over(graph, up, up[None], fill, everywhere(graph)) == pytest.approx(surface)


def test_spaces_part_what_no_liquid_joins():
    graph = build_graph(
        *arrays(box((0, 0, 0), (0.4, 0.4, 0.4)) + box((0.5, 0, 0), (1.0, 0.4, 0.4)))
    )
    spaces = spaces_of(graph)
    left = graph.vertices[:, 0] + graph.origin[0] < 0.45
    one, other = (space_of(graph, spaces, place) for place in ((0.2, 0.2, 0.2), (0.7, 0.2, 0.2)))
    assert one != other
    assert (spaces == np.where(left, one, other)).all()
    assert space_of(graph, spaces, (0.45, 0.2, 0.2)) == -1
