import math

import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.attitude import GRAVITY
from tanksolve.model.ports import pickup
from tanksolve.pump.motion import accelerate, brake, corner
from tanksolve.pump.motion_check import check_motion

TANK = box(1.2, 0.5, 0.8)
FILL = 1.2 * 0.5 * 0.15
LIMIT = 2 * 0.15 / 1.2  # tan of the slope at which the floor's edge dries; so many g on the flat


@pytest.mark.parametrize(("factor", "holds"), [(0.999, True), (1.001, False)])
def test_a_manoeuvre_breaks_where_its_slope_would(factor: float, holds: bool) -> None:
    edge = (pickup("rear edge", (0.0, 0.25, 0.0), cover=0.0),)
    push = factor * LIMIT * GRAVITY
    result = check_motion(TANK, edge, FILL, [brake(push), accelerate(push)])
    assert [m.holds for m in result.manoeuvres] == [holds, True]
    assert result.holds is holds
    assert result.manoeuvres[0].forward_g == pytest.approx(-factor * LIMIT)
    assert result.manoeuvres[0].pitch_deg == pytest.approx(-math.degrees(math.atan(factor * LIMIT)))
    assert result.manoeuvres[0].port == "rear edge"


def test_a_left_corner_uncovers_the_left_wall() -> None:
    edges = (
        pickup("left", (0.6, 0.5, 0.0), cover=0.0),
        pickup("right", (0.6, 0.0, 0.0), cover=0.0),
    )
    (found,) = check_motion(TANK, edges, FILL, [corner(8.0, 5.0, "left")]).manoeuvres
    assert not found.holds
    assert found.port == "left"
    assert found.roll_deg > 0.0
    either = check_motion(TANK, edges, FILL, [corner(8.0, 5.0, "left")], pickups="any")
    assert either.holds


def test_near_excitations_and_baffles_are_told() -> None:
    port = (pickup("p", (0.6, 0.25, 0.0), cover=0.0),)
    first = box_hertz(1.2, 0.15)
    result = check_motion(TANK, port, FILL, [], excitations=[1.1 * first, 90.0], baffles=[0.6])
    longitudinal, lateral = result.slosh.bands[:2]
    assert longitudinal.low_hz == pytest.approx(first, rel=5e-3)
    assert lateral.low_hz == pytest.approx(box_hertz(0.5, 0.15), rel=5e-3)
    assert [one.excitation_hz for one in longitudinal.near] == [1.1 * first]
    assert not any(one.excitation_hz == 90.0 for band in result.slosh.bands for one in band.near)
    assert result.baffles[0].rear_hz == pytest.approx(box_hertz(0.6, 0.15), rel=5e-3)


def box_hertz(length: float, depth: float) -> float:
    k = math.pi / length
    return math.sqrt(GRAVITY * k * math.tanh(k * depth)) / math.tau
