"""Bay networks against a solver written apart: SciPy's root finding on the same published laws.

Boxes with rectangular openings, joined in chains, in parallel and with flaps; the oracle has its own
volumes (cut boxes in closed form) and its own strips for an opening's flow, and knows nothing of
tanksolve's kernel. Cd = 0.61 (from memory), Q = Cd sqrt(2 g) * integral of sqrt(head) over the opening.
"""

import math

import numpy as np
import pytest
from closed_forms import box_below
from scipy.optimize import brentq, least_squares

from tanksolve.geometry.parts import box
from tanksolve.model.bays import Bays, Gap
from tanksolve.model.tank import Tank
from tanksolve.pump.network import run_network
from tanksolve.pump.running import ReturnFlow

FACTOR = 0.61 * math.sqrt(2.0 * 9.80665)
HEIGHT = 0.5


class Net:
    """A random network: upright boxes at places of their own, rectangular openings between them."""

    def __init__(self, rng):
        count = int(rng.integers(2, 6))
        self.sizes = [(*rng.uniform(0.2, 0.6, 2), HEIGHT) for _ in range(count)]
        self.low = [np.array([0.7 * b, 0.0, 0.0]) for b in range(count)]
        tilt, way = rng.uniform(0.0, 0.15), rng.uniform(0.0, math.tau)
        self.up = np.array(
            [math.sin(tilt) * math.cos(way), math.sin(tilt) * math.sin(way), math.cos(tilt)]
        )
        pairs = [(b, b + 1) for b in range(count - 1)]
        pairs += [(0, count - 1)] if count > 2 and rng.random() < 0.5 else []  # a route in parallel
        pairs += [pairs[0]] if rng.random() < 0.5 else []  # two openings between two bays
        self.depth = rng.uniform(0.15, 0.6) * HEIGHT  # low: part-filled openings, weirs and falls
        self.doors = []
        for one, other in pairs:
            wide, high = rng.uniform(0.04, 0.15), rng.uniform(0.01, 0.08)
            at = np.array(
                [0.7 * max(one, other) - 0.03, rng.uniform(0.0, 0.1), rng.uniform(0.005, 0.15)]
            )
            flap = bool(rng.random() < 0.2)
            self.doors.append((one, other, wide, high, at, flap))
        self.drawn = {
            f"p{k}": int(b) for k, b in enumerate(rng.integers(1, count, rng.integers(1, 3)))
        }
        self.flows = {name: rng.uniform(0.0003, 0.0012) for name in self.drawn}
        self.fill = sum(
            box_below(size, self.up, self.height(b, self.depth))
            for b, size in enumerate(self.sizes)
        )

    def height(self, bay, over_floor):
        """Height along up from a box's own corner of the place above its floor's middle."""
        size = self.sizes[bay]
        return float(self.up @ np.array([size[0] / 2, size[1] / 2, over_floor]))

    def flow(self):
        bays = []
        for size, low in zip(self.sizes, self.low, strict=True):
            plain = box(*size)
            bays.append(Tank("bay", plain.vertices + low, plain.faces))
        gaps = []
        for one, other, wide, high, at, flap in self.doors:
            a, b, c, d = (
                at + np.array([0.0, y, z]) for y, z in ((0, 0), (wide, 0), (wide, high), (0, high))
            )
            corners = np.array([[a, b, c], [a, c, d]])
            gaps.append(Gap("door", (one, other), corners, 0.0, flap))
        return ReturnFlow(bays[0], Bays(tuple(bays), tuple(gaps)), 0, self.drawn, self.flows)

    # -- the oracle ----------------------------------------------------------------------------

    def passed(self, door, upper, lower):
        """Integral of sqrt(head) over a rectangle at this attitude, by 400 x 12 strips."""
        _, _, wide, high, at, _ = door
        y = (np.arange(12) + 0.5) / 12 * wide
        z = (np.arange(400) + 0.5) / 400 * high
        tall = at @ self.up + y[:, None] * self.up[1] + z[None] * self.up[2]
        head = upper - np.maximum(tall, lower)
        return float(np.sqrt(np.maximum(head, 0.0)).mean() * wide * high) if upper > lower else 0.0

    def rates(self, heights):
        out = np.zeros(len(self.sizes))
        out[0] += sum(self.flows.values())
        for name, bay in self.drawn.items():
            out[bay] -= self.flows[name]
        for (one, other), amount in self.through(heights).items():
            out[one] -= amount
            out[other] += amount
        return out

    def through(self, heights):
        """Flow between each two bays, from the first to the second, all openings together."""
        out = {}
        for door in self.doors:
            one, other, flap = door[0], door[1], door[5]
            across = self.passed(door, heights[one], heights[other])
            if not flap:
                across -= self.passed(door, heights[other], heights[one])
            out[one, other] = out.get((one, other), 0.0) + FACTOR * across
        return out

    def held(self, heights):
        return sum(
            box_below(size, self.up, float(h - self.up @ low))
            for size, low, h in zip(self.sizes, self.low, heights, strict=True)
        )

    def solve(self, guess):
        """Levels with no change in any bay but one, and all the liquid: as many equations as bays."""

        def missing(heights):
            return np.append(
                self.rates(heights)[1:] / 1e-4, (self.held(heights) - self.fill) / 1e-4
            )

        return least_squares(missing, guess, xtol=1e-14, ftol=1e-14, gtol=1e-14, x_scale=0.01)


