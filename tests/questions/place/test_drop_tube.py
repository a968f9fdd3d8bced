"""A proposed tube as thick as it is: clear of walls, plates and ports, through the wall that is there."""

import math

import numpy as np
import pytest

from tanksolve.errors import PortError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.internals import rod
from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.ports import pickup
from tanksolve.questions.place.drop_tube import DropTube, TubeLimits, outside_of

BOX = box(0.9, 0.3, 0.3)
BORE = 0.036
R = 0.5 * outside_of(BORE)
REAR = TubeLimits("rear", height=0.25, run=0.5, drop=0.24)


def tube_to(tank, place, limits=None, **options):
    return DropTube.to(tank, np.array(place), limits, BORE, **options)


def test_a_straight_tube_has_the_room_to_the_nearest_wall():
    found = tube_to(BOX, (0.4, 0.1, 0.03))
    assert found.leaves_m == pytest.approx((0.4, 0.1, 0.3))
    assert (found.run_m, found.drop_m, found.bend_m) == (0.0, pytest.approx(0.27), None)
    assert found.clear
    assert found.clearance_m == pytest.approx(0.03 - R, abs=5e-4)  # its end, over the floor


def test_a_bent_tube_tells_where_it_bends():
    found = tube_to(BOX, (0.4, 0.15, 0.05), REAR)
    assert found.leaves_m == pytest.approx((0.0, 0.15, 0.25))
    assert found.bend_m == pytest.approx((0.4, 0.15, 0.25))
    assert (found.run_m, found.drop_m) == pytest.approx((0.4, 0.2))
    assert found.clear


def test_a_plate_that_the_centre_line_misses_by_less_than_the_tube_is_in_the_way():
    """The hole in the plate is wide enough for the line, not for the tube."""
    plate = Baffle("plate", "across", 0.2, 0.004, gaps={"top": 0.06})
    tank = build(Parts(BOX, baffles=(plate,)))
    found = tube_to(tank, (0.4, 0.15, 0.05), REAR)
    assert pytest.approx(found.clearance_m, abs=5e-4) == 0.01 - R  # 10 mm over the plate's top
    assert not found.clear
    assert found.near == "a wall or plate"
    assert tube_to(tank, (0.4, 0.15, 0.05), TubeLimits("rear", 0.268, 0.5, 0.26)).clear


def test_a_rod_between_two_looks_is_not_stepped_over():
    """A rod of 4 mm across the way: 25 looks along the line, as before, fall on either side of it."""
    tank = build(Parts(BOX, internals=(rod("thin", (0.207, 0.0, 0.25), 0.004, 0.3, "across"),)))
    assert not tube_to(tank, (0.4, 0.15, 0.05), REAR).clear


def test_another_port_is_kept_clear_of():
    other = pickup("return end", (0.2, 0.15, 0.21), bore=0.03)
    found = tube_to(BOX, (0.4, 0.15, 0.05), REAR, others=[other])
    assert found.near == "'return end'"
    assert found.clearance_m == pytest.approx(0.04 - 0.015 - R, abs=1e-9)


def test_the_hole_is_on_the_wall_and_not_on_the_box_about_it():
    tank = cylinder(0.4, 1.0, chord_tolerance=1e-4)
    x, y, z = (float(c) for c in tank.centre)
    at = TubeLimits("right", height=0.3, run=0.3, drop=0.2)
    hole = tube_to(tank, (x, y, z - 0.05), at).leaves_m
    side = y - math.sqrt(0.2**2 - 0.1**2)
    assert hole[1] == pytest.approx(side, abs=2e-4)
    roof = tube_to(tank, (x, y + 0.1, z - 0.05)).leaves_m
    assert roof[2] == pytest.approx(z + math.sqrt(0.2**2 - 0.1**2), abs=2e-4)


def test_a_line_that_meets_no_wall_is_refused():
    with pytest.raises(PortError, match="no wall"):
        tube_to(BOX, (0.4, 0.15, 0.05), TubeLimits("rear", height=0.4, run=0.5, drop=0.4))
