"""Sloshing in curved sections, w² R / g: table values to 1 %.

Half-full lying circular canal, transverse antisymmetric: 1.3557, 4.6511 (P. McIver, J. Fluid Mech.
1989); half-full sphere, m = 1: 1.5602, 5.2756 (McIver as above; D. W. Fox and J. R. Kuttler,
"Sloshing frequencies", 1983). Citations and figures from memory; the figures were computed a second time by
Rayleigh and Ritz with polynomials for the project's list of check values: 1.35573, 4.65106,
1.56016, 5.27555. The canal's waves are those of a lying cylinder that do not vary along it.
"""

import math
from collections.abc import Iterator

import pytest
from beside import Beside
from tanks import ball_tank

from tanksolve.geometry.parts import cylinder
from tanksolve.model.attitude import GRAVITY
from tanksolve.pump.slosh import waves_at


def squared(wave, radius: float) -> float:
    return (math.tau * wave.frequency_hz) ** 2 * radius / GRAVITY


def test_half_full_canal() -> None:
    """Short, so that waves along it lie far above the first two across it."""
    tank = cylinder(0.6, 0.15, lies="along")
    waves = waves_at(tank, 0.5 * tank.capacity)
    across = [w for w in waves if w.lateral > 0.005 and w.longitudinal < 1e-6]
    radius = math.sqrt(tank.capacity / 0.15 / math.pi)
    assert squared(across[0], radius) == pytest.approx(1.3557, rel=0.005)
    assert squared(across[1], radius) == pytest.approx(4.6511, rel=0.01)


def test_a_lying_cylinder_as_long_as_wide_is_not_upright() -> None:
    tank = cylinder(0.6, 0.6, lies="along")
    waves = waves_at(tank, 0.5 * tank.capacity)
    lateral = next(w for w in waves if w.direction == "lateral")
    assert squared(lateral, 0.3) == pytest.approx(1.3557, rel=0.005)


def test_half_full_sphere() -> None:
    tank = ball_tank(24, 0.5)
    radius = (tank.capacity * 3.0 / (4.0 * math.pi)) ** (1.0 / 3.0)
    waves = waves_at(tank, 0.5 * tank.capacity)
    sideways = [w for w in waves if max(w.longitudinal, w.lateral) > 0.01]
    assert squared(waves[0], radius) == pytest.approx(1.5602, rel=0.01)
    assert squared(waves[1], radius) == pytest.approx(1.5602, rel=0.01)
    assert sideways[0] is waves[0]


def beside() -> Iterator[Beside]:
    tank = cylinder(0.6, 0.15, lies="along")
    waves = waves_at(tank, 0.5 * tank.capacity)
    across = [w for w in waves if w.lateral > 0.005 and w.longitudinal < 1e-6]
    radius = math.sqrt(tank.capacity / 0.15 / math.pi)
    for wave, theirs, name in zip(across, (1.3557, 4.6511), ("first", "second"), strict=False):
        what = f"w² R / g of the {name} wave across a half-full lying canal"
        yield Beside(what, theirs, squared(wave, radius), "", 5)
    ball = ball_tank(24, 0.5)
    radius = (ball.capacity * 3.0 / (4.0 * math.pi)) ** (1.0 / 3.0)
    ours = squared(waves_at(ball, 0.5 * ball.capacity)[0], radius)
    yield Beside("w² R / g of the first wave in a half-full sphere", 1.5602, ours, "", 5)
