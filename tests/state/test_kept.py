"""What a bay keeps for certain: closed forms, and drives that cannot take more out of it."""

import math

import numpy as np
import pytest
from campaign_kept import drives_within, kept_of

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.pools.kept import least_kept
from tanksolve.kernel.pools.settle import settle
from tanksolve.model.ports import pickup
from tanksolve.state.conditions import Conditions
from tanksolve.state.kept import kept_out_to

# Two bays 500 x 400 mm, a wall 200 mm high between them, 20 L in each
WIDTH, WALL = 0.4, 0.2
PARTS = Parts(
    box(1.006, WIDTH, 0.3), (), (Baffle("wall", "across", 0.5, 0.006, gaps={"top": 0.1}),)
)
TANK, BAYS = build(PARTS), bays_of(PARTS)
FRONT = 1
PORT = pickup("p", (0.556, 0.2, 0.015), cover=0.0)
GATE = [(0.50601, y, z) for y in (1e-5, WIDTH - 1e-5) for z in (WALL, 0.29999)]


def kept_at(slope, heading):
    up = up_from_slope_heading(np.array([slope]), np.array([heading]))
    return float(least_kept(BAYS.bays[FRONT].graph, GATE, up)[0])


@pytest.mark.parametrize("degrees", [22.0, 25.0, 35.0, 50.0])
def test_uphill_of_its_wall_a_bay_keeps_the_wedge_below_the_wall(degrees):
    """W a² / (2 tan b): the triangle behind a wall of height a (closed form, derived for this project)."""
    slope = math.radians(degrees)
    wedge = WIDTH * WALL**2 / (2.0 * math.tan(slope))
    assert kept_at(slope, 0.0) == pytest.approx(wedge, rel=2e-4)


def test_a_gentler_slope_leaves_the_floor_covered_too():
    slope = math.radians(15.0)
    length = 0.5
    section = length * (WALL - 0.5 * length * math.tan(slope))
    assert kept_at(slope, 0.0) == pytest.approx(WIDTH * section, rel=2e-4)


def test_over_a_cell_no_attitude_keeps_less_than_told():
    rng = np.random.default_rng(3)
    up = up_from_slope_heading(rng.uniform(0.0, 0.6, 40), rng.uniform(0.0, 6.28, 40))
    hulls = up[:, None] + rng.uniform(0.001, 0.05, (40, 1, 1)) * rng.uniform(-1, 1, (40, 6, 3))
    told = least_kept(BAYS.bays[FRONT].graph, GATE, up, hulls)
    assert (told > 0.0).sum() > 20
    for corner in range(6):
        there = hulls[:, corner] / np.linalg.norm(hulls[:, corner], axis=1, keepdims=True)
        assert np.all(least_kept(BAYS.bays[FRONT].graph, GATE, there) >= told - 1e-12)


def test_no_drive_inside_the_limit_bares_the_port():
    """Without the credit it is not kept on level ground: all 40 L may stand behind the wall."""
    conditions = Conditions.of(TANK, [PORT], 0.04)
    assert not conditions.held(np.array([[0.0, 0.0, 1.0]])).any()
    found = kept_out_to(conditions, BAYS, math.radians(60.0))
    assert 10.0 < found.slope_deg < 30.0
    rng = np.random.default_rng(5)
    inside = math.radians(found.slope_deg)
    slopes, headings = inside * rng.uniform(0.6, 1.0, (30, 8)), rng.uniform(0.0, 6.28, (30, 8))
    level = np.broadcast_to([0.0, 0.0, 1.0], (30, 1, 3))
    paths = np.concatenate([level, up_from_slope_heading(slopes, headings)], axis=1)
    place = TANK.seated(PORT.position)
    states = settle(TANK.graph, paths, 0.04, [place])
    edge = paths @ np.array(PORT.position)
    assert np.nanmin(states.port_level[..., 0] - edge) >= 0.0
    below = volumes(BAYS.bays[FRONT].tree, paths.reshape(-1, 3), states.port_level.ravel())[0]
    assert below.min() >= found.kept_m3["p"] - 1e-9
    # well beyond it a drive straight up takes more out than is kept
    steep = np.array([[[0.0, 0.0, 1.0], [math.sin(0.7), 0.0, math.cos(0.7)]]])
    there = settle(TANK.graph, steep, 0.04, [place]).port_level[0, -1:, 0]
    assert volumes(BAYS.bays[FRONT].tree, steep[0, -1:], there)[0][0] < found.kept_m3["p"]


def test_what_is_kept_lasts_as_long_as_a_flow_takes_it_to_the_edge():
    """60 L/min out of the front bay, nothing back: what it keeps less what the port needs, at samples."""
    flow = 0.001
    drawn = pickup("p", PORT.position, cover=0.0, flow=flow)
    found = kept_out_to(Conditions.of(TANK, [drawn], 0.04), BAYS, math.radians(60.0))
    half = math.radians(found.lasts_to_deg)
    assert half == pytest.approx(0.5 * math.radians(found.slope_deg))
    up = up_from_slope_heading(np.full(360, half), np.radians(np.arange(360.0)))
    kept = np.minimum(least_kept(BAYS.bays[FRONT].graph, GATE, up), 0.02).min()
    alone = Conditions.of(BAYS.bays[FRONT], [PORT], 0.02)
    exact = (kept - alone.needs(alone.groups, up).max()) / flow
    assert exact * 0.97 <= found.lasts_s["p"] <= exact + 1e-6
    assert not kept_out_to(Conditions.of(TANK, [PORT], 0.04), BAYS, math.radians(60.0)).lasts_s


@pytest.mark.parametrize("seed", [0, 3])
def test_random_drives_inside_what_is_told_leave_the_port_covered(seed):
    """A sample of ``campaign_kept``; well beyond what is told they do not."""
    tank, port, fill, kept = kept_of(seed)
    assert drives_within(tank, port, fill, kept.slope_deg, 20, seed).bare == 0


def test_the_drives_find_a_slope_that_is_too_steep():
    tank, port, fill, kept = kept_of(0)
    assert drives_within(tank, port, fill, 2.0 * kept.slope_deg, 40, 0).bare > 0
