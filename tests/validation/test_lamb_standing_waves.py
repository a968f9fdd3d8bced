"""Standing waves f = sqrt(g k tanh kh) / 2 pi; k = n pi / L in a box, 1.84118 / R in a cylinder.

The box's form as in case V8.21.101 of a general finite-element code's validation manual (read
there); H. Lamb, "Hydrodynamics", and the cylinder's root from memory. The annulus: k from the zeros of
J1'(ka) Y1'(kb) - J1'(kb) Y1'(ka), from memory, worked out here with SciPy's Bessel functions.
"""

import math
from collections.abc import Iterator

import numpy as np
import pytest
from beside import Beside
from manifold3d import Manifold
from scipy.optimize import brentq
from scipy.special import jvp, yvp
from tanks import from_manifold

from tanksolve.geometry.parts import box, cylinder
from tanksolve.pump.slosh import waves_at, with_baffle

GRAVITY = 9.80665


def hertz(k: float, depth: float) -> float:
    return math.sqrt(GRAVITY * k * math.tanh(k * depth)) / (2.0 * math.pi)


def along(waves, axis="longitudinal"):
    return [w.frequency_hz for w in waves if getattr(w, axis) > 0.005]


def test_box_1_2_by_0_4() -> None:
    waves = waves_at(box(1.2, 0.5, 0.8), 1.2 * 0.5 * 0.4)
    first, third = along(waves)[:2]  # the second is even: no end of it is higher than the other
    assert first == pytest.approx(0.712543, rel=1e-3)
    assert third == pytest.approx(1.39417, rel=3e-3)
    even = [w.frequency_hz for w in waves if w.direction == "neither"]
    assert even[0] == pytest.approx(1.12329, rel=1e-3)
    assert along(waves, "lateral")[0] == pytest.approx(hertz(math.pi / 0.5, 0.4), rel=1e-3)
    assert min(first, third) >= 0.712543 * (1.0 - 1e-6)  # never too low


@pytest.mark.parametrize(("length", "depth"), [(1.2, 0.02), (0.3, 1.5), (2.0, 0.7)])
def test_shallow_deep_and_long_boxes(length: float, depth: float) -> None:
    waves = waves_at(box(length, 0.25, depth + 0.1), length * 0.25 * depth)
    assert along(waves)[0] == pytest.approx(hertz(math.pi / length, depth), rel=5e-3)


def test_solid_centre_baffle() -> None:
    effect = with_baffle(box(1.2, 0.5, 0.8), 1.2 * 0.5 * 0.4, 0.6)
    assert effect.whole_hz == pytest.approx(0.712543, rel=1e-3)
    assert effect.rear_hz == pytest.approx(1.12329, rel=1e-3)
    assert effect.front_hz == pytest.approx(1.12329, rel=1e-3)


def test_cylinder() -> None:
    upright = cylinder(0.6, 0.8, lies="upright")
    first, second = waves_at(upright, 0.5 * upright.capacity)[:2]
    for wave in (first, second):
        assert wave.frequency_hz == pytest.approx(1.22565, rel=2e-3)
        assert wave.direction == "longitudinal and lateral"


@pytest.mark.parametrize("inner", [0.1, 0.2])
def test_annulus(inner: float) -> None:
    outer, depth = 0.4, 0.3
    sides = 96
    ring = Manifold.cylinder(0.5, outer, circular_segments=sides)
    ring -= Manifold.cylinder(0.7, inner, circular_segments=sides).translate((0.0, 0.0, -0.1))
    tank = from_manifold("annulus", ring)

    def edge(k: float) -> float:
        return jvp(1, k * inner) * yvp(1, k * outer) - jvp(1, k * outer) * yvp(1, k * inner)

    grid = np.linspace(0.5, 10.0, 200) / outer
    values = [edge(k) for k in grid]
    at = next(i for i in range(len(grid) - 1) if values[i] * values[i + 1] < 0.0)
    k = brentq(edge, grid[at], grid[at + 1])
    first = waves_at(tank, tank.capacity * depth / 0.5)[0]
    assert first.frequency_hz == pytest.approx(hertz(k, depth), rel=5e-3)


def beside() -> Iterator[Beside]:
    first, third = along(waves_at(box(1.2, 0.5, 0.8), 1.2 * 0.5 * 0.4))[:2]
    yield Beside("first wave along a box 1.2 m, 0.4 m deep", 0.712543, first, "Hz")
    yield Beside("third wave along it", 1.39417, third, "Hz")
    upright = cylinder(0.6, 0.8, lies="upright")
    ours = waves_at(upright, 0.5 * upright.capacity)[0].frequency_hz
    yield Beside("first wave of an upright cylinder 0.6 m wide, 0.4 m deep", 1.22565, ours, "Hz")
