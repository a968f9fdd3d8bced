"""Air at an attitude: which of it vents, what is said of the rest, and that what is said is right."""

import math

import numpy as np
import pytest

from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup
from tanksolve.model.tank import Tank
from tanksolve.questions.level.air import air_above, roof_bays
from tanksolve.questions.level.pools import pools
from tanksolve.questions.level.shut_bays import shut_bays
from tests.pool_tanks import arrays, box

WIDTH, ROOF, EDGE = 0.4, 0.3, 0.06
REAR, FRONT = 0.5, 0.494  # lengths of the bays
VENT = breather("vent", (0.1, 0.2, ROOF))
SUCTION = pickup("suction", (0.9, 0.2, 0.02))
CAPACITY = WIDTH * (ROOF - 0.006 * (ROOF - EDGE))
ATMOSPHERE, WEIGHT = 101325.0, 870.0 * 9.80665


def hung():
    solid = box((0, 0, 0), (1, WIDTH, ROOF)) - box((REAR, -1, EDGE), (0.506, 1, 1))
    return Tank("hung", *arrays(solid))


def fill_to(height):
    return WIDTH * (height - 0.006 * (height - EDGE))


def air_at(volume, ports, attitude=None, tank=None):
    tank = tank or hung()
    return air_above(tank, pools(tank, volume, attitude, ports), ports, density=870.0)


def nose_up(degrees):
    return Attitude.from_rotations(math.radians(degrees), 0.0)


def test_the_bay_without_a_breather_is_told_with_its_bounds():
    found = air_at(fill_to(0.2), [VENT, SUCTION])
    open_, shut = found.pockets
    assert (open_.vented, open_.breathers, open_.ports) == (True, ("vent",), ())
    assert (shut.vented, shut.breathers, shut.ports) == (False, (), ("suction",))
    assert shut.volume_m3 == pytest.approx(FRONT * WIDTH * 0.1, rel=1e-9)
    assert shut.top_point_m[2] == pytest.approx(ROOF)
    assert shut.edge_depth_m == pytest.approx(0.2 - EDGE, rel=1e-9)
    assert shut.shut_in_most_m3 == pytest.approx(FRONT * WIDTH * (ROOF - EDGE), rel=1e-9)
    assert shut.lower_elsewhere_m == pytest.approx(FRONT / REAR * 0.1, rel=1e-9)
    assert shut.higher_elsewhere_m == pytest.approx(FRONT / REAR * 0.14, rel=1e-9)
    head = WEIGHT * (shut.edge_depth_m + shut.higher_elsewhere_m)
    assert shut.squeezed_most == pytest.approx(1.0 - ATMOSPHERE / (ATMOSPHERE + head), rel=1e-4)
    assert [open_.edge_depth_m, open_.lower_elsewhere_m, open_.squeezed_most] == [None] * 3
    (words,) = found.warnings
    assert words.startswith("air body 2 (19.76 L over suction) cannot vent")
    assert "140.0 mm under liquid" in words


def test_levels_fall_no_further_than_the_edge_lets_air_in():
    found = air_at(fill_to(0.1), [VENT, SUCTION])
    assert found.pockets[1].volume_m3 / (REAR * WIDTH) > 0.04  # more than what the edge allows
    assert found.pockets[1].lower_elsewhere_m == pytest.approx(0.04, rel=1e-9)


def test_filled_with_the_air_shut_in_the_levels_are_within_the_bounds():
    """The same tank solved with Boyle's law: air of the front bay shut in at the edge."""
    volume = fill_to(0.2)
    pocket = next(p for p in air_at(volume, [VENT, SUCTION]).pockets if not p.vented)

    def liquid(depth):
        """All liquid when it stands at ``depth`` in the bay whose air is shut in, and the other's."""
        pressure = ATMOSPHERE * (ROOF - EDGE) / (ROOF - depth)
        other = depth + (pressure - ATMOSPHERE) / WEIGHT
        return WIDTH * (depth * FRONT + other * REAR + EDGE * 0.006), other

    low, high = EDGE, 0.2
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if liquid(middle)[0] < volume else (low, middle)
    under, other = low, liquid(low)[1]
    assert 0.2 < other <= 0.2 + pocket.higher_elsewhere_m
    assert 0.2 - pocket.edge_depth_m <= under < 0.2
    assert other == pytest.approx(0.2 + pocket.higher_elsewhere_m, rel=0.02)  # and not idle bounds
    squeezed = 1.0 - (ROOF - under) / (ROOF - EDGE)
    assert 0.8 * pocket.squeezed_most < squeezed <= pocket.squeezed_most


