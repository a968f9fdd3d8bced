"""Bay networks by themselves: an oracle that shares no code with tanksolve's kernel.

Boxes with rectangular openings, flaps and round pipes, in chains and in parallel, tilted; one return or
two. Volumes are cut boxes in closed form, flows are strips summed up, the steady state is a root found
by SciPy. Cd = 0.61 (from memory), Q = Cd sqrt(2 g) * integral of sqrt(head) over the opening; a pipe
Q = sqrt(2 g / K) * the same over each of its mouths, the less of the two.
"""

import math

import numpy as np
import pytest
from closed_forms import box_below
from scipy.optimize import least_squares

from tanksolve.geometry.parts import box
from tanksolve.model.bays import Bays, Gap
from tanksolve.model.tank import Tank
from tanksolve.pump.network import run_network
from tanksolve.pump.running import ReturnFlow

FACTOR = 0.61 * math.sqrt(2.0 * 9.80665)
HEIGHT = 0.5


def disc(at, radius):
    """Triangles of a disc across x, 256 corners."""
    turns = np.linspace(0.0, math.tau, 257)
    rim = at + radius * np.stack([0.0 * turns, np.cos(turns), np.sin(turns)], axis=-1)
    return np.stack([np.broadcast_to(at, rim[1:].shape), rim[:-1], rim[1:]], axis=1)


def smoothed(tall, areas, upper, lower):
    """Sum of sqrt(head) over pieces; below a micrometre of head in proportion to it, or no root has a slope."""
    if upper <= lower:
        return 0.0
    head = max(upper - lower, 1e-6)
    each = np.maximum(lower + head - np.maximum(tall, lower), 0.0)
    return float((np.sqrt(each) * areas).sum()) * (upper - lower) / head


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
        self.pipes = []
        for one, other in pairs:
            if rng.random() < 0.35:
                radius, loss = rng.uniform(0.012, 0.03), rng.uniform(1.5, 4.0)
                ends = [
                    np.array([0.7 * b + x, rng.uniform(0.05, 0.15), rng.uniform(0.035, 0.12)])
                    for b, x in ((one, self.sizes[one][0]), (other, 0.0))
                ]
                self.pipes.append((one, other, radius, loss, ends))
        self.drawn = {
            f"p{k}": int(b) for k, b in enumerate(rng.integers(1, count, rng.integers(1, 3)))
        }
        self.flows = {name: rng.uniform(0.0003, 0.0012) for name in self.drawn}
        self.returns = [0] if rng.random() < 0.6 else [0, int(rng.integers(0, count))]
        share, total = rng.uniform(0.3, 0.7), sum(self.flows.values())
        self.brought = [total] if len(self.returns) == 1 else [share * total, (1.0 - share) * total]
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
        for one, other, radius, loss, ends in self.pipes:
            runs = tuple(disc(at, radius) for at in ends)
            gap = Gap("pipe", (one, other), np.concatenate(runs), 0.0, stations=runs, loss=loss)
            gaps.append(gap)
        both = Bays(tuple(bays), tuple(gaps))
        returns = tuple(self.returns), tuple(self.brought)
        return ReturnFlow(bays[0], both, returns[0], self.drawn, self.flows, brought=returns[1])

    # -- the oracle ----------------------------------------------------------------------------

    def passed(self, door, upper, lower):
        """Integral of sqrt(head) over a rectangle at this attitude, by 400 x 12 strips."""
        _, _, wide, high, at, _ = door
        y = (np.arange(12) + 0.5) / 12 * wide
        z = (np.arange(400) + 0.5) / 400 * high
        tall = at @ self.up + y[:, None] * self.up[1] + z[None] * self.up[2]
        return smoothed(tall, np.full_like(tall, wide * high / tall.size), upper, lower)

    def rates(self, heights):
        out = np.zeros(len(self.sizes))
        for bay, amount in zip(self.returns, self.brought, strict=True):
            out[bay] += amount
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
        for one, other, radius, loss, ends in self.pipes:
            levels = heights[one], heights[other]
            size = min(self.through_disc(at, radius, max(levels), min(levels)) for at in ends)
            amount = math.copysign(math.sqrt(2.0 * 9.80665 / loss) * size, levels[0] - levels[1])
            out[one, other] = out.get((one, other), 0.0) + amount
        return out

    def busy(self, heights):
        """Pairs of bays between which more than a millionth of the flow goes."""
        least = 1e-6 * sum(self.flows.values())
        ways = {pair: abs(amount) for pair, amount in self.through(heights).items()}
        return [pair for pair, amount in ways.items() if amount > least]

    def through_disc(self, at, radius, upper, lower):
        """Integral of sqrt(head) over a disc across x, by 800 strips."""
        s = (np.arange(800) + 0.5) / 400 - 1.0
        tall = at @ self.up + s * radius * math.hypot(self.up[1], self.up[2])
        return smoothed(tall, 2.0 * np.sqrt(1.0 - s**2) / 400 * radius**2, upper, lower)

    def held(self, heights):
        return sum(
            box_below(size, self.up, float(h - self.up @ low))
            for size, low, h in zip(self.sizes, self.low, heights, strict=True)
        )

    def solve(self, guess, shut=()):
        """Levels with no change in any bay but one, and all the liquid: as many equations as bays.

        shut : bays that keep what they have been left, whatever flows elsewhere: they stay at the guess.
        """
        kept = np.array(guess)

        def missing(heights):
            change = self.rates(heights) / 1e-4
            for bay in shut:
                change[bay] = (heights[bay] - kept[bay]) / 1e-4
            return np.append(change[1:], (self.held(heights) - self.fill) / 1e-4)

        return least_squares(missing, guess, xtol=1e-14, ftol=1e-14, gtol=1e-14, x_scale=0.01)


def compare(net, rng):
    """Solve a network both ways and hold them to each other; what was compared: steady, bare or neither."""
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
        assert 0.0 < found.seconds < 60.0 * net.fill / sum(net.flows.values())
        return "bare"
    assert found.steady
    tops = [float((bay.vertices @ net.up).max()) for bay in flow.bays.bays]
    if any(level > top for level, top in zip(found.levels_m, tops, strict=True)):
        return "brimful"  # told as no steady state: its pressure is no level
    # what still trickles over a sill counts as still below this share
    assert found.imbalance_m3_s <= 1e-4 * sum(net.flows.values())
    # what no liquid goes into or out of is as some drive left it: behind a flap, below a sill
    shut = [
        b for b in range(1, len(start)) if not any(b in pair for pair in net.busy(found.levels_m))
    ]
    guess = found.levels_m + rng.uniform(-1e-3, 1e-3, len(start))
    guess[shut] = found.levels_m[shut]
    oracle = net.solve(guess, shut)
    if oracle.cost > 1e-6:
        return (
            "neither"  # two bays exactly level: the root of the head has no slope to follow there
        )
    assert np.abs(oracle.x - found.levels_m).max() < 1e-3
    for (one, other), amount in net.through(oracle.x).items():
        if one in shut or other in shut:
            continue  # level to a hair, where a hair of head is a flow
        told = found.through.get((one, other), 0.0) - found.through.get((other, one), 0.0)
        assert told == pytest.approx(amount, abs=0.01 * sum(net.flows.values()))
    return "steady"
