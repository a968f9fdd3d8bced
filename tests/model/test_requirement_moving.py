"""Accelerations on a slope: the closed form along one axis, and all combinations and no others."""

import math

import numpy as np
import pytest

from tanksolve.errors import RequirementError
from tanksolve.kernel.attitude.direction import (
    projected_from_up,
    slope_heading_from_up,
    up_from_projected,
    up_from_slope_heading,
    up_with_acceleration,
)
from tanksolve.model.attitude import GRAVITY, Attitude
from tanksolve.model.requirement import Meaning, Patch, Requirement
from tanksolve.model.requirement_moving import moving

DEG = math.radians(1.0)
G = GRAVITY
BRAKED = moving(Requirement.every_heading(10 * DEG), brake=0.5 * G)
PUSHED = moving(
    Requirement.every_heading(12 * DEG), brake=0.5 * G, accelerate=0.2 * G, corner=0.8 * G
)


def nose_down(need: Requirement) -> float:
    """Steepest required attitude straight nose down [rad], by halving."""
    low, high = 0.0, 1.5
    for _ in range(60):
        middle = 0.5 * (low + high)
        inside = need.holds(up_from_slope_heading([middle], math.pi))[0]
        low, high = (middle, high) if inside else (low, middle)
    return low


@pytest.mark.parametrize("slope_deg", [0.0, 5.0, 10.0, 30.0])
@pytest.mark.parametrize("brake", [0.1, 0.5, 1.2])
def test_braking_downhill_is_the_slope_plus_the_tilt_of_what_is_felt(slope_deg, brake):
    """tan(tilt from the horizontal) = a cos b / (g + a sin b), mathalino.com node 3374, plus b.

    The acceleration is along the floor; along the horizontal it would be b + atan(a / g).
    """
    slope = slope_deg * DEG
    need = widened(moving(Requirement.every_heading(slope), brake=brake * G))
    felt = slope + math.atan(brake * math.cos(slope) / (1.0 + brake * math.sin(slope)))
    assert nose_down(need) == pytest.approx(felt, abs=2e-9)
    if slope == 0.0:
        assert felt == pytest.approx(math.atan(brake))


def combinations(ground, brake, accelerate, corner, rng, count=4000):
    """Felt up vectors of ``ground`` (M, 3) with random accelerations, a good part at the limits."""
    base = ground[rng.integers(0, len(ground), count)]
    push = np.zeros((count, 3))
    push[:, 0] = np.clip(rng.uniform(-1.5, 1.5, count), -1, 1)
    push[:, 0] *= np.where(push[:, 0] > 0, accelerate, brake)
    push[:, 1] = corner * np.clip(rng.uniform(-1.5, 1.5, count), -1, 1)
    return up_with_acceleration(base, push, G)


def slopes(steepest, rng, count=4000):
    share = np.minimum(1.0, rng.uniform(0, 1.5, count))
    return up_from_slope_heading(steepest * share, rng.uniform(0, math.tau, count))


def widened(need: Requirement) -> Requirement:
    """The same with a hair of rounding on every side."""
    hair = 1e-9
    patches = [
        Patch(
            p.chart,
            (p.a[0] - hair, p.a[1] + hair),
            (p.b[0] - hair, p.b[1] + hair),
            p.words,
            p.shift,
        )
        for p in need.patches
    ]
    return Requirement(tuple(patches))


def test_every_combination_is_required():
    rng = np.random.default_rng(1)
    up = combinations(slopes(12 * DEG, rng), 0.5 * G, 0.2 * G, 0.8 * G, rng)
    assert widened(PUSHED).holds(up).all()


def test_nothing_else_is_required():
    """What is required, less some acceleration within the limits, is a slope within the limit."""
    rng = np.random.default_rng(2)
    worst = 0.0
    for patch in PUSHED.patches:
        a, b = (rng.uniform(*ends, 300) for ends in (patch.a, patch.b))
        px, py = (np.tan(angle) for angle in projected_from_up(patch.ups(a, b)))
        # at the steepest slope the felt slopes are tan b (cos k, sin k) + a / (g cos b)
        x = px - np.clip(px, -0.5 / math.cos(12 * DEG), 0.2 / math.cos(12 * DEG))
        y = py - np.clip(py, -0.8 / math.cos(12 * DEG), 0.8 / math.cos(12 * DEG))
        worst = max(worst, float(np.hypot(x, y).max()))
    assert worst <= math.tan(12 * DEG) + 1e-12
    assert worst == pytest.approx(math.tan(12 * DEG), rel=1e-2)


@pytest.mark.parametrize("meaning", list(Meaning))
def test_a_box_holds_every_combination_and_its_corners_are_some(meaning):
    rng = np.random.default_rng(3)
    ground = Requirement.sides(15 * DEG, 15 * DEG, 5 * DEG, 10 * DEG, meaning)
    need = moving(ground, brake=0.4 * G, corner=0.3 * G)
    (patch,) = ground.patches
    a, b = (np.clip(rng.uniform(1.3 * lo, 1.3 * hi, 4000), lo, hi) for lo, hi in (patch.a, patch.b))
    up = combinations(patch.ups(a, b), 0.4 * G, 0.0, 0.3 * G, rng)
    assert widened(need).holds(up).all()
    (box,) = need.patches
    steepest = patch.ups(np.array([-15 * DEG]), np.array([10 * DEG]))
    felt = up_with_acceleration(steepest, (-0.4 * G, 0.3 * G, 0.0), G)
    assert up_from_projected(box.a[0], box.b[1]) == pytest.approx(felt[0])


def test_one_attitude_with_accelerations_is_exact():
    need = moving(Requirement.single(Attitude.from_slope(20 * DEG, 90 * DEG)), accelerate=2.0)
    (patch,) = need.patches
    ends = [
        up_with_acceleration(up_from_slope_heading(20 * DEG, 90 * DEG), (a, 0, 0), G)
        for a in (0, 2.0)
    ]
    assert patch.ups(np.array(patch.a), np.array(patch.b)) == pytest.approx(np.array(ends))


def test_the_pairs_of_check_values_are_met():
    """2 m/s² up a slope of 15 degrees: 25.5985 degrees from the floor (mathalino.com node 3374)."""
    up = up_with_acceleration(up_from_slope_heading(15 * DEG, 0.0), (2.0, 0.0, 0.0), G)
    assert math.degrees(slope_heading_from_up(up)[0]) == pytest.approx(25.5985, abs=5e-5)
    need = moving(Requirement.every_heading(15 * DEG), accelerate=2.0)
    assert need.holds(up_from_slope_heading([25.5984 * DEG], 0.0))[0]
    assert not need.holds(up_from_slope_heading([25.5986 * DEG], 0.0))[0]


def test_words_and_mistakes():
    assert BRAKED.words == (
        "every heading up to 10.0° (17.6 % grade), with every combination of braking 0.5 g",
    )
    assert moving(Requirement.every_heading(0.1)) == Requirement.every_heading(0.1)
    with pytest.raises(RequirementError):
        moving(Requirement.every_heading(0.1), brake=-1.0)
    with pytest.raises(RequirementError):
        moving(Requirement.every_heading(80 * DEG), brake=10 * G)
    with pytest.raises(ValueError, match="begin at nought"):
        moving(Requirement((Patch(0, (0.1, 0.2), (0.0, 1.0), "arc"),)), brake=1.0)
    with pytest.raises(ValueError, match="slopes and headings"):
        Patch(1, (0.0, 0.1), (0.0, 0.1), "box", shift=(0.1, 0.0))
