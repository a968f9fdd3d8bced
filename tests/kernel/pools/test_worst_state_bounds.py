"""The fill that a port needs, all over a cell of attitudes: closed forms, limits, and floods by hand."""

import itertools

import numpy as np
import pytest

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.pools.links import Links
from tanksolve.kernel.pools.worst_state_bounds import need_over
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.campaign_worst_state_bounds import NOTHING_SEEN, attack, campaign, edges_along
from tests.pool_tanks import TANKS, Solid, arrays, box

LONG, WIDE, HIGH = 1.0, 0.4, 0.4
AT, THICK, WALL = 0.5, 0.01, 0.1
UPWARDS = charts.SLOPE_HEADING


def two_bays():
    """A box with one weir; the far bay is the one with greater x."""
    wall = box((AT, -1.0, -1.0), (AT + THICK, 1.0, WALL))
    return build_graph(*arrays(box((0.0, 0.0, 0.0), (LONG, WIDE, HIGH)) - wall))


def over(graph, cell, places, cover=0.0, radius=0.0, **how):
    """Both figures of a cell for balls about places."""
    up, points = charts.centres(cell), charts.hulls(cell)
    v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
    places = np.atleast_2d(places)
    edges = edges_along(places, radius, cover, up)
    return need_over(graph, up, points, places, edges, edges_along(places, radius, cover, v), **how)


def cell_of(low, high, heading=(0.0, 0.0)):
    """Slopes and headings [deg]; the x axis points uphill at heading 0."""
    return charts.Cells(np.array([UPWARDS], np.int8), np.radians([[low, high, *heading]]))


def weir_need(slope, place):
    """F [m³] of a place in the far bay, the x axis uphill by ``slope`` [deg]: written out.

    The near bay is full to the far edge of the weir's crest, the far bay holds a wedge behind it.
    """
    tan = np.tan(np.radians(slope))
    near = AT * WALL + 0.5 * tan * (AT + THICK) ** 2  # a thin wedge of it over the crest
    depth = place[2] + (place[0] - AT - THICK) * tan
    return WIDE * (near + depth**2 / (2.0 * tan))


PLACE = np.array([0.6, 0.2, 0.02])


@pytest.mark.parametrize("slope", [8.0, 12.0, 20.0])
def test_at_one_attitude_it_is_the_closed_form_of_a_weir(slope):
    found = over(two_bays(), cell_of(slope, slope), PLACE)
    assert found.at_centre[0, 0] == pytest.approx(weir_need(slope, PLACE), rel=1e-12)
    assert found.over_cell[0, 0] == pytest.approx(weir_need(slope, PLACE), rel=1e-9)
    assert found.over_cell[0, 0] >= weir_need(slope, PLACE)


def test_the_bound_is_right_to_first_order():
    """Above the worst of the cell by what goes with the square of its width, and never below."""
    graph = two_bays()
    for half in (0.5, 0.1, 0.02):
        found = over(graph, cell_of(12.0 - half, 12.0 + half), PLACE).over_cell[0, 0]
        worst = weir_need(np.linspace(12.0 - half, 12.0 + half, 2001), PLACE).max()
        excess = (found - worst) / graph.capacity
        assert -1e-12 < excess < 5e-4 * half**2 + 1e-9


@pytest.mark.parametrize("name", list(TANKS))
def test_a_cell_that_shrinks_ends_at_the_attitude(name):
    graph = build_graph(*arrays(TANKS[name]()))
    low, high = graph.vertices.min(axis=0), graph.vertices.max(axis=0)
    place = graph.origin + low + [0.13, 0.13, 0.07] * (high - low)
    for heading in (0.0, 30.0, 90.0, 131.0):
        shrink = [
            over(graph, cell_of(14.0 - w, 14.0 + w, (heading - w, heading + w)), place, 0.02)
            for w in (0.2, 0.02, 0.0)
        ]
        if np.isnan(shrink[0].at_centre[0, 0]):
            continue
        excess = [(s.over_cell - s.at_centre)[0, 0] / graph.capacity for s in shrink]
        assert 0.0 <= excess[2] < 1e-9 < excess[1] < 0.2 * excess[0] + 1e-9


