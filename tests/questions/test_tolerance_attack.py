"""Tanks with every wall, opening, fill and reading off at random, and as badly as a search finds: none lost."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.internals import block
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import (
    inclinometer_from_up,
    up_from_inclinometer,
    up_from_slope_heading,
)
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.tolerance.tolerance import Tolerances, tolerances
from tanksolve.state.conditions import Conditions

OFF = Tolerances(fill=0.001, position=0.002, walls=0.0015, gauge=0.5)


def tank_with(hump=True, **plate):
    inside = (block("hump", (0.35, 0.1, 0.0), 0.2, 0.2, 0.12),) if hump else ()
    baffles = (Baffle(thickness=0.006, stands="across", **plate),) if plate else ()
    return build(Parts(box(0.9, 0.4, 0.3), baffles=baffles, internals=inside))


def moved(tank, shift_of):
    """The tank with each plane square to an axis moved: ``shift_of[axis]`` by place on that axis."""
    vertices = tank.vertices.copy()
    for axis, shifts in enumerate(shift_of):
        at = np.array(sorted(shifts))
        vertices[:, axis] += np.interp(tank.vertices[:, axis], at, [shifts[x] for x in at])
    return replace(tank, vertices=vertices)


def planes(tank):
    """Places of the walls square to each axis, and that no face is slanted."""
    a, b, c = np.moveaxis(tank.vertices[tank.faces], 1, 0)
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    assert np.allclose(np.abs(normal).max(axis=1), 1.0)
    along = np.abs(normal).argmax(axis=1)
    return [sorted(set(a[along == axis, axis].tolist())) for axis in range(3)]


CASES = {
    "hump": (tank_with(), pickup("p", (0.08, 0.2, 0.03), cover=0.01), 0.04),
    "weir": (
        tank_with(False, name="weir", at=0.45, gaps={"top": 0.2}),
        pickup("p", (0.3, 0.2, 0.03), cover=0.01),
        0.05,
    ),
    "gap": (
        tank_with(name="plate", at=0.7, gaps={"bottom": 0.03}),
        pickup("p", (0.8, 0.2, 0.03), cover=0.01),
        0.05,
    ),
    "breather": (
        tank_with(name="hung", at=0.3, gaps={"bottom": 0.15}),
        breather("b", (0.15, 0.2, 0.3), cover=0.0),
        0.06,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_nothing_off_by_its_tolerance_loses_what_is_told(name):
    """The worst of all walls, found plane by plane, at the corners of the instrument's error."""
    tank, port, fill = CASES[name]
    found = tolerances(tank, [port], fill, OFF, search_to_deg=40.0)
    lost_beyond = 0
    for row in found.limits[:4]:
        limit = 40.0 if row.adverse_deg is None else row.adverse_deg
        assert limit > 0.0
        for corner in np.radians(OFF.gauge) * np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]]):
            for share in (1.0, 0.6):
                assert worst_lack(name, _read(share * limit, row.side, corner)) <= 0.0
            beyond = _read(limit + 6.0, row.side, corner)
            lost_beyond += row.adverse_deg is not None and worst_lack(name, beyond) > 0.0
    assert lost_beyond > 0  # the limits are not so low that nothing could fail


def test_nor_does_anything_at_random_all_round():
    tank, port, fill = CASES["gap"]
    worst = tolerances(tank, [port], fill, OFF, search_to_deg=40.0).limits[-1].adverse_deg
    rng = np.random.default_rng(7)
    for _ in range(40):
        way = rng.normal(size=3)
        place = np.array(port.position) + OFF.position * way / np.linalg.norm(way)
        shifts = [{x: rng.uniform(-1, 1) * OFF.walls for x in at} for at in planes(tank)]
        amount = fill + rng.uniform(-1, 1) * OFF.fill
        headings = np.radians(rng.uniform(0.0, 360.0, 20))
        level = up_from_slope_heading(np.full(20, math.radians(worst)), headings)
        readings = np.stack(inclinometer_from_up(level), axis=-1)
        readings += math.radians(OFF.gauge) * rng.choice([-1.0, 1.0], size=(20, 2))
        moved_port = replace(port, position=tuple(place))
        assert lack(moved(tank, shifts), moved_port, amount, up_from_inclinometer(*readings.T)) <= 0


def worst_lack(name, up):
    """The most liquid or room that is missing [m³], each plane put where more is missing."""
    tank, port, fill = CASES[name]
    wet = port.kind.value == "pickup"
    at = np.array(port.position) + (OFF.position if wet else -OFF.position) * up
    if not wet:  # it comes with its wall
        at[2] -= OFF.walls
    judged = replace(port, position=tuple(at))
    amount = fill + (-OFF.fill if wet else OFF.fill)
    shifts = [dict.fromkeys(places, 0.0) for places in planes(tank)]
    for axis in shifts:
        for place in axis:
            each = {}
            for axis[place] in (-OFF.walls, OFF.walls):
                each[axis[place]] = lack(moved(tank, shifts), judged, amount, up[None])
            axis[place] = max(each, key=each.get)
    return lack(moved(tank, shifts), judged, amount, up[None])


def lack(tank, port, amount, up):
    """Liquid or room [m³] that a port misses at the worst of some attitudes."""
    conditions = Conditions(tank, Fill.of(amount), (port,), ((0,),), (port,))
    return float((conditions.needs([(0,)], up) - conditions.amounts([(0,)])).max())


def _read(reading_deg, side, off):
    """The attitude that a reading on one axis stands for with both axes off [rad]."""
    axis = {
        "nose up": (1, 0),
        "nose down": (-1, 0),
        "left side down": (0, -1),
        "right side down": (0, 1),
    }[side]
    return up_from_inclinometer(*(math.radians(reading_deg) * np.array(axis) + off))
