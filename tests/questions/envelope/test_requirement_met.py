"""Whether a requirement is met, and its margin, against the paper method and the envelope."""

import math

import pytest

from tanksolve.geometry.parts import box, extrusion
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.envelope.requirement_met import requirement_met

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