def test_mirror_images_have_one_bound():
    """Level ground is the middle of the cell: floors, crests and minima all tie."""
    graph = two_bays()
    cell = charts.Cells(np.array([charts.PROJECTED], np.int8), np.radians([[-2.0, 2.0, -2.0, 2.0]]))
    one = over(graph, cell, PLACE, 0.02).over_cell[0, 0]
    other = over(graph, cell, PLACE * [1, 0, 1] + [0.0, WIDE - 0.2, 0.0], 0.02).over_cell[0, 0]
    assert one == pytest.approx(other, rel=1e-9)
    held = WIDE * ((LONG - AT - THICK) * 0.04 + AT * WALL)
    assert held < one < 1.5 * held


def test_one_of_two_ports_needs_less_than_either():
    graph = two_bays()
    places = np.array([[0.1, 0.2, 0.01], [0.8, 0.2, 0.01]])
    level = cell_of(0.0, 0.0)
    depth, hollow = 0.03, WIDE * AT * WALL
    alone = over(graph, level, places, depth - 0.01).at_centre[0]
    far = LONG - AT - THICK
    assert alone == pytest.approx([WIDE * (AT * depth + far * WALL), WIDE * far * depth + hollow])
    both = over(graph, level, places, depth - 0.01, any_suffices=True)
    assert both.at_centre[0] == pytest.approx([WIDE * (AT + far) * depth])
    wide = cell_of(0.0, 4.0, (-20.0, 20.0))
    assert (over(graph, wide, places, 0.02).over_cell[0] >= alone).all()
    assert over(graph, wide, places, 0.02, any_suffices=True).over_cell[0] < alone.min()


def test_a_body_without_a_way_counts_full():
    """Two boxes apart, as a pipe would join them."""
    tank = box((0, 0, 0), (0.5, 0.4, 0.4)) + box((0.6, 0, 0), (1.0, 0.4, 0.4))
    found = over(build_graph(*arrays(tank)), cell_of(0.0, 0.0), [0.2, 0.2, 0.1])
    assert found.at_centre[0, 0] == pytest.approx(0.5 * 0.4 * 0.1 + 0.4**3)
    assert found.over_cell[0, 0] == pytest.approx(found.at_centre[0, 0], rel=1e-9)


def pipe(low, into, out):
    """A link between two places of the height ``low`` [m], with mouths of 20 mm that lie level."""
    ends = np.array([[*into, low], [*out, low]])
    disc = np.tile([0.01, 0.0, 0.0, 0.0, 0.01, 0.0], (2, 1))
    return Links(np.hstack([ends, disc]), ends, np.array([0, 1, 2]), np.array([0, 2]))


@pytest.mark.parametrize(("low", "edge"), [(0.05, 0.1), (0.15, 0.1)])
def test_through_a_pipe_a_body_counts_to_the_sill_or_the_edge(low, edge):
    """One way: what the far body holds runs to the port's down to its sill, and no way back."""
    tank = box((0, 0, 0), (0.5, 0.4, 0.4)) + box((0.6, 0, 0), (1.0, 0.4, 0.4))
    graph, place = build_graph(*arrays(tank)), np.array([0.2, 0.2, edge])
    to_port, from_port = pipe(low, (0.9, 0.2), (0.1, 0.2)), pipe(low, (0.1, 0.2), (0.9, 0.2))
    found = over(graph, cell_of(0.0, 0.0), place, links=to_port)
    need = 0.4 * (0.5 * edge + 0.4 * max(low, edge))
    assert found.at_centre[0, 0] == pytest.approx(need, rel=1e-12)
    assert found.over_cell[0, 0] == pytest.approx(need, rel=1e-9)
    full = 0.5 * 0.4 * edge + 0.4**3
    assert over(graph, cell_of(0.0, 0.0), place, links=from_port).at_centre[0, 0] == pytest.approx(
        full
    )
    wider = [
        over(graph, cell_of(9.0 - w, 9.0 + w, (30.0 - w, 30.0 + w)), place, links=to_port)
        for w in (0.2, 0.02, 0.002)
    ]
    excess = [(w.over_cell - w.at_centre)[0, 0] / graph.capacity for w in wider]
    assert 0.0 <= excess[2] < 0.2 * excess[1] < 0.04 * excess[0] + 1e-9


