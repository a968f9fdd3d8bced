"""The room below what must stay dry, all over a cell of attitudes: closed forms, limits, floods by hand."""

import itertools

import numpy as np
import pytest

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.links import NO_LINKS, Links
from tanksolve.kernel.pools.room_bounds import room_over
from tanksolve.kernel.pools.worst_state import room
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.campaign_room_bounds import campaign
from tests.flood_by_hand import Attitude, room_by_flood, ways_of
from tests.pool_tanks import TANKS, Solid, arrays, box

LONG, WIDE, HIGH = 1.0, 0.4, 0.4
AT, THICK, WALL = 0.5, 0.01, 0.2
FAR = LONG - AT - THICK


def two_bays():
    """A box with one weir; the far bay is the one with greater x."""
    wall = box((AT, -1.0, -1.0), (AT + THICK, 1.0, WALL))
    return build_graph(*arrays(box((0.0, 0.0, 0.0), (LONG, WIDE, HIGH)) - wall))


def cell_of(low, high, heading=(0.0, 0.0)):
    """Slopes and headings [deg]; the x axis points uphill at heading 0."""
    return charts.Cells(
        np.array([charts.SLOPE_HEADING], np.int8), np.radians([[low, high, *heading]])
    )


def over(graph, cell, place, clear=0.0, links=NO_LINKS, **how):
    """Room of a point and its bound over a cell."""
    up, points = charts.centres(cell), charts.hulls(cell)
    v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
    place = np.atleast_2d(place)
    edges_at = v @ place.T - clear * np.linalg.norm(v, axis=-1)[..., None]
    found = room_over(
        graph,
        up,
        points,
        place,
        up @ place.T - clear,
        edges_at,
        links,
        clearance=clear > 0.0,
        **how,
    )
    return found.at_centre[0, 0], found.over_cell[0, 0]


def wedge(slope, place):
    """Room [m³] of a place over the far bay, below the crest, the x axis uphill by ``slope`` [deg]."""
    tan = np.tan(np.radians(slope))
    return WIDE * (place[2] + (place[0] - AT - THICK) * tan) ** 2 / (2.0 * tan)


PLACE = np.array([0.55, 0.2, 0.06])


@pytest.mark.parametrize("slope", [15.0, 20.0, 30.0])
def test_at_one_attitude_it_is_the_wedge_behind_the_weir(slope):
    centre, bound = over(two_bays(), cell_of(slope, slope), PLACE)
    assert centre == pytest.approx(wedge(slope, PLACE), rel=1e-12)
    assert bound == pytest.approx(centre, rel=1e-8)
    assert bound <= centre


def test_the_bound_is_right_to_first_order():
    graph = two_bays()
    for half in (0.5, 0.1, 0.02):
        _, bound = over(graph, cell_of(20.0 - half, 20.0 + half), PLACE)
        least = wedge(np.linspace(20.0 - half, 20.0 + half, 2001), PLACE).min()
        assert -1e-12 < (least - bound) / graph.capacity < 5e-4 * half**2 + 1e-9


@pytest.mark.parametrize(
    ("height", "room"),
    [(0.15, WIDE * FAR * 0.15), (0.25, WIDE * (LONG * 0.25 - THICK * WALL)), (0.39, None)],
)
def test_bays_count_together_only_above_the_crest(height, room):
    centre, bound = over(two_bays(), cell_of(0.0, 0.0), [0.8, 0.2, height])
    room = WIDE * (LONG * height - THICK * WALL) if room is None else room
    assert centre == pytest.approx(room, rel=1e-12)
    assert bound == pytest.approx(room, rel=1e-8)


def test_below_a_floor_above_the_edge_there_is_no_room():
    centre, bound = over(two_bays(), cell_of(0.0, 1.0), [0.8, 0.2, 0.02], clear=0.05)
    assert bound == 0.0
    assert centre >= 0.0


