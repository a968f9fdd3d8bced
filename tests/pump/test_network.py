"""Bay networks against a solver written apart (``net_by_hand``), and in closed form.

36 of them here; 300, and that no limit is above what the network does, in tests/campaign_networks.py.
"""

from collections import Counter

import numpy as np
import pytest
from net_by_hand import FACTOR, HEIGHT, Net, compare
from running_by_hand import random_tank, try_tank
from scipy.optimize import brentq

from tanksolve.geometry.assemble import build
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.parts import box
from tanksolve.model.bays import Bays, Gap
from tanksolve.model.tank import Tank
from tanksolve.pump.flow_ports import return_flow
from tanksolve.pump.network import run_network
from tanksolve.pump.running import ReturnFlow


@pytest.mark.parametrize("seed", range(6))
def test_random_networks_against_root_finding(seed):
    rng = np.random.default_rng(seed)
    seen = Counter(compare(Net(rng), rng) for _ in range(3))
    assert seen["steady"] + seen["bare"] > 0


@pytest.mark.parametrize("seed", [2, 4, 6, 14])
def test_no_limit_is_above_what_the_network_does(seed):
    """Where a tank is told as held with the pump running, the bays come to rest with the pickup covered."""
    tried, least = try_tank(np.random.default_rng(seed), headings=2, starts=1)
    assert tried > 0
    assert least >= -1e-6


def test_a_bay_full_to_its_roof_takes_no_more():
    """Nose down the front bay is full to its roof: the rest stays behind, and no bay holds more than it can."""
    rng = np.random.default_rng(4)
    parts, ports, fill = random_tank(rng)
    flow = return_flow(build(parts), bays_of(parts), ports)
    up = np.array([-0.43830148, -0.06047661, 0.89679117])
    start = np.array([0.02, 0.055, 0.045, 0.0108])
    found = run_network(flow, up, start * fill / start.sum())
    assert found.steady
    room = np.array([bay.capacity for bay in flow.bays.bays])
    assert np.all(found.volumes_m3 <= room * (1.0 + 1e-3))
    assert found.volumes_m3[3] > room[3]


def pair(flow_m3_s=0.001, sill=0.0, area=(0.1, 0.02)):
    """Two bays of 0.3 x 0.4 m with a slot; the return in the first, the pickup in the second."""
    bays = [box(0.3, 0.4, HEIGHT)]
    bays.append(Tank("bay", bays[0].vertices + np.array([0.31, 0.0, 0.0]), bays[0].faces))
    wide, high = area
    at = np.array([0.305, 0.1, sill])
    a, b, c, d = (
        at + np.array([0.0, y, z]) for y, z in ((0, 0), (wide, 0), (wide, high), (0, high))
    )
    gap = Gap("slot", (0, 1), np.array([[a, b, c], [a, c, d]]), 0.0)
    return ReturnFlow(bays[0], Bays(tuple(bays), (gap,)), (0,), {"p": 1}, {"p": flow_m3_s})


UP = np.array([0.0, 0.0, 1.0])


def test_a_drowned_slot_takes_the_orifice_head():
    found = run_network(pair(), UP, np.array([0.024, 0.024]))
    assert found.steady
    assert found.levels_m[0] - found.levels_m[1] == pytest.approx(
        (0.001 / (FACTOR * 0.002)) ** 2, rel=1e-5
    )
    assert found.through[0, 1] == pytest.approx(0.001, rel=1e-6)
    assert found.imbalance_m3_s < 1e-9


def test_a_bay_that_the_pump_empties_is_dry_in_so_many_seconds():
    """A wall up to 450 mm: nothing comes over, and 24 L less what is under the mouth last 19 s."""
    found = run_network(pair(sill=0.45), UP, np.array([0.024, 0.024]), {"p": 0.04})
    assert not found.steady
    assert found.bare == "p"
    assert found.seconds == pytest.approx((0.024 - 0.3 * 0.4 * 0.04) / 0.001, rel=1e-6)


def test_what_is_behind_a_wall_stays_there():
    flow = pair(sill=0.1)
    backwards = ReturnFlow(flow.tank, flow.bays, (1,), {"p": 1}, {"p": 0.001})
    found = run_network(backwards, UP, np.array([0.02, 0.0]))
    # the first bay runs over until it is level with its sill, and no further
    assert found.levels_m[0] == pytest.approx(0.1, abs=2e-3)
    assert found.levels_m[0] >= 0.1 - 1e-6


def test_two_openings_between_two_bays_share_by_their_heads():
    one = pair()
    (gap,) = one.bays.gaps
    both = Bays(one.bays.bays, (gap, gap))
    found = run_network(
        ReturnFlow(one.tank, both, (0,), {"p": 1}, {"p": 0.001}), UP, np.array([0.024, 0.024])
    )
    assert found.levels_m[0] - found.levels_m[1] == pytest.approx(
        (0.001 / (FACTOR * 0.004)) ** 2, rel=1e-5
    )


def test_the_oracle_knows_a_weir():
    """Its own strips against 2/3 b H^1.5, so that agreement means something."""
    net = Net(np.random.default_rng(0))
    net.up = UP
    door = (0, 1, 0.1, 0.2, np.array([0.0, 0.0, 0.1]), False)
    want = 2.0 / 3.0 * 0.1 * 0.08**1.5
    assert net.passed(door, 0.18, 0.0) == pytest.approx(want, rel=2e-3)
    root = brentq(lambda h: net.passed(door, h, 0.0) - want, 0.11, 0.3)
    assert root == pytest.approx(0.18, abs=2e-4)