def test_what_cannot_be_bounded_is_told():
    graph = two_bays()
    outside = over(graph, cell_of(5.0, 6.0), [0.5, 0.2, -0.2])
    assert np.isnan(outside.at_centre).all()
    assert np.isinf(outside.over_cell).all()
    up = np.array([[0.0, 0.0, 1.0]])
    behind = np.array([[[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]]])
    edges = np.zeros((1, 2, 1))
    assert np.isinf(need_over(graph, up, behind, PLACE[None], edges[:, 0], edges).over_cell).all()


def test_above_the_top_it_is_the_whole_tank():
    graph = two_bays()
    found = over(graph, cell_of(3.0, 4.0, (-2.0, 2.0)), PLACE, cover=5.0)
    assert found.at_centre[0, 0] == pytest.approx(graph.capacity)
    assert found.over_cell[0, 0] == pytest.approx(graph.capacity)


def test_no_attitude_in_a_cell_needs_more():
    """A sample of ``python -m tests.campaign_worst_state_bounds``: random walled tanks and floods by hand."""
    _, tally = campaign(seed=5, seconds=6.0, cells=3, looks=30, slow=4)
    assert tally.violations == []
    assert tally.by_hand > 100
    assert tally.centre < 1e-6


@pytest.mark.parametrize("seed", range(5))
def test_in_small_tanks_no_attitude_needs_more(seed):
    """Two weirs or a shelf, links of every kind, the same cells at each run: by hand."""
    rng = np.random.default_rng(seed)
    tank = box((0.0, 0.0, 0.0), (LONG, WIDE, HIGH))
    for at in rng.uniform(0.2, 0.8, 2):
        tank -= box((at, -1.0, -1.0), (at + THICK, 1.0, rng.uniform(0.05, 0.25)))
    if seed % 2:
        tank -= box((0.3, 0.1, 0.15), (1.5, 1.0, 0.16))
    tally = attack(rng, *arrays(tank), 5, 8, 3, NOTHING_SEEN._replace(violations=[], excess=[]))
    assert tally.violations == []
    assert tally.centre < 1e-6
    assert tally.by_hand > 20


def test_a_hollow_that_parts_further_in_is_held_by_the_crest_that_rises():
    """Level, a long floor runs down from the brim; tilted, its middle stands above the brim and holds more."""
    profile = [(-1.0, 0.15), (0.0, 0.15), (0.3, 0.198), (0.6, 0.2)]
    solid = box((0.0, 0.0, 0.0), (2.0, WIDE, HIGH))
    for (x0, z0), (x1, z1) in itertools.pairwise(profile):
        solid -= Solid.hull_points(
            [(x, y, z) for x, top in ((x0, z0), (x1, z1)) for y in (-1.0, 1.0) for z in (-1.0, top)]
        )
    graph, place = build_graph(*arrays(solid)), [0.62, 0.2, 0.05]
    needs = [over(graph, cell_of(s, s, (180.0, 180.0)), place).at_centre for s in (0.0, 0.3, 0.6)]
    found = over(graph, cell_of(0.0, 0.6, (180.0, 180.0)), place)
    assert found.at_centre == pytest.approx(needs[1], rel=1e-9)
    assert found.over_cell[0, 0] >= np.max(needs) - 1e-12
    rise = [0.3 * np.sin(np.radians(slope)) for slope in (0.3, 0.6)]
    assert rise[0] < 0.2 - 0.198 < rise[1], (
        "the middle stands higher at the far end, not at the centre"
    )
