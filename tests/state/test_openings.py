"""Places of a dry port all over a cell: how far the lowest point moves, and what bounds rest on it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from random_walled_tanks import random_case

from tanksolve.kernel.attitude.cells import SLOPE_HEADING, Cells, centres, hulls
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.worst_state import need, room
from tanksolve.model.ports import Rule, breather, pickup
from tanksolve.project.load import loads
from tanksolve.state.conditions import Conditions
from tanksolve.state.openings import dry_fixed, dry_places, dry_places_over


def cells_about(rng, count, widest=0.3):
    """Cells of slope and heading, 1e-4 rad to ``widest`` wide."""
    wide = widest * 10.0 ** rng.uniform(-3.0, 0.0, (count, 2))
    low = rng.uniform(0.0, [0.9, 6.0], (count, 2))
    return np.stack([low[:, 0], low[:, 0] + wide[:, 0], low[:, 1], low[:, 1] + wide[:, 1]], axis=-1)


def inside(rng, cell, count=12):
    """Up vectors of attitudes in a cell: its corners too."""
    s, t = np.vstack([rng.random((count, 2)), [[0, 0], [0, 1], [1, 0], [1, 1]]]).T
    return up_from_slope_heading(
        cell[0] + s * (cell[1] - cell[0]), cell[2] + t * (cell[3] - cell[2])
    )


def near_walls(tank, rng, tries, count):
    """The ``count`` of random places in the liquid that are nearest to a wall."""
    places = rng.uniform(tank.lower, tank.upper, (tries, 3))
    places = places[tank.winding(places) > 0.5]
    return places[np.argsort([tank.distance_to_wall(place) for place in places])[:count]]


@pytest.mark.parametrize("facing", [(0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.6, -0.3, 0.4), None])
def test_the_lowest_point_stays_within_what_is_told(facing):
    tank, rng = random_case(14).tank, np.random.default_rng(3)
    middle = 0.5 * (tank.lower + tank.upper)
    port = breather("b", middle, bore=0.03, facing=facing)
    fixed = dry_fixed(tank, port, all_round=False)
    box = cells_about(rng, 60)
    cells = Cells(np.full(len(box), SLOPE_HEADING, np.int8), box)
    places, moves = dry_places_over(tank, port, centres(cells), hulls(cells), fixed)
    used = np.zeros(len(box))
    for k, cell in enumerate(box):
        lowest = dry_places(port, inside(rng, cell), fixed)[:, 0]
        far = np.linalg.norm(lowest - places[k, 0], axis=1).max()
        assert far <= moves[k, 0] + 1e-12
        used[k] = far / moves[k, 0]
    assert np.median(used) > 0.2, "not a blunt bound"
    assert (moves[:, len(places[0]) - 1] == 0.0).all()


def test_rims_outside_the_tank_do_not_count():
    tank = random_case(14).tank
    wall = np.array([0.5 * (tank.lower[0] + tank.upper[0]), tank.lower[1], 0.9 * tank.upper[2]])
    port = breather("b", wall + np.array([0.0, 0.004, 0.0]), bore=0.02, facing=(1.0, 0.0, 0.0))
    every = dry_fixed(tank, port, all_round=True)
    assert 4 <= len(every) < 9
    assert (tank.winding(every) > 0.5).all()
    whole = breather("b", port.position, bore=0.002, facing=(1.0, 0.0, 0.0))
    assert len(dry_fixed(tank, whole, all_round=False)) == 1


def needs_are_bounded(tank, port, rng):
    """No attitude in a cell needs more than the bound over it."""
    conditions = Conditions.of(tank, [port], 0.5 * tank.capacity)
    box = cells_about(rng, 5, widest=0.1)
    cells = Cells(np.full(len(box), SLOPE_HEADING, np.int8), box)
    over = conditions.needs(conditions.groups, centres(cells), hulls(cells))[:, 0]
    for k, cell in enumerate(box):
        at = conditions.needs(conditions.groups, inside(rng, cell, 4))[:, 0]
        assert at.max() <= over[k] + 1e-7 * tank.capacity


@pytest.mark.parametrize("seed", [8, 32, 36, 14])
@pytest.mark.parametrize("clear", [0.0, 0.03])
def test_no_attitude_in_a_cell_needs_more_air(seed, clear):
    """Openings close to walls and crests, cut by them now and then; each cell against attitudes in it."""
    tank, rng = random_case(seed).tank, np.random.default_rng(seed)
    for place in near_walls(tank, rng, 60, 3):
        facing = None if rng.random() < 0.3 else tuple(rng.normal(size=3))
        port = breather("b", tuple(place), bore=0.03, facing=facing, cover=clear, rule=Rule.DRY)
        needs_are_bounded(tank, port, rng)


@pytest.mark.parametrize("seed", [8, 32, 36])
@pytest.mark.parametrize("clear", [0.0, 0.03])
def test_no_attitude_in_a_cell_has_less_margin_than_the_bound(seed, clear):
    """Other floors than that below the middle come to lie below an opening in the cell."""
    tank, rng = random_case(seed).tank, np.random.default_rng(seed)
    for place in near_walls(tank, rng, 120, 6):
        facing = tuple(rng.normal(size=3))
        port = breather("b", tuple(place), bore=0.03, facing=facing, cover=clear, rule=Rule.DRY)
        conditions = Conditions.of(tank, [port], 0.3 * tank.capacity)
        box = cells_about(rng, 5, widest=0.1)
        cells = Cells(np.full(len(box), SLOPE_HEADING, np.int8), box)
        within = conditions.margins_within(centres(cells), hulls(cells))[:, 0]
        for k, cell in enumerate(box):
            at = conditions.margins(inside(rng, cell, 8)[:, None])[:, 0, 0]
            assert at.min() >= within[k] - 1e-9


TEXT = (Path(__file__).parents[2] / "meshes" / "two_bays.toml").read_text()
BAYS = loads(TEXT.replace('at = "497 mm"', 'at = "297 mm"')).tank  # a plate of 6 mm
BESIDE = np.array([[0.296, 0.2, 0.15], [0.304, 0.2, 0.15]])  # places on either side of it
WALLS = 0.297, 0.303


@pytest.mark.parametrize("x", [0.290, 0.296, 0.304, 0.310])
def test_an_opening_that_a_plate_cuts_stands_in_both_bays(x):
    """Wherever its middle is. Only the middle counted once: which bay it was in decided."""
    up = up_from_slope_heading(np.radians([8.0, 8.0, 3.0]), np.radians([0.0, 180.0, 77.0]))
    common = {"bore": 0.038, "facing": "down", "cover": 0.0}
    wet, dry = pickup("p", (x, 0.2, 0.15), **common), breather("b", (x, 0.2, 0.15), **common)
    asked = [Conditions.of(BAYS, [port], 0.04) for port in (wet, dry)]
    wet_need, dry_need = (one.needs(one.groups, up)[:, 0] for one in asked)
    high = asked[0].edge(0, up)[:, None]
    sides = [need(BAYS.graph, up, place[None], high) for place in BESIDE]
    np.testing.assert_allclose(wet_need, np.maximum(*sides), atol=1e-9)
    assert abs(sides[0] - sides[1]).max() > 0.002, "the bays differ"
    rooms = np.full(len(up), np.inf)
    for turn in np.radians(np.arange(0.0, 360.0, 0.5)):  # each point of the rim by itself
        spot = np.array([x + 0.019 * np.cos(turn), 0.2 + 0.019 * np.sin(turn), 0.15])
        if not WALLS[0] <= spot[0] <= WALLS[1]:
            rooms = np.minimum(rooms, room(BAYS.graph, up, spot[None], (up @ spot)[:, None]))
    assert (dry_need >= BAYS.capacity - rooms - 1e-9).all()
    assert (dry_need <= BAYS.capacity - rooms + 1e-3).all(), (
        "no more than the whole opening's lowest"
    )


@pytest.mark.parametrize("x", [0.280, 0.290, 0.296, 0.304, 0.310])
def test_an_outline_that_a_plate_cuts_stands_in_both_bays(x):
    """An oblong opening across a plate: each point of it by itself, against its corners and ends at walls."""
    up = up_from_slope_heading(np.radians([8.0, 8.0, 3.0]), np.radians([0.0, 180.0, 77.0]))
    sides = np.array([0.03, 0.01])
    rim = tuple((a * sides[0], b * sides[1], 0.0) for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1)))
    common = {"bore": 0.0633, "facing": "down", "cover": 0.0}
    wet = replace(pickup("p", (x, 0.2, 0.15), **common), rim=rim)
    dry = replace(breather("b", (x, 0.2, 0.15), **common), rim=rim)
    asked = [Conditions.of(BAYS, [port], 0.04) for port in (wet, dry)]
    wet_need, dry_need = (one.needs(one.groups, up)[:, 0] for one in asked)
    high = asked[0].edge(0, up)[:, None]
    both = [need(BAYS.graph, up, place[None], high) for place in BESIDE]
    np.testing.assert_allclose(wet_need, np.maximum(*both), atol=1e-9)
    rooms = np.full(len(up), np.inf)
    for s, t in np.stack(np.meshgrid(*2 * [np.linspace(-1.0, 1.0, 41)]), axis=-1).reshape(-1, 2):
        spot = np.array([x + s * sides[0], 0.2 + t * sides[1], 0.15])
        if not WALLS[0] <= spot[0] <= WALLS[1]:
            rooms = np.minimum(rooms, room(BAYS.graph, up, spot[None], (up @ spot)[:, None]))
    assert (dry_need >= BAYS.capacity - rooms - 1e-9).all()
    assert (dry_need <= BAYS.capacity - rooms + 1e-3).all(), (
        "no more than the whole opening's lowest"
    )


def test_a_bay_between_two_plates_counts_though_no_corner_of_an_outline_is_in_it():
    plate = TEXT[TEXT.index("[[baffle]]") : TEXT.index("[[port]]")]
    second = plate.replace("low wall", "second").replace("497 mm", "447 mm")
    tank = loads(TEXT.replace(plate, plate + second)).tank
    rim = tuple(
        (a, b, 0.0) for a, b in ((0.12, 0.01), (-0.06, 0.01), (-0.06, -0.01), (0.12, -0.01))
    )
    common = {"bore": 0.24, "facing": "down", "cover": 0.0}
    at = (0.43, 0.2, 0.15)  # from 370 to 550 mm: the narrow bay is from 453 to 497
    wet, dry = (replace(make("p", at, **common), rim=rim) for make in (pickup, breather))
    up = up_from_slope_heading(np.radians([6.0, 6.0, 3.0]), np.radians([0.0, 180.0, 77.0]))
    wet_asked, dry_asked = (Conditions.of(tank, [port], 0.04) for port in (wet, dry))
    between = np.array([0.47, 0.2, 0.15])
    high = wet_asked.edge(0, up)[:, None]
    alone = need(tank.graph, up, between[None], high)
    assert (wet_asked.needs(wet_asked.groups, up)[:, 0] >= alone - 1e-9).all()
    spots = [np.array([x, y, 0.15]) for x in (0.4531, 0.4969) for y in (0.19, 0.21)]
    low = np.min([room(tank.graph, up, s[None], (up @ s)[:, None]) for s in spots], axis=0)
    found = dry_asked.needs(dry_asked.groups, up)[:, 0]
    assert (found >= tank.capacity - low - 1e-4).all()


@pytest.mark.parametrize("clear", [0.0, 0.03])
def test_no_attitude_in_a_cell_needs_more_air_for_an_outline(clear):
    tank, rng = random_case(8).tank, np.random.default_rng(8)
    for place in near_walls(tank, rng, 60, 3):
        flat = rng.uniform(-0.03, 0.03, (5, 2))
        rim = tuple((float(a), float(b), 0.0) for a, b in flat)
        port = breather("b", tuple(place), facing="up", bore=0.09, cover=clear, rule=Rule.DRY)
        needs_are_bounded(tank, replace(port, rim=rim), rng)


def test_with_a_clearance_liquid_below_any_part_of_the_rim_counts():
    """A vent over the long bay, its rim 7 mm over the short one: there 19 L stand 160 mm deep, by hand.

    The vent's edge is at 250 mm, its clearance 100 mm. Over its middle alone they stand 68 mm deep.
    """
    vent = breather("b", (0.32, 0.2, 0.25), bore=0.06, facing="down", cover=0.1)
    level = np.array([[[0.0, 0.0, 1.0]]])
    margin = Conditions.of(BAYS, [vent], 0.019).margins(level)[0, 0, 0]
    assert margin == pytest.approx(0.25 - 0.1 - 0.019 / (0.4 * 0.297), abs=1e-9)
    assert margin < 0.0


def test_an_opening_whose_middle_is_in_a_plate_moves_as_far_as_it_is_seated():
    """Its places stand beside the plate, 3 mm off: what a bound rests on lies no further away than it tells."""
    port, rng = breather("b", (0.3, 0.2, 0.15), bore=0.05, facing="down"), np.random.default_rng(8)
    fixed = dry_fixed(BAYS, port, all_round=False)
    box = cells_about(rng, 20, widest=0.01)
    cells = Cells(np.full(len(box), SLOPE_HEADING, np.int8), box)
    places, moves = dry_places_over(BAYS, port, centres(cells), hulls(cells), fixed)
    for k, cell in enumerate(box):
        lowest = dry_places(port, inside(rng, cell), fixed)[:, 0]
        far = np.linalg.norm(lowest - places[k, 0], axis=1).max()
        assert 0.0029 < far <= moves[k, 0] + 1e-12


def test_a_rectangle_with_a_clearance_is_looked_at_along_its_sides():
    """Its middle, its corners, and each side's third points: all on the outline, none beyond it."""
    half = (0.03, 0.06)
    rim = tuple((x * half[0], y * half[1], 0.0) for x, y in ((1, 1), (-1, 1), (-1, -1), (1, -1)))
    port = replace(breather("b", (0.7, 0.2, 0.2), bore=0.2, facing="down", cover=0.02), rim=rim)
    found = dry_fixed(BAYS, port, all_round=True) - np.array(port.position)
    third = [(x * half[0] / 3.0, y * half[1]) for x in (1, -1) for y in (1, -1)]
    third += [(x * half[0], y * half[1] / 3.0) for x in (1, -1) for y in (1, -1)]
    expected = {(0.0, 0.0), *third, *((x, y) for x, y, _ in rim)}
    assert {tuple(np.round(place, 5) + 0.0) for place in found[:, :2]} == expected
    assert found[:, 2] == pytest.approx(0.0, abs=1e-6)