@pytest.mark.parametrize("seed", range(12))
def test_random_networks_against_root_finding(seed):
    rng = np.random.default_rng(seed)
    compared = 0
    for _ in range(3):
        net = Net(rng)
        flow = net.flow()
        start = np.array(
            [box_below(s, net.up, net.height(b, net.depth)) for b, s in enumerate(net.sizes)]
        )
        mouths = {
            name: float((flow.bays.bays[b].vertices @ net.up).min()) + 0.02
            for name, b in net.drawn.items()
        }
        found = run_network(flow, net.up, start, mouths)
        assert abs(found.lost_m3) <= 1e-9
        assert found.volumes_m3.sum() == pytest.approx(net.fill, abs=1e-9)
        if found.bare is not None:
            bay = net.drawn[found.bare]
            assert found.levels_m[bay] == pytest.approx(mouths[found.bare], abs=1e-6)
            continue
        assert found.steady
        oracle = net.solve(found.levels_m + rng.uniform(-1e-3, 1e-3, len(start)))
        assert found.imbalance_m3_s <= 1e-9
        if oracle.cost > 1e-6:
            continue  # two bays exactly level: the root of the head has no slope to follow there
        compared += 1
        assert np.abs(oracle.x - found.levels_m).max() < 1e-3
        for (one, other), amount in net.through(oracle.x).items():
            told = found.through.get((one, other), 0.0) - found.through.get((other, one), 0.0)
            assert told == pytest.approx(amount, abs=0.01 * sum(net.flows.values()))
    assert compared > 0


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
    return ReturnFlow(bays[0], Bays(tuple(bays), (gap,)), 0, {"p": 1}, {"p": flow_m3_s})


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
    backwards = ReturnFlow(flow.tank, flow.bays, 1, {"p": 1}, {"p": 0.001})
    found = run_network(backwards, UP, np.array([0.02, 0.0]))
    # the first bay runs over until it is level with its sill, and no further
    assert found.levels_m[0] == pytest.approx(0.1, abs=2e-3)
    assert found.levels_m[0] >= 0.1 - 1e-6


def test_two_openings_between_two_bays_share_by_their_heads():
    one = pair()
    (gap,) = one.bays.gaps
    both = Bays(one.bays.bays, (gap, gap))
    found = run_network(
        ReturnFlow(one.tank, both, 0, {"p": 1}, {"p": 0.001}), UP, np.array([0.024, 0.024])
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
