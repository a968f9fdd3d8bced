"""Limits hold after any drive: a sample of ``campaign_routes``, and every drive that ever broke one."""

import numpy as np
import pytest
from campaign_routes import (
    LOST,
    Judge,
    Limits,
    Start,
    attack,
    beyond,
    drive,
    limits_of,
    loses_at_worst,
)
from lost_drives import DRIVES
from random_walled_tanks import random_case

from tanksolve import envelope
from tanksolve.state.conditions import Conditions

NOWHERE = np.zeros(0)
ANYWHERE = Limits(NOWHERE, NOWHERE, NOWHERE, [], np.radians(80.0), 0, NOWHERE, NOWHERE)


@pytest.mark.parametrize("name", DRIVES)
def test_no_attitude_that_a_drive_lost_is_within_the_limits(name):
    lost_drive = DRIVES[name]
    case = lost_drive.case(name)
    judge = Judge(case)
    places = np.array([place for place, _ in lost_drive.poured]).reshape(-1, 3)
    shares = np.array([share for _, share in lost_drive.poured]) if len(places) else None
    path = drive(ANYWHERE, np.radians(np.array(lost_drive.turns)))
    lost = judge.margins(path[None], Start("", places, shares))[0].min(axis=1) < LOST * judge.size
    assert lost.any(), "the drive breaks no rule: it shows nothing"
    kept = Conditions.of(case.tank, case.ports, case.fill).held(path[lost]).all(axis=1)
    assert not kept.any()


@pytest.fixture(scope="module", params=(14, 22))
def sampled(request):
    """A random tank with a weir across or along it, and its limits as solved."""
    case = random_case(request.param)
    return case, limits_of(case.tank, case.ports, case.fill, 30.0, solved=True), request.param


def test_no_drive_within_the_limits_breaks_a_rule(sampled):
    case, limits, seed = sampled
    tally = attack(case, limits, 300, np.random.default_rng((40, seed)))
    assert tally.attitudes >= 300
    assert tally.lost == 0, tally.worst
    assert loses_at_worst(case, limits, 10, np.random.default_rng((41, seed))) == 0


def test_the_attack_finds_limits_that_are_too_steep(sampled):
    """A fifth more than is told, in every heading: the worst state that can be breaks a rule there."""
    case, limits, seed = sampled
    steep = limits._replace(told=1.2 * limits.told, ring=1.2 * limits.ring)
    assert loses_at_worst(case, steep, 40, np.random.default_rng((41, seed))) > 0


def test_just_beyond_each_limit_the_worst_state_breaks_the_rule(sampled):
    case, limits, _ = sampled
    count, faults = beyond(case, limits)
    assert count
    assert not faults


@pytest.mark.parametrize("seed", [5, 34, 54, 66])
def test_limits_of_flaps_in_a_row_and_of_clearances_are_none_too_careful(seed):
    """What a flap lets through is held back by full hollows, the port's own too; a rim has places of its own."""
    case = random_case(seed)
    count, faults = beyond(case, limits_of(case.tank, case.ports, case.fill, 20.0, solved=True))
    assert count
    assert not faults


@pytest.mark.parametrize("seed", [5, 8, 9, 32])
def test_bounds_close_in_on_limits_over_crests_and_through_passages(seed):
    """A clearance that reaches a floor or a crest, a rim that a wall cuts, a pipe's mouth a hair from a wall.

    Each stopped up to 35 degrees short of the limit once.
    """
    case = random_case(seed)
    found = envelope(case.tank, case.ports, case.fill, every_deg=30.0)
    for row in (*found.limits, found.worst):
        reach = found.searched_to_deg if row.slope_deg is None else row.slope_deg
        assert row.held_to_deg >= reach - found.tolerance_deg - 1e-9, row
