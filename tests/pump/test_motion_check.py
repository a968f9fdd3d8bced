import math

import pytest

from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.attitude import GRAVITY
from tanksolve.model.ports import pickup
from tanksolve.pump.motion import accelerate, brake, corner
from tanksolve.pump.motion_check import check_motion, slosh_modes
from tanksolve.pump.slosh import box_frequency, cylinder_frequency

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


def test_waves_of_a_box_and_of_an_upright_cylinder_are_their_closed_forms() -> None:
    longitudinal, lateral = slosh_modes(TANK, FILL)
    assert longitudinal.frequency_hz == pytest.approx(box_frequency(1.2, 0.15), rel=1e-12)
    assert lateral.frequency_hz == pytest.approx(box_frequency(0.5, 0.15), rel=1e-12)
    assert "closed form" in longitudinal.basis
    upright = cylinder(0.6, 0.8, lies="upright")
    first, second = slosh_modes(upright, upright.capacity / 2)
    assert first.frequency_hz == second.frequency_hz
    assert first.frequency_hz == pytest.approx(cylinder_frequency(0.3, 0.4), rel=1e-3)
    assert "upright cylinder" in first.basis


def test_any_other_shape_is_said_to_be_an_estimate() -> None:
    lying = cylinder(0.6, 1.2, lies="along")
    modes = slosh_modes(lying, lying.capacity / 2)
    assert all("estimate" in mode.basis for mode in modes)
    assert modes[0].length_m == pytest.approx(1.2, rel=2e-3)
    assert modes[1].length_m == pytest.approx(0.6, rel=2e-3)


def test_near_excitations_and_baffles_are_told() -> None:
    port = (pickup("p", (0.6, 0.25, 0.0), cover=0.0),)
    first = box_frequency(1.2, 0.15)
    result = check_motion(TANK, port, FILL, [], excitations=[1.1 * first, 9.0], baffles=[0.6])
    assert [wave.near_hz for wave in result.slosh] == [(1.1 * first,), ()]
    assert result.baffles[0].rear_hz == pytest.approx(box_frequency(0.6, 0.15))
