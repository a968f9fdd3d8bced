"""What a bay keeps however the machine tilts: a box of 0.5 x 0.4 x 0.4 m with one gate, by hand."""

import numpy as np
import pytest
from pool_tanks import arrays, box

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.kept import least_kept
from tanksolve.kernel.topology.mesh_graph import build_graph

LONG, WIDE, SILL = 0.5, 0.4, 0.1
HAIR = 1e-7
# the sill of a gate as wide as the wall x = LONG, a hair inside
GATE = [(LONG - HAIR, HAIR, SILL), (LONG - HAIR, WIDE - HAIR, SILL)]


def bay():
    return build_graph(*arrays(box((0.0, 0.0, 0.0), (LONG, WIDE, 0.4))))


def test_level_it_keeps_what_lies_under_the_sill():
    kept = least_kept(bay(), GATE, [0.0, 0.0, 1.0])
    assert kept == pytest.approx(LONG * WIDE * SILL, rel=1e-5)


@pytest.mark.parametrize("slope", [3.0, 8.0])
@pytest.mark.parametrize("heading", [0.0, 90.0, 180.0, 270.0])
def test_tilted_it_keeps_what_lies_under_the_plane_of_the_lower_end_of_the_sill(slope, heading):
    """The floor stays wet all over: a prism under a plane, at its middle as high as there."""
    up = up_from_slope_heading(np.radians(slope), np.radians(heading))
    low = GATE[0] if up[1] >= 0.0 else GATE[1]
    middle = SILL + ((low[0] - LONG / 2) * up[0] + (low[1] - WIDE / 2) * up[1]) / up[2]
    assert least_kept(bay(), GATE, up) == pytest.approx(LONG * WIDE * middle, rel=1e-5)


def test_of_two_gates_the_lower_one_counts_and_without_one_all_is_kept():
    graph, level = bay(), [0.0, 0.0, 1.0]
    higher = [(HAIR, 0.2, 0.3)]
    assert least_kept(graph, [*higher, *GATE], level) == least_kept(graph, GATE, level)
    assert least_kept(graph, higher, level) == pytest.approx(LONG * WIDE * 0.3, rel=1e-5)
    assert least_kept(graph, np.empty((0, 3)), level)[0] >= graph.capacity * (1.0 - 1e-9)
    assert least_kept(graph, [(2.0, 0.2, 0.1)], level) == 0.0  # a gate outside: nothing is known


def test_all_over_a_cell_it_keeps_no_more_than_at_any_attitude():
    graph = bay()
    for half in (4.0, 1.0):
        cell = charts.Cells(
            np.array([charts.SLOPE_HEADING], np.int8),
            np.radians([[10.0 - half, 10.0 + half, 60.0 - half, 60.0 + half]]),
        )
        bound = least_kept(graph, GATE, charts.centres(cell), charts.hulls(cell))[0]
        slopes, headings = np.radians(np.mgrid[-half:half:7j, -half:half:7j].reshape(2, -1))
        ups = up_from_slope_heading(np.radians(10.0) + slopes, np.radians(60.0) + headings)
        least = least_kept(graph, GATE, ups).min()
        assert bound < least
    assert bound > 0.7 * least
