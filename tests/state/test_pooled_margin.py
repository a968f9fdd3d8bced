"""Requirements judged by pools: the same as one level where there is one, right where it is not."""

from pathlib import Path

import numpy as np
import pytest
from program import answer, run

from tanksolve.geometry.parts import box, extrusion
from tanksolve.model.ports import breather, pickup
from tanksolve.project.load import load
from tanksolve.project.requirements import parse_requirements
from tanksolve.state.conditions import Conditions
from tanksolve.state.pooled_margin import least_pooled_margin
from tanksolve.state.required_margin import least_margin
from tanksolve.state.required_ways import COARSE, FINE, required_ways
from tanksolve.state.ways import Settling

FILE = Path(__file__).parents[2] / "meshes" / "two_bays.toml"
TWO = load(FILE)


def judged(text, fineness=FINE):
    conditions = Conditions.of(TWO.tank, TWO.ports, 0.04, "all")
    return least_pooled_margin(conditions, parse_requirements([text]), fineness)


@pytest.mark.parametrize("text", ["12deg", "pitch=10deg,roll=6deg", "8deg,brake=0.1g"])
@pytest.mark.parametrize("fineness", [COARSE, FINE])
def test_in_a_plain_box_the_pools_say_what_one_level_says(text, fineness):
    tank = box(0.9, 0.3, 0.3)
    ports = [pickup("p", (0.45, 0.15, 0.02)), breather("b", (0.45, 0.15, 0.3))]
    conditions = Conditions.of(tank, ports, 0.042, "all")
    requirement = parse_requirements([text])
    found = least_pooled_margin(conditions, requirement, fineness)
    exact = -least_margin(conditions, requirement, 1e-6).value
    assert found.margin_m >= exact - 1e-9  # a sample cannot be worse than the worst
    assert found.margin_m <= exact + 0.004


@pytest.mark.parametrize(
    "text", ["12deg", "pitch=10deg,roll=6deg", "8deg,brake=0.1g", "nose_up=9deg"]
)
def test_what_is_judged_is_required(text):
    requirement = parse_requirements([text])
    for way in required_ways(requirement, COARSE):
        up = way.paths[way.required]
        inward = up + 1e-6 * np.array([0.0, 0.0, 1.0])
        inward /= np.linalg.norm(inward, axis=1, keepdims=True)
        assert np.all(requirement.holds(up) | requirement.holds(inward))
        assert way.required.any()
        assert np.allclose(way.paths[:, 0], [0.0, 0.0, 1.0])


def test_the_wall_that_cuts_a_pickup_off_is_found():
    """The limit nose down is 15.14 degrees by pools, 39.5 by one level."""
    assert judged("14.9deg").holds
    lost = judged("15.4deg")
    assert not lost.holds
    assert lost.heading_deg == pytest.approx(180.0)
    assert lost.port == "pickup"


def test_envelope_answers_a_requirement_by_pools_both_ways():
    """Nose up 32 degrees one level says lost and the pools hold; 17 degrees the other way round."""
    up = answer("envelope", str(FILE), "--every", "90deg", "--require", "slope=32deg,heading=0deg")
    assert up["requirements"][0]["met"] is True
    assert up["requirements"][0]["margin_m"] < 0.0 < up["requirements"][0]["pooled"]["margin_m"]
    done = run("envelope", str(FILE), "--every", "90deg", "--require", "17deg")
    assert done.returncode == 3
    assert "NO: not held" in done.stdout
    one = run("envelope", str(FILE), "--every", "90deg", "--require", "17deg", "--one-level")
    assert one.returncode == 0


def test_a_port_that_rounding_puts_beyond_its_wall_is_judged_as_on_it():
    """A drop from a point outside the tank meets nothing, and nothing must not count as held."""
    requirement, margins = parse_requirements(["10deg"]), []
    for x in (0.497 - 1e-6, 0.497, 0.497 + 1e-9, 0.497 + 5e-7):
        port = pickup("p", (x, 0.2, 0.025), bore=0.02, cover=0.02)
        conditions = Conditions.of(TWO.tank, [port], 0.04, "all")
        margins.append(least_pooled_margin(conditions, requirement, COARSE).margin_m)
    assert margins == pytest.approx([margins[0]] * 4, abs=2e-6)


def test_a_point_on_a_wall_edge_or_corner_is_seated_inside():
    tank = TWO.tank
    for point in ((0.0, 0.2, 0.1), (1.0, 0.0, 0.1), (0.0, 0.0, 0.0), (0.497, 0.2, 0.0)):
        inside = tank.seated(point)
        assert tank.winding(inside)[0] == pytest.approx(1.0)
        assert np.abs(inside - point).max() < 1e-6
    middle = (0.25, 0.2, 0.1)
    assert np.array_equal(tank.seated(middle), middle)


def test_a_point_at_the_tip_of_a_thin_wedge_is_seated_inside():
    """None of the directions along axes and diagonals leads into it: the bisector does."""
    slant = np.tan(np.radians([12.0, 32.0]))
    wedge = extrusion(np.array([(0.0, 0.0), (1.0, slant[0]), (1.0, slant[1])]), 0.3)
    at = np.array([0.15, 0.0, 0.0])
    assert wedge.distance_to_wall(at) == 0.0
    inside = wedge.seated(at)
    assert wedge.winding(inside)[0] == pytest.approx(1.0)
    assert np.abs(inside - at).max() < 1e-5


def test_a_port_over_nothing_is_never_held():
    """Such a port has no level; a margin that is no number would pass as held by comparison."""
    conditions = Conditions.of(TWO.tank, TWO.ports, 0.04, "all")
    settling = Settling(conditions)
    settling.places = [np.array([9.0, 9.0, 9.0]) for _ in settling.places]
    margin, _ = settling.margins(np.array([[[0.0, 0.0, 1.0]]]), poured=False)
    assert margin[0, 0] == -np.inf