@pytest.mark.parametrize("clear", [0.15, 0.3])
def test_a_crest_within_the_clearance_counts_as_the_edge_there(clear):
    """Straight over the weir: what stands as high as the crest, in the bay that it runs into, is no loss."""
    graph, place = two_bays(), [AT + 0.5 * THICK, 0.2, 0.3]
    bays = [WIDE * AT * WALL, WIDE * FAR * WALL]
    for half in (0.1, 0.01, 0.0):
        centre, bound = over(graph, cell_of(0.0, half), place, clear=clear)
        assert bound <= min(bays) + 1e-9
        assert bound >= min(bays) - 0.02 * np.radians(half) * 10.0 - 1e-9
        assert centre >= bound


def test_a_floor_that_rises_above_the_edge_further_on_does_not_matter():
    """Nose up, a floor runs on above the edge: its lowest corner is what the pool hangs together with."""
    graph, place, slope = two_bays(), np.array([0.8, 0.2, 0.05]), 20.0
    centre, bound = over(graph, cell_of(slope, slope), place, clear=0.08)
    up = np.array([np.sin(np.radians(slope)), 0.0, np.cos(np.radians(slope))])
    floor = up @ place - 0.05 / up[2]  # where the drop along up ends
    tan = np.tan(np.radians(slope))
    room = WIDE * ((floor / up[2] - (AT + THICK) * tan) ** 2) / (2.0 * tan)
    assert up @ place - 0.08 < floor
    assert centre == pytest.approx(room, rel=1e-6)  # drops land within 1e-8 of the size
    assert bound == pytest.approx(room, rel=1e-6)


def by_hand(graph, cell, place, clear, looks=15):
    """Least room by a flood, at attitudes all over a cell."""
    a, b = (
        axis.ravel()
        for axis in np.meshgrid(*(np.linspace(*cell.box[0, k], looks) for k in ([0, 1], [2, 3])))
    )
    vertices, faces = graph.vertices + graph.origin, graph.faces.astype(int)
    near, least = ways_of(faces, len(vertices)), np.inf
    for up in charts.ups(np.repeat(cell.chart, len(a)), a + 1e-7, b + 1e-7):
        flat = Attitude(vertices, faces, up)
        least = min(least, room_by_flood(flat, near, place, up @ place - clear))
    return least


def test_a_place_that_may_stand_over_either_bay_has_the_lesser_room():
    """Above the weir, with clearance: what the vertical meets turns with the attitude."""
    graph, place = two_bays(), np.array([AT - 0.02, 0.2, 0.3])
    wide = cell_of(0.0, 24.0, (160.0, 200.0))  # downhill to the weir
    _, fixed = over(graph, cell_of(0.0, 0.5), place, clear=0.15)
    _, either = over(graph, wide, place, clear=0.15)
    assert 0.9 * by_hand(graph, cell_of(0.0, 0.5), place, 0.15) < fixed
    assert 0.0 < either <= by_hand(graph, wide, place, 0.15) < fixed
    # over both bays at once, the edge far below the crest: the least of both
    spread = over(graph, cell_of(0.0, 0.0), place, clear=0.15, spread=0.05)[1]
    assert spread <= WIDE * FAR * 0.15


