"""Requirements hold the attitudes they say, and presets are those that were read in their source."""

import math

import numpy as np
import pytest

from tanksolve.errors import RequirementError
from tanksolve.kernel.attitude.direction import (
    up_from_inclinometer,
    up_from_pitch_roll,
    up_from_slope_heading,
)
from tanksolve.model.attitude import GRAVITY, Attitude
from tanksolve.model.requirement import Meaning, Requirement
from tanksolve.model.requirement_presets import PRESETS, preset

DEG = math.radians(1.0)


def holds(requirement, up) -> bool:
    return bool(requirement.holds(np.atleast_2d(up))[0])


def test_every_heading_is_a_cone():
    need = Requirement.every_heading(15 * DEG)
    for heading in np.arange(-0.1, 6.4, 0.5):
        assert holds(need, up_from_slope_heading(14.999 * DEG, heading))
        assert not holds(need, up_from_slope_heading(15.001 * DEG, heading))


def test_box_holds_every_combination_and_pitch_roll_mean_readings():
    need = Requirement.box(20 * DEG, 10 * DEG)
    for p in (-19.99, 0.0, 19.99):
        for r in (-9.99, 0.0, 9.99):
            assert holds(need, up_from_inclinometer(p * DEG, r * DEG))
    assert not holds(need, up_from_inclinometer(20.01 * DEG, 0.0))
    assert not holds(need, up_from_inclinometer(0.0, -10.01 * DEG))
    # as rotations the same pair is less steep, by docs/conventions.md
    steep, turned = up_from_inclinometer(20 * DEG, 10 * DEG), up_from_pitch_roll(20 * DEG, 10 * DEG)
    assert steep[2] < turned[2]
    assert holds(Requirement.box(20 * DEG, 10 * DEG, Meaning.ROTATIONS), turned)


def test_sides_differ():
    need = Requirement.sides(nose_up=30 * DEG, nose_down=15 * DEG, right_down=5 * DEG)
    assert holds(need, up_from_inclinometer(29 * DEG, 4 * DEG))
    assert not holds(need, up_from_inclinometer(-16 * DEG, 0.0))
    assert not holds(need, up_from_inclinometer(0.0, -1 * DEG))


def test_braking_looks_like_nose_down_and_cornering_works_both_ways():
    need = Requirement.accelerations(brake=0.5 * GRAVITY, corner=0.8 * GRAVITY)
    level = Attitude.level()
    for x in (-0.499, -0.2, 0.0):
        for y in (-0.799, 0.0, 0.799):
            assert holds(need, level.with_acceleration((x * GRAVITY, y * GRAVITY, 0.0)).up)
    assert not holds(need, level.with_acceleration((-0.501 * GRAVITY, 0.0, 0.0)).up)
    assert not holds(need, level.with_acceleration((0.01 * GRAVITY, 0.0, 0.0)).up)
    down = level.with_acceleration((-0.5 * GRAVITY, 0.0, 0.0))
    assert math.degrees(down.inclinometer[0]) == pytest.approx(-26.5651, abs=1e-4)


def test_single_attitudes_join():
    need = Requirement.single(Attitude.from_slope(20 * DEG, 90 * DEG)) | Requirement.every_heading(
        5 * DEG
    )
    assert len(need.words) == 2
    cells = need.cells()
    assert len(cells.box) == 1 + 18
    assert holds(need, up_from_slope_heading(4 * DEG, 1.0))


def test_cells_cover_the_patch_and_no_more():
    for need in (Requirement.every_heading(50 * DEG), Requirement.box(30 * DEG, 25 * DEG)):
        cells = need.cells()
        patch = need.patches[0]
        area = (cells.box[:, 1] - cells.box[:, 0]) * (cells.box[:, 3] - cells.box[:, 2])
        assert area.sum() == pytest.approx((patch.a[1] - patch.a[0]) * (patch.b[1] - patch.b[0]))
        assert (
            max(np.ptp(cells.box[:, :2], axis=1).max(), np.ptp(cells.box[:, 2:], axis=1).max())
            <= 20.001 * DEG
        )


@pytest.mark.parametrize(
    "make",
    [
        lambda: Requirement.every_heading(-1 * DEG),
        lambda: Requirement.every_heading(90 * DEG),
        lambda: Requirement.box(50 * DEG, 50 * DEG),
        lambda: Requirement.box(-1 * DEG, 5 * DEG),
        lambda: Requirement.accelerations(brake=-1.0),
        lambda: Requirement.every_heading(math.nan),
        lambda: Requirement(()),
        lambda: preset("no-such-rule"),
    ],
)
def test_what_no_machine_can_do_is_refused(make):
    with pytest.raises(RequirementError):
        make()


@pytest.mark.parametrize("name", PRESETS)
def test_presets_say_their_source_and_to_check_the_edition(name):
    need = preset(name)
    assert PRESETS[name].source in need.source
    assert need.source.endswith("check the edition that binds you")


@pytest.mark.parametrize(
    ("name", "held", "lost"),
    [
        ("offshore-static", (5, 15), (5.1, 15)),
        ("offshore-dynamic", (7.5, 22.5), (7.5, 22.6)),
        ("offshore-emergency", (10, 22.5), (10.1, 0)),
        ("modu-dynamic", (7.5, 22.5), (7.6, 0)),
        ("mil-c-62326b", (math.degrees(math.atan(0.75)), 0), (30, 10)),
        ("mil-t-83808", (0, math.degrees(math.atan(0.10))), (5, 5)),
    ],
)
def test_preset_figures_are_those_of_the_rules(name, held, lost):
    """Readings (pitch, roll) in degrees, from the rules named in each preset."""
    inside = np.array(held) * DEG * (1 - 1e-9)
    assert holds(preset(name), up_from_inclinometer(*inside))
    assert holds(preset(name), up_from_inclinometer(*-inside))
    assert not holds(preset(name), up_from_inclinometer(*(np.array(lost) * DEG)))
