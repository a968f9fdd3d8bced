"""The unit cube cut by a plane m·x = alpha, and the box's level as its inverse.

Source: R. Scardovelli and S. Zaleski, "Analytical Relations Connecting Linear Interfaces and
Volume Fractions in Rectangular Grids", J. Comput. Phys. 164 (2000) 228-237 (citation from memory):
V = [alpha³ - sum <alpha - m_i>³ + sum <alpha - M + m_i>³] / (6 m1 m2 m3), M = m1 + m2 + m3.
The figures below are that formula worked out to six digits, checked by quadrature; polyhedra are
exact, so the code is also held to the formula itself at 1e-12.
"""

import math

import numpy as np
import pytest
from beside import Beside
from closed_forms import box_below, box_level
from tanks import box_tank

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.attitude import Attitude
from tanksolve.questions.level.surface import level

CUBE = (1.0, 1.0, 1.0)
BOX = (1.2, 0.5, 0.8)


def formula(m, alpha):
    """The published relation as it stands, in floats."""
    whole = sum(m)
    terms = alpha**3 - sum(max(alpha - k, 0.0) ** 3 for k in m)
    terms += sum(max(alpha - whole + k, 0.0) ** 3 for k in m)
    return terms / (6.0 * math.prod(m))


@pytest.mark.parametrize(
    ("m", "alpha", "volume"),
    [
        ((1.0, 2.0, 3.0), 1.0, 0.0277778),
        ((1.0, 2.0, 3.0), 2.5, 0.336806),
        ((1.0, 2.0, 3.0), 3.0, 0.5),
        ((1.0, 2.0, 3.0), 5.0, 0.972222),
        ((1.0, 1.0, 1.0), 0.5, 0.0208333),
        ((1.0, 1.0, 1.0), 1.5, 0.5),
        ((1.0, 1.0, 1.0), 2.2, 0.914667),
    ],
)
def test_volume_below_the_plane(m, alpha, volume):
    size = np.linalg.norm(m)
    found = volumes(box_tank(CUBE).tree, [np.asarray(m) / size], [alpha / size])[0][0]
    assert found == pytest.approx(volume, rel=4e-6)
    assert found == pytest.approx(formula(m, alpha), rel=1e-12)


def test_a_thousand_planes_to_1e_12():
    """In rational arithmetic, every sign of m, depths from a corner to the opposite one."""
    rng = np.random.default_rng(1)
    up = rng.normal(size=(1000, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    reach = up * BOX
    low = np.minimum(reach, 0.0).sum(axis=1)
    high = np.maximum(reach, 0.0).sum(axis=1)
    height = low + rng.uniform(0.0, 1.0, 1000) * (high - low)
    found = volumes(box_tank(BOX).tree, up, height)[0]
    exact = [box_below(BOX, u, h) for u, h in zip(up, height, strict=True)]
    np.testing.assert_allclose(found, exact, rtol=1e-12, atol=1e-12 * 0.48)


def test_the_corner_tetrahedron_goes_with_the_cube_of_depth():
    up = np.array([1.0, 2.0, 3.0]) / math.sqrt(14.0)
    height = np.array([0.01, 0.02, 0.04, 0.08])
    found = volumes(box_tank(CUBE).tree, np.tile(up, (4, 1)), height)[0]
    np.testing.assert_allclose(found[1:] / found[:-1], 8.0, rtol=1e-10)


# liquid z <= c - x tan 20° - y tan 15°; c by inverting the formula above
GOLDEN = [
    (0.03, 0.272367, -0.013003),
    (0.10, 0.446585, 0.161216),
    (0.30, 0.785369, 0.500000),
    (0.45, 1.09837, 0.813003),
]


@pytest.mark.parametrize(("volume", "intercept", "depth"), GOLDEN)
def test_inverse_box_1_2_by_0_5_by_0_8(volume, intercept, depth):
    slopes = np.array([math.tan(math.radians(20.0)), math.tan(math.radians(15.0)), 1.0])
    size = float(np.linalg.norm(slopes))
    height = levels(box_tank(BOX).tree, [slopes / size], volume)[0][0]
    assert height == pytest.approx(box_level(BOX, slopes / size, volume), abs=1e-12)
    c = height * size
    assert c == pytest.approx(intercept, rel=4e-6)
    assert c - 0.6 * slopes[0] - 0.25 * slopes[1] == pytest.approx(depth, abs=1e-6)


@pytest.mark.parametrize(("volume", "intercept", "depth"), GOLDEN)
def test_inverse_through_the_level_question(volume, intercept, depth):
    """The same plane from the readings of a device that reports arctangents: tan pitch, tan roll."""
    attitude = Attitude.from_projected(math.radians(20.0), math.radians(15.0))
    found = level(box_tank(BOX), volume, attitude)
    assert found.level_height_m / attitude.up[2] == pytest.approx(intercept, rel=4e-6)
    assert found.ullage_m3 == pytest.approx(0.48 - volume, rel=1e-12)
    assert depth < 0.0 or found.depth_m > 0.0


def beside():
    for m, alpha, volume in (((1.0, 2.0, 3.0), 2.5, 0.336806), ((1.0, 1.0, 1.0), 2.2, 0.914667)):
        size = np.linalg.norm(m)
        found = volumes(box_tank(CUBE).tree, [np.asarray(m) / size], [alpha / size])[0][0]
        told = ", ".join(f"{k:g}" for k in m)
        yield Beside(f"unit cube below m·x = {alpha:g}, m = ({told})", volume, found, "m³")
    slopes = np.array([math.tan(math.radians(20.0)), math.tan(math.radians(15.0)), 1.0])
    size = float(np.linalg.norm(slopes))
    for volume, intercept, _ in GOLDEN:
        height = levels(box_tank(BOX).tree, [slopes / size], volume)[0][0] * size
        yield Beside(f"level of a box tilted 20° and 15°, {volume:g} m³", intercept, height, "m")
