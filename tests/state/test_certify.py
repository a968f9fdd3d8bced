"""Bounds proved by cells, and roots by halving, on their own: against the box's closed form."""

import math

import numpy as np
import pytest
from closed_forms import floor_edge_dries
from tanks import box_tank, tank

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.model.ports import breather, pickup
from tanksolve.state import certify
from tanksolve.state.certify import close_in, held_out_to, worst_of_all_headings
from tanksolve.state.conditions import Conditions

L, W, D = 1.2, 0.5, 0.15
TOLERANCE = math.radians(0.05)
LIMIT = math.radians(60.0)
ROOT = floor_edge_dries(D, L)


def edge_of_the_floor():
    """Lost nose up at exactly ``ROOT``."""
    return Conditions.of(box_tank((L, W, 0.8)), [pickup("s", (L, 0.25, 0.0))], L * W * D)


def test_bound_along_a_heading_is_just_short_of_the_root():
    headings = np.radians([0.0, 180.0])
    start = np.zeros(2)
    held = held_out_to(edge_of_the_floor(), headings, start, np.full(2, LIMIT), TOLERANCE)
    assert ROOT - TOLERANCE <= held[0] <= ROOT
    assert held[1] == LIMIT  # nose down, the pickup is at the low end


def test_bound_starts_where_it_is_told_and_goes_no_further_than_it_is_told():
    conditions = edge_of_the_floor()
    out = held_out_to(
        conditions, np.zeros(3), np.array([0.0, 0.2, 0.3]), np.array([0.1, LIMIT, LIMIT]), TOLERANCE
    )
    assert out[0] == 0.1
    assert 0.2 < out[1] <= ROOT
    assert out[2] == 0.3  # already lost there: nothing is proved


def test_halving_ends_on_the_root():
    conditions = edge_of_the_floor()
    inside, outside = close_in(conditions, np.zeros(2), np.array([0.0, 0.2]), np.full(2, 1.0))
    np.testing.assert_allclose(inside, ROOT, atol=2e-12)
    assert np.all(inside < outside)
    assert np.all(outside - inside <= 1e-12)
    held = conditions.held(up_from_slope_heading(np.stack([inside, outside]), 0.0).reshape(-1, 3))
    assert held.ravel().tolist() == [True, True, False, False]


def test_bracket_may_be_given_outside_in():
    """The far end of an island has the held slope outside: halving minds only which is which."""
    inside, outside = close_in(edge_of_the_floor(), np.zeros(1), np.array([0.1]), np.array([0.9]))
    assert inside[0] < outside[0]
    # the same loss seen from the lost side
    conditions = Conditions.of(box_tank((L, W, 0.8)), [pickup("s", (0.0, 0.25, 0.2))], L * W * D)
    inside, outside = close_in(conditions, np.zeros(1), np.array([0.5]), np.array([0.0]))
    # tilted nose up the rear rises from 0.15 to 0.2 m: tan = 2 x 0.05 / 1.2
    assert inside[0] == pytest.approx(math.atan(0.1 / 1.2), abs=2e-12)
    assert outside[0] < inside[0]


def test_worst_of_all_headings_is_capped_by_the_loss():
    cap, where = worst_of_all_headings(edge_of_the_floor(), LIMIT, TOLERANCE)
    # in the middle of the edge the worst heading is straight nose up
    assert ROOT - TOLERANCE <= cap <= ROOT
    assert math.cos(where) > math.cos(math.radians(8.0))


def test_worst_of_all_headings_uncapped():
    cap, where = worst_of_all_headings(edge_of_the_floor(), 0.5 * ROOT, TOLERANCE)
    assert cap == 0.5 * ROOT
    assert math.isnan(where)
    assert worst_of_all_headings(edge_of_the_floor(), 0.0, TOLERANCE)[0] == 0.0


@pytest.mark.parametrize("most", [30, 200])
def test_running_out_of_cells_lowers_the_bound_and_never_raises_it(monkeypatch, most):
    whole, _ = worst_of_all_headings(edge_of_the_floor(), LIMIT, TOLERANCE)
    monkeypatch.setattr(certify, "_MOST_CELLS", most)
    cap, where = worst_of_all_headings(edge_of_the_floor(), LIMIT, TOLERANCE)
    assert 0.0 <= cap < whole
    assert not math.isnan(where)


