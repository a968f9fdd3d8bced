"""The line through the limits: all inside it is held, between the headings listed too."""

import math

import numpy as np
import pytest
from envelopes import MadeProver
from tanks import box_tank

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.model.ports import pickup
from tanksolve.questions.envelope.edge import shares_between
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.state.conditions import Conditions

SIZE = (0.9, 0.3, 0.3)
FRONT, REAR = pickup("front", (0.87, 0.265, 0.02)), pickup("rear", (0.03, 0.045, 0.02))


def on_the_line(edge, slopes, heading):
    """Slope [°] of the line, straight from row to row on a polar plan, at ``heading`` (K,) [°]."""
    ends = np.append([row.heading_deg for row in edge.rows], edge.rows[0].heading_deg + 360.0)
    a = np.append(slopes, slopes[0])
    k = np.clip(np.searchsorted(ends, heading, side="right") - 1, 0, len(ends) - 2)
    t, gap = np.radians(heading - ends[k]), np.radians(ends[k + 1] - ends[k])
    return a[k] * a[k + 1] * np.sin(gap) / (a[k] * np.sin(t) + a[k + 1] * np.sin(gap - t))


def held_inside(found, conditions, slopes, share):
    heading = np.arange(0.125, 360.0, 0.25)
    slope = share * on_the_line(found.edge, slopes, heading)
    return conditions.held(up_from_slope_heading(*np.radians([slope, heading]))).all(axis=1)


def test_a_notch_between_headings_is_left_out():
    """Each of two pickups is enough: where both are nearly dry is a notch between two headings."""
    box, ports = box_tank(SIZE), [FRONT, REAR]
    found = envelope(box, ports, 0.012, pickups="any")
    conditions = Conditions.of(box, ports, 0.012, "any")
    edge = found.edge
    straight = np.array([row.held_to_deg for row in edge.rows])
    assert not held_inside(found, conditions, straight, 1.0).all(), "there is a notch"
    for share in (1.0, 0.8, 0.5):
        assert held_inside(found, conditions, edge.held_deg, share).all()
    assert min(edge.held_deg) > 0.95 * found.worst.held_to_deg
    nearest = min(edge.rows, key=lambda row: abs(row.heading_deg - found.worst.heading_deg))
    assert nearest.held_to_deg == found.worst.held_to_deg, "the worst is a corner of the line"


@pytest.mark.parametrize("every", [5.0, 30.0, 90.0])
def test_the_line_loses_little_where_there_is_no_notch(every):
    box, port = box_tank(SIZE), [pickup("suction", (0.1, 0.2, 0.06))]
    found = envelope(box, port, 0.03, every_deg=every)
    edge = found.edge
    assert held_inside(found, Conditions.of(box, port, 0.03, "all"), edge.held_deg, 1.0).all()
    listed = {row.heading_deg: told for row, told in zip(edge.rows, edge.held_deg, strict=True)}
    assert all(listed[row.heading_deg] <= row.held_to_deg for row in found.limits)
    if every == 5.0:
        assert all(listed[row.heading_deg] > 0.96 * row.held_to_deg for row in found.limits)


def test_shares_of_a_line_and_of_what_is_lost_below_it():
    headings = np.radians(np.arange(0.0, 360.0, 10.0))
    slopes = np.full(36, math.radians(30.0))
    share, lost = shares_between(
        MadeProver(lambda k: 15.0 if 42.0 < k < 48.0 else 31.0), headings, slopes
    )
    assert share[4] == pytest.approx(0.5, abs=0.01)
    assert 0.5 < lost[4] < 0.52
    assert (np.delete(share, 4) == 1.0).all()
    assert np.isinf(np.delete(lost, 4)).all()


def test_one_heading_has_one_figure():
    """The worst of all headings, and the row of its own heading: never two figures for one thing."""
    box = box_tank(SIZE)
    for height in np.linspace(0.02, 0.09, 15):
        ports = [pickup("suction", (0.1, 0.15, float(height)))]
        found = envelope(box, ports, 0.03, every_deg=15.0)
        (row,) = [r for r in found.limits if abs(r.heading_deg - found.worst.heading_deg) < 0.05]
        assert row.held_to_deg == found.worst.held_to_deg
        assert row.grade_percent == found.worst.grade_percent


class Disc:
    """All slopes to 20 degrees are held, and nothing is known beyond."""

    def held(self, up):
        return np.ones((len(up), 1), bool)

    def held_over(self, cells):
        return cells[:, 1] <= math.radians(20.0) + 1e-12


def test_a_cell_reaches_as_far_out_as_the_line_above_it_does():
    headings = np.radians(np.arange(0.0, 360.0, 60.0))
    share, lost = shares_between(Disc(), headings, np.radians([20.0, 40.0] * 3))
    assert np.isinf(lost).all()
    assert (share <= 0.5).all()
    assert (share > 0.49).all()


def test_a_line_that_runs_steeply_outwards_is_proved_as_closely():
    """From 5 to 30 degrees within one gap: the held part is the triangle below the line itself."""
    box, port = box_tank(SIZE), [pickup("b", (0.7, 0.1, 0.04), bore=0.03, facing="down")]
    found = envelope(box, port, 0.03)
    assert held_inside(found, Conditions.of(box, port, 0.03, "all"), found.edge.held_deg, 1.0).all()