@pytest.mark.parametrize("radius", [0.0, 0.02])
def test_in_two_bays_no_attitude_has_less_room(radius):
    """Places about the weir, clearances down to its crest and the floor, steep cells too, by hand."""
    graph, rng = two_bays(), np.random.default_rng(12)
    vertices, faces = graph.vertices + graph.origin, graph.faces.astype(int)
    near, closest = ways_of(faces, len(vertices)), []
    for _ in range(60):
        place = np.array([AT + rng.normal(0.0, 0.06), 0.2 + rng.normal(0.0, 0.05), 0.0])
        place[2] = rng.uniform(WALL + 0.03, HIGH - 0.03)
        clear = rng.choice([0.02, 0.1, 0.3])
        wide = np.radians(20.0) * 10.0 ** rng.uniform(-2.5, 0.0, 2)
        low = rng.uniform(0.0, [0.9, 6.28])
        box = np.array([[low[0], low[0] + wide[0], low[1], low[1] + wide[1]]])
        cell = charts.Cells(np.array([charts.SLOPE_HEADING], np.int8), box)
        up, points = charts.centres(cell), charts.hulls(cell)
        v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
        size = np.linalg.norm(v, axis=-1)
        far = np.linalg.norm(v / size[..., None] - up[:, None], axis=-1).max()
        edge_at = v @ place - (radius + clear) * size
        found = room_over(
            graph, up, points, place - radius * up, up @ place[:, None] - radius - clear,
            edge_at[..., None], spread=radius * far, clearance=True,
        )  # fmt: skip
        s, t = np.vstack([rng.random((12, 2)), [[0, 0], [0, 1], [1, 0], [1, 1]]]).T
        for one in up_from_slope_heading(low[0] + s * wide[0], low[1] + t * wide[1]):
            flat, lowest = Attitude(vertices, faces, one), place - radius * one
            room = room_by_flood(flat, near, lowest, one @ lowest - clear)
            assert found.over_cell[0, 0] <= room + 1e-7
            closest.append(found.over_cell[0, 0] / max(room, 1e-12))
    assert np.median(closest) > 0.5, "not a blunt bound"


def flap(sill):
    """From the bay behind the weir to the one in front, at a height above the floor [m]."""
    mouths = np.array([[AT + THICK + 0.001, 0.2, sill], [AT - 0.001, 0.2, sill]])
    rings = np.hstack([mouths, np.zeros((2, 6))])
    return Links(rings, mouths, np.array([0, 1, 2]), np.array([0, 2]))


@pytest.mark.parametrize(
    ("sill", "joined"), [(0.05, True), (0.099, True), (0.101, False), (0.15, False)]
)
def test_a_link_adds_the_bay_that_it_leads_to_only_below_the_edge(sill, joined):
    graph, place = two_bays(), np.array([0.55, 0.2, 0.1])
    room = WIDE * 0.1 * (FAR + (AT if joined else 0.0))
    for half in (0.0, 0.02):
        centre, bound = over(graph, cell_of(0.0, half), place, links=flap(sill))
        assert centre == pytest.approx(room, rel=2e-2)
        assert bound == pytest.approx(room, rel=2e-2)
    # the other way round it adds nothing
    _, front = over(graph, cell_of(0.0, 0.0), np.array([0.45, 0.2, 0.1]), links=flap(sill))
    assert front == pytest.approx(WIDE * 0.1 * AT, rel=1e-6)


def test_a_link_that_may_lie_above_the_edge_in_the_cell_is_not_counted_on():
    """Nose down the flap stands lower than the place, nose up higher: over both only the own bay is sure."""
    graph, place, wide = two_bays(), np.array([0.9, 0.2, 0.1]), cell_of(0.0, 6.0, (-60.0, 60.0))
    _, bound = over(graph, wide, place, links=flap(0.09))
    _, without = over(graph, wide, place)
    assert bound >= without - 1e-12
    down = cell_of(0.0, 6.0, (150.0, 210.0))  # the far bay's place sinks below the flap
    _, bound = over(graph, down, place, links=flap(0.09))
    assert bound == pytest.approx(over(graph, down, place)[1], rel=1e-9)


def test_places_of_different_openings_do_not_share_what_is_known():
    graph = two_bays()
    low, high = np.array([0.8, 0.2, 0.05]), np.array([0.8, 0.2, 0.15])
    cell = cell_of(0.0, 0.0)
    up, points = charts.centres(cell), charts.hulls(cell)
    v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
    both = np.stack([low, high])
    found = room_over(graph, up, points, both, up @ both.T, v @ both.T, clearance=False)
    np.testing.assert_allclose(found.over_cell[0], WIDE * FAR * np.array([0.05, 0.15]), rtol=1e-6)