@pytest.mark.parametrize("name", ["L", "saddle", "stepped"])
def test_no_attitude_below_the_cap_is_lost(name):
    low, high = {
        "L": ((0.9, 0.2, 0.05), (0.2, 0.3, 0.85)),
        "saddle": ((0.2, 0.2, 0.1), (0.9, 0.0, 0.59)),
        "stepped": ((0.5, -0.25, 0.06), (0.3, -0.1, 0.59)),
    }[name]
    mesh = tank(name)
    ports = [pickup("s", low), breather("v", high)]
    conditions = Conditions.of(mesh, ports, 0.55 * mesh.capacity)
    cap, where = worst_of_all_headings(conditions, LIMIT, TOLERANCE)
    assert 0.01 < cap < LIMIT
    rng = np.random.default_rng(1)
    slope = cap * np.sqrt(rng.uniform(size=3000))
    slope[:1000] = cap
    up = up_from_slope_heading(slope, rng.uniform(0.0, 2.0 * np.pi, 3000))
    assert conditions.held(up).all()
    # and the cap is not shy: a little further out, near the capping cell, a rule is broken
    around = up_from_slope_heading(cap + TOLERANCE, where + np.radians(np.linspace(-1, 1, 201)))
    assert not conditions.held(around).all()


def test_halved_cells_cover_what_they_were():
    cells = np.array([[0.0, 0.2, 1.0, 2.0], [0.2, 0.4, 1.0, 2.0]])
    parts = certify._halve(cells, np.array([True, False]))
    assert len(parts) == 4
    area = (parts[:, 1] - parts[:, 0]) * (parts[:, 3] - parts[:, 2])
    np.testing.assert_allclose(area, 0.1)
    assert sorted(map(tuple, parts.round(12).tolist())) == [
        (0.0, 0.1, 1.0, 2.0),
        (0.1, 0.2, 1.0, 2.0),
        (0.2, 0.4, 1.0, 1.5),
        (0.2, 0.4, 1.5, 2.0),
    ]


class Line:
    """An amount that lacks, of the slope alone: any function of it [rad]."""

    def __init__(self, of):
        self.of, self.asked = of, 0

    def lacking(self, up):
        self.asked += 1
        return self.of(np.arccos(up[:, 2]))[:, None]


@pytest.mark.parametrize(
    ("of", "root", "most"),
    [
        (lambda s: np.sinh(5.0 * (s - 0.3)), 0.3, 14),  # smooth
        (lambda s: np.where(s > 0.3, 7.0, -1e-9), 0.3, 45),  # jumps
        (lambda s: np.where(s > 0.3, s - 0.3, 0.0), 0.3, 45),  # nothing to spare before it
        (lambda s: np.where(s > 0.3, np.inf, s - 1.0), 0.3, 45),  # without end beyond it
        (lambda s: (s - 0.3) ** 9, 0.3, 45),  # flat
    ],
)
def test_a_bracket_closes_whatever_the_function_is(of, root, most):
    line = Line(of)
    inside, outside = close_in(line, np.zeros(1), np.array([0.0]), np.array([1.0]))
    assert 0.0 <= outside - inside <= 1e-12 or (of(inside) <= 0.0 < of(outside)).all()
    assert inside == pytest.approx(root, abs=1e-11 if most == 14 else 1e-8)
    assert (of(inside) <= 0.0).all()
    assert (of(outside) > 0.0).all()
    assert line.asked <= most


def test_a_bracket_that_begins_lost_is_empty_though_more_of_it_is_held():
    """Level the pickup is dry; nose up it is wet, then the vent beside it is flooded: none holds from level on."""
    ports = [pickup("s", (0.0, 0.25, 0.2)), breather("vent", (0.0, 0.25, 0.5))]
    conditions = Conditions.of(box_tank((L, W, 0.8)), ports, L * W * D)
    slopes = np.array([0.0, 0.3, 0.62])
    held = conditions.held(up_from_slope_heading(slopes, np.zeros(3))).all(axis=1)
    assert held.tolist() == [False, True, False]
    inside, outside = close_in(conditions, np.zeros(2), slopes[:2], np.full(2, 0.62))
    assert inside[0] == outside[0] == 0.0
    flooded = math.atan(0.5**2 / (2.0 * L * D))  # a wedge of half the length is not all the floor
    assert inside[1] == pytest.approx(flooded, abs=1e-9)
