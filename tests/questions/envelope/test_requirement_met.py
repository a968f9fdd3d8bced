"""Whether a requirement is met, and its margin, against the paper method and the envelope."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.internals import block
from tanksolve.geometry.parts import box, extrusion
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.project.load import load
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.envelope.requirement_met import conditions_met, requirement_met
from tanksolve.state.conditions import Conditions

MESHES = Path(__file__).parents[3] / "meshes"
DEG = math.radians(1.0)
BOX = box(0.9, 0.3, 0.3)
PORTS = [pickup("suction", (0.1, 0.15, 0.02)), breather("cap", (0.45, 0.15, 0.3))]


@pytest.mark.parametrize("slope_deg", [5.0, 15.0])
def test_margin_is_the_paper_margin_in_a_box(slope_deg):
    slope = slope_deg * DEG
    (found,) = requirement_met(BOX, PORTS, 0.042, Requirement.every_heading(slope))
    paper = (0.042 / 0.27 - 0.02) * math.cos(slope) - 0.35 * math.sin(slope)
    assert found.margin_m == pytest.approx(paper, abs=1e-9)
    assert found.margin_m - 1.01e-5 <= found.held_margin_m <= found.margin_m
    assert found.met is (paper > 0.0)
    assert (found.port, found.slope_deg) == ("suction", pytest.approx(slope_deg, abs=1e-6))
    assert found.heading_deg == pytest.approx(180.0, abs=1e-3)
    assert found.one_surface


def test_met_up_to_the_limit_of_the_envelope_and_no_further():
    worst = envelope(BOX, PORTS, 0.042, every_deg=15.0).worst.slope_deg
    for slope_deg, met in ((worst - 0.01, True), (worst + 1e-6, False)):
        (found,) = requirement_met(BOX, PORTS, 0.042, Requirement.every_heading(slope_deg * DEG))
        assert found.met is met


def test_each_requirement_is_judged_by_itself_and_the_port_is_named():
    need = Requirement.every_heading(3 * DEG) | Requirement.sides(nose_up=40 * DEG)
    low, high = requirement_met(BOX, PORTS, 0.075, need)
    assert (low.requirement, high.requirement) == need.words
    assert low.met
    assert not high.met
    assert high.port == "cap"


def test_a_tank_where_liquid_may_part_is_said():
    ridge = [(0, 0), (0.2, 0), (0.25, 0.15), (0.3, 0), (0.5, 0), (0.5, 0.3), (0, 0.3)]
    ridged, low = extrusion(ridge, 0.6), [pickup("p", (0.1, 0.1, 0.01))]
    need = Requirement.every_heading(5 * DEG)
    for share, certain in ((0.3, False), (0.9, True)):
        (found,) = requirement_met(ridged, low, share * ridged.capacity, need)
        assert found.one_surface is certain
        assert found.held_margin_m > 0.0
        assert found.met


def test_no_attitude_has_less_margin_than_is_held_and_a_plateau_costs_no_search():
    """The demo at 5 degrees: the middle pickup's margin hardly changes. It took 200,000 cells, 99 s."""
    case = load(MESHES / "hillside_sprayer.toml")
    conditions = Conditions.of(case.tank, case.ports, case.fill)
    [met] = conditions_met(conditions, Requirement.every_heading(math.radians(5.0)))
    rng = np.random.default_rng(5)
    slope = math.radians(5.0) * np.sqrt(rng.random(400))
    up = up_from_slope_heading(slope, rng.uniform(0.0, math.tau, 400))
    least = conditions.margins(up[:, None]).min()
    assert met.held_margin_m <= met.margin_m <= least
    assert met.held_margin_m >= met.margin_m - 1.1e-5


def test_kept_by_more_is_kept_with_more_cover():
    """Beyond its rule by 12 mm: as a pickup with more cover, and a breather with more clearance."""
    tank, by = load(MESHES / "two_bays.toml").tank, 0.012
    ports = [
        pickup("p", (0.25, 0.2, 0.05), cover=0.02),
        breather("b", (0.7, 0.2, 0.28), cover=0.01),
    ]
    more = [replace(port, cover=port.required_cover + by) for port in ports]
    lifted = replace(Conditions.of(tank, ports, 0.05), beyond=by)
    plain = Conditions.of(tank, more, 0.05)
    up = up_from_slope_heading(np.radians([3.0, 12.0, 25.0]), np.radians([10.0, 100.0, 200.0]))
    for one, other in (
        (lifted.needs(lifted.groups, up), plain.needs(plain.groups, up)),
        (lifted.margins(up[:, None]), plain.margins(up[:, None])),
    ):
        np.testing.assert_allclose(one, other, atol=1e-12)


def test_a_floor_within_the_margin_of_a_breather_does_not_make_it_larger():
    """A block under it that stands out of the liquid: with a clearance it may be wet up to the floor, but
    what is told of the margin is what the level leaves."""
    parts = Parts(box(0.6, 0.4, 0.3), internals=(block("block", (0.2, 0.1, 0.0), 0.2, 0.2, 0.2),))
    tank, fill = build(parts), 0.19 * (0.6 * 0.4 - 0.2 * 0.2)
    conditions = Conditions.of(tank, [breather("b", (0.3, 0.2, 0.21))], fill)
    up = np.array([[0.0, 0.0, 1.0]])
    hulls = up[:, None] + 1e-6 * np.array([[1, 1, 0], [1, -1, 0], [-1, 1, 0], [-1, -1, 0]])
    for beyond, kept in ((0.019, True), (0.021, False), (0.04, False)):
        lifted = replace(conditions, beyond=beyond)
        needs = lifted.needs_of_one_surface(lifted.groups, up, hulls)
        assert (needs <= lifted.amounts(lifted.groups)).all() == kept