def test_drawn_down_with_the_air_shut_in_the_levels_are_within_the_bounds():
    """Air shut in with liquid near the roof, then drawn down through the other bay."""
    left = 0.02  # depth of the air when it was shut in
    volume = fill_to(0.2)
    pocket = next(p for p in air_at(volume, [VENT, SUCTION]).pockets if not p.vented)

    def liquid(air):
        pressure = ATMOSPHERE * left / air
        other = (ROOF - air) - (ATMOSPHERE - pressure) / WEIGHT
        return WIDTH * ((ROOF - air) * FRONT + other * REAR + EDGE * 0.006), other

    low, high = left, 0.1
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if liquid(middle)[0] > volume else (low, middle)
    other = liquid(low)[1]
    assert 0.2 - pocket.lower_elsewhere_m <= other < 0.2
    assert other < 0.2 - 0.5 * pocket.lower_elsewhere_m


def test_a_breather_under_liquid_does_not_vent():
    tube = breather("tube", (0.1, 0.2, 0.15), bore=0.03)
    half_wet = air_at(fill_to(0.14), [tube, SUCTION])
    assert half_wet.breathers_under_liquid == ("tube",)
    assert [p.vented for p in half_wet.pockets] == [False, False]
    assert [p.edge_depth_m for p in half_wet.pockets] == [None, None]  # no edge leads to a vent
    assert half_wet.warnings[0].startswith("breather tube is under liquid")
    assert "vacuum" in half_wet.warnings[1]
    dry = air_at(fill_to(0.13), [tube, SUCTION])
    assert dry.breathers_under_liquid == ()
    assert [p.vented for p in dry.pockets] == [True, False]


def test_a_closed_box_says_what_vacuum_the_first_litre_pulls():
    tank = Tank("box", *arrays(box((0, 0, 0), (0.9, 0.3, 0.3))))
    ports = [breather("vent", (0.85, 0.15, 0.3)), pickup("low", (0.85, 0.15, 0.02))]
    found = air_at(0.06, ports, nose_up(-45.0), tank)
    assert found.breathers_under_liquid == ("vent",)
    pull = ATMOSPHERE * (1.0 - 21.0 / 22.0) / 1000.0
    assert f"{pull:.1f} kPa" in found.warnings[1]
    fine = air_at(0.06, ports, None, tank)
    assert [p.vented for p in fine.pockets] == [True]
    assert fine.warnings == ()


def test_without_a_breather_nothing_is_known():
    found = air_at(fill_to(0.2), [SUCTION])
    assert [p.vented for p in found.pockets] == [None, None]
    assert [p.edge_depth_m for p in found.pockets] == [None, None]
    assert len(found.warnings) == 1
    assert "no breather is given" in found.warnings[0]
    assert air_at(fill_to(0.05), [SUCTION]).warnings == ()


def test_a_full_tank_has_no_air():
    assert air_at(hung().capacity, [VENT, SUCTION]).pockets == ()


def test_a_pickup_under_shut_air_is_named_once_with_the_attitudes():
    places = [("on level ground", Attitude.level()), ("nose up", nose_up(20.0))]
    (words,) = shut_bays(hung(), [VENT, SUCTION], fill_to(0.2), places)
    assert words.startswith("the air over pickup suction cannot vent on level ground, nose up")
    vents = [VENT, breather("second", (0.9, 0.2, ROOF))]
    assert shut_bays(hung(), [*vents, SUCTION], fill_to(0.2), places) == ()
    assert shut_bays(hung(), [SUCTION], fill_to(0.2), places) == ()
    assert shut_bays(hung(), [VENT, SUCTION], fill_to(0.05), places[:1]) == ()


def test_the_bay_whose_roof_has_no_vent_is_named():
    ends = np.array([[0, 0, 0], [0.5, 0.4, 0.3], [0.506, 0, 0], [1, 0.4, 0.3]])
    bays = [("behind", ends[0], ends[1]), ("ahead", ends[2], ends[3])]
    (found,) = roof_bays(hung(), [VENT, SUCTION], bays)
    assert found.names == ("ahead",)
    assert found.edge_m == pytest.approx(EDGE)
    assert found.shut_in_m3 == pytest.approx(FRONT * WIDTH * (ROOF - EDGE))
    assert "filled past 60.0 mm" in found.words
    assert roof_bays(hung(), [VENT, breather("b", (0.9, 0.2, ROOF))], bays) == ()
    sealed = box((0, 0, 0), (1, WIDTH, ROOF)) - box((REAR, -1, -1), (0.506, 1, 1))
    (shut,) = roof_bays(Tank("sealed", *arrays(sealed)), [VENT])
    assert shut.edge_m is None
    assert shut.shut_in_m3 == pytest.approx(FRONT * WIDTH * ROOF)
    assert "no way to a breather" in shut.words