@pytest.mark.parametrize("name", list(TANKS))
def test_a_cell_that_shrinks_ends_at_the_attitude(name):
    graph = build_graph(*arrays(TANKS[name]()))
    low, high = graph.vertices.min(axis=0), graph.vertices.max(axis=0)
    place = graph.origin + low + [0.13, 0.13, 0.87] * (high - low)
    for heading in (0.0, 30.0, 131.0):
        centre, bound = np.transpose(
            [
                over(graph, cell_of(14.0 - w, 14.0 + w, (heading - w, heading + w)), place)
                for w in (0.02, 0.002, 0.0)
            ]
        )
        if np.isfinite(centre[0]):
            short = (centre - bound) / graph.capacity
            assert 0.0 <= short[2] < 1e-8
            assert short[1] < 0.2 * short[0] + 1e-8


def test_no_attitude_in_a_cell_has_less_room():
    """A sample of ``python -m tests.campaign_room_bounds``: random walled tanks and floods by hand."""
    _, tally = campaign(seed=4, seconds=4.0, cells=3, looks=6)
    assert tally.violations == []
    assert tally.by_hand > 100


def ridge(heights, cup=False):
    """A plateau from x = 0.6 to 0.8 m, with these heights at its ends and at 0.68 and 0.72 m, between two pits."""
    solid = box((0.0, 0.0, 0.0), (LONG, WIDE, HIGH))
    for (x0, z0), (x1, z1) in itertools.pairwise(zip((0.6, 0.68, 0.72, 0.8), heights, strict=True)):
        solid -= Solid.hull_points(
            [(x, y, z) for x, top in ((x0, z0), (x1, z1)) for y in (-1.0, 1.0) for z in (-1.0, top)]
        )
    if cup:  # over the low end of the plateau
        wall = box((0.61, 0.02, 0.17), (0.64, 0.1, 0.25))
        solid -= wall - box((0.613, 0.023, 0.175), (0.637, 0.097, 0.3))
    return build_graph(*arrays(solid))


def test_a_floor_that_falls_the_other_way_in_the_cell_counts():
    """Within the clearance a plateau stands above the edge; at the centre it falls to the large pit, at the
    cell's far end to the small one."""
    graph, place = ridge((0.280, 0.287, 0.291, 0.300)), [0.7, 0.2, 0.33]
    rooms = [
        over(graph, cell_of(s, s, (180.0, 180.0)), place, clear=0.08)[0]
        for s in np.linspace(0.0, 8.0, 9)
    ]
    centre, bound = over(graph, cell_of(0.0, 8.0, (180.0, 180.0)), place, clear=0.08)
    assert centre == pytest.approx(rooms[4], rel=1e-9)
    assert min(rooms) < 0.5 * centre, "the pit changes within the cell"
    assert bound <= min(rooms) + 1e-12


def test_a_cup_over_the_low_end_of_the_floor_below_is_not_screened():
    """The floor below fills the spread of the place; a cup over its low end, below its top, may lie under it."""
    graph, place = ridge((0.132, 0.199, 0.233, 0.300), cup=True), np.array([0.645, 0.06, 0.36])
    cell, spread = cell_of(1.0, 1.0), 0.012
    up, points = charts.centres(cell), charts.hulls(cell)
    edge = float(up[0] @ place) - 0.15
    edges, edges_at = np.array([[edge]]), np.full((1, points.shape[1], 1), edge)
    rooms = [
        room(graph, up, place[None] + [[dx, 0.0, 0.0]], edges)[0] for dx in (-0.011, 0.0, 0.011)
    ]
    assert rooms[0] < 0.1 * rooms[1]
    found = room_over(graph, up, points, place[None], edges, edges_at, spread=np.array([[spread]]))
    assert found.over_cell[0, 0] <= min(rooms) + 1e-12
