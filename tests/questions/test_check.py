import math
from dataclasses import replace
from pathlib import Path

import pytest
from tanks import block, from_manifold
from walled_tank import rod

from tanksolve.errors import FillError, PortError
from tanksolve.geometry.parts import box, extrusion
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, drain, heater, pickup, return_line
from tanksolve.model.requirement import Requirement
from tanksolve.model.sight import distance_along, wall_between
from tanksolve.model.tank import Tank
from tanksolve.project.load import load
from tanksolve.questions.check import PRACTICE, Finding, Layout, Verdict, check_layout

MESHES = Path(__file__).parents[2] / "meshes"


def tube_from_the_rear() -> Tank:
    """A box with a tube, 36 mm across, that stands 200 mm into it from the middle of its rear wall."""
    pipe = rod(0.018, 0.2, "x", (0.1, 0.15, 0.15))
    return from_manifold("tube", block((0.9, 0.3, 0.3)) - pipe)


# A tank 1000 x 400 x 500 mm with a 20 mm wall across it at mid-length, 300 mm high.
OUTLINE = [(0, 0), (0.49, 0), (0.49, 0.3), (0.51, 0.3), (0.51, 0), (1, 0), (1, 0.5), (0, 0.5)]
PORTS = (
    pickup("suction", (0.25, 0.2, 0.13), bore=0.038, facing="down"),
    return_line("return", (0.8, 0.2, 0.15), bore=0.025, facing="down"),
    breather("breather", (0.5, 0.2, 0.48), bore=0.02, facing="down"),
    drain("drain", (0.1, 0.2, 0.0)),
    heater("heater", (0.3, 0.1, 0.06)),
)


@pytest.fixture(scope="module")
def walled() -> Tank:
    return extrusion(OUTLINE, 0.4, "across")


def good(tank: Tank) -> Layout:
    return Layout(
        *(tank, PORTS, 0.07, 0.001, 0.0381, (0.019, 0.0127)),
        strainer_area=0.006,
        case_drain="tank",
        required=Requirement.single(Attitude.from_rotations(math.radians(10.0), 0.0)),
    )


def curtained(under: float = 0.06) -> Tank:
    """1000 x 400 x 300 mm, a wall at mid-length from 60 mm over the floor to the roof."""
    walls = block((1.0, 0.4, 0.3)) - block((0.006, 0.4, 0.3 - under), (0.497, 0.0, under))
    return from_manifold("curtained", walls)


def test_a_bay_without_a_vent_fails_at_any_fill() -> None:
    one = breather("vent", (0.1, 0.2, 0.3))
    rule = "own vent at its roof"
    shut = finding(Layout(curtained(), (one,), 0.01), rule)
    assert (shut.verdict, shut.source) == (Verdict.FAIL, PRACTICE)
    assert "60.0 mm" in shut.found
    assert "47.72 L" in shut.found  # 497 x 400 x 240 mm, rounded up
    both = (one, breather("second", (0.9, 0.2, 0.3)))
    assert finding(Layout(curtained(), both), rule).verdict is Verdict.PASS
    assert finding(Layout(curtained(), ()), rule).verdict is Verdict.FAIL
    assert finding(Layout(box(1.0, 0.4, 0.3), (one,)), rule).verdict is Verdict.PASS
    assert finding(Layout(box(1.0, 0.4, 0.3), ()), rule).verdict is Verdict.NOT_GIVEN


NOSE_DOWN = Requirement.single(Attitude.from_rotations(math.radians(-40.0), 0.0))


def finding(layout: Layout, words: str) -> Finding:
    (found,) = [f for f in check_layout(layout) if words in f.rule]
    return found


def test_a_good_layout_passes_all_but_casey_where_it_says(walled: Tank) -> None:
    findings = check_layout(good(walled))
    failed = [f.rule for f in findings if f.verdict is not Verdict.PASS]
    assert failed == []
    assert all(f.source for f in findings)
    assert any(f.source == PRACTICE for f in findings)


def test_nothing_described_is_nothing_passed(walled: Tank) -> None:
    findings = check_layout(Layout(walled, ()))
    assert {f.verdict for f in findings} == {Verdict.NOT_GIVEN}
    assert all("not given" in f.found for f in findings)


@pytest.mark.parametrize(
    ("words", "change", "says"),
    [
        ("below the least level", {"least_fill": 0.02}, "above the level"),
        ("four times", {"strainer_area": 0.003}, "2.6 times"),
        ("1.20 m/s", {"flow": 0.0015}, "1.32 m/s"),
        ("larger than every pressure", {"pressure_bores": (0.0508,)}, "51 mm"),
        ("case drain", {"case_drain": "the return filter"}, "return filter"),
        ("lowest point", {"parked": Attitude.from_rotations(math.radians(-10.0), 0.0)}, "mm"),
        ("heater", {"required": NOSE_DOWN}, "above"),
    ],
)
def test_each_rule_can_fail(walled: Tank, words: str, change: dict[str, object], says: str) -> None:
    assert finding(good(walled), words).verdict is Verdict.PASS
    failed = finding(replace(good(walled), **change), words)
    assert failed.verdict is Verdict.FAIL
    assert says in failed.found


@pytest.mark.parametrize(
    ("words", "place", "port"),
    [
        ("25.4 mm", 0, pickup("suction", (0.25, 0.2, 0.02), bore=0.038, facing="down")),
        ("100 mm", 0, pickup("suction", (0.25, 0.2, 0.09), bore=0.038, facing="down")),
        ("five bores", 0, pickup("suction", (0.25, 0.05, 0.13), bore=0.038, facing="down")),
        ("baffle", 1, return_line("return", (0.4, 0.2, 0.15), bore=0.025, facing="down")),
        ("breather", 2, breather("breather", (0.9, 0.2, 0.48), bore=0.02, facing="down")),
        ("breather", 2, breather("breather", (0.5, 0.2, 0.40), bore=0.02, facing="down")),
        ("lowest point", 3, drain("drain", (0.1, 0.2, 0.02))),
    ],
)
def test_a_port_in_the_wrong_place_fails(
    walled: Tank, words: str, place: int, port: object
) -> None:
    ports = list(PORTS)
    ports[place] = port
    failed = finding(replace(good(walled), ports=tuple(ports)), words)
    assert failed.verdict is (Verdict.ADVICE if words == "100 mm" else Verdict.FAIL)
    assert "mm" in failed.found


def test_floor_is_measured_where_the_pickup_stands(walled: Tank) -> None:
    on_wall = (pickup("suction", (0.5, 0.2, 0.34), bore=0.038, facing="down"),)
    assert "40 mm off the floor" in finding(replace(good(walled), ports=on_wall), "25.4").found


def test_tilted_bore_reaches_lower_than_its_centre(walled: Tank) -> None:
    tilted = (pickup("suction", (0.25, 0.2, 0.05), bore=0.04, facing="forward"),)
    assert "30 mm off the floor" in finding(replace(good(walled), ports=tilted), "25.4").found


def test_lines_of_sight() -> None:
    tank = box(1.0, 0.4, 0.5)
    assert not wall_between(tank, (0.1, 0.1, 0.1), (0.9, 0.3, 0.4))
    assert distance_along(tank, (0.25, 0.1, 0.1), (1.0, 0.0, 0.0)) == pytest.approx(0.75)
    assert distance_along(tank, (0.25, 0.1, 0.1), (0.0, -1.0, 0.0)) == pytest.approx(0.1)


def test_a_line_along_the_seam_of_two_faces_does_not_slip_through(walled: Tank) -> None:
    for z in (0.0001, 0.15, 0.2999):
        for y in (0.1, 0.2, 0.3):
            assert wall_between(walled, (0.25, y, z), (0.8, 0.4 - y, z))
    assert not wall_between(walled, (0.25, 0.2, 0.31), (0.8, 0.2, 0.31))


def test_nonsense_is_refused(walled: Tank) -> None:
    with pytest.raises(PortError, match="outside the tank"):
        check_layout(Layout(walled, (drain("drain", (0.1, 0.2, -0.1)),)))
    with pytest.raises(FillError, match="more than the tank holds"):
        check_layout(Layout(walled, PORTS, 0.5))


def test_only_what_is_missing_is_called_missing():
    tank = box(0.9, 0.3, 0.3)
    suction = pickup("suction", (0.15, 0.15, 0.06), bore=0.025)
    found = check_layout(Layout(tank, [suction], least_fill=0.042, flow=0.001))
    by_rule = {f.rule.split(",")[0]: f for f in found}
    assert by_rule["return ends below the least level"].found == "return not given"
    assert by_rule["return is on the other side of a baffle from the pickup"].found == (
        "return not given"
    )
    speed = by_rule["velocity in the suction line up to 1.20 m/s"]
    assert speed.found == "2.04 m/s in 25 mm (the pickup's bore)"  # 1 L/s through 25 mm
    assert by_rule["suction line larger than every pressure line"].found == (
        "pressure line's bore not given"
    )


def test_a_breather_on_the_roof_is_on_the_roof():
    tank = box(0.9, 0.3, 0.3)
    top = breather("breather", (0.45, 0.15, 0.3), bore=0.012)
    (row,) = (f for f in check_layout(Layout(tank, [top])) if f.rule.startswith("breather"))
    assert row.verdict is Verdict.PASS
    assert "breather: on the roof" in row.found


def test_the_tube_that_a_pickup_is_the_end_of_is_neither_its_floor_nor_its_wall() -> None:
    """The sprayer: one tube ends 40 mm over the floor amid the plates, one in the sump, 35 mm over it."""
    case = load(MESHES / "hillside_sprayer.toml")
    layout = Layout(case.tank, case.ports)
    off = finding(layout, "25.4 mm off the floor")
    assert off.found == "sump pickup: 35 mm off the floor; middle pickup: 40 mm off the floor"
    assert off.verdict is Verdict.PASS
    walls = finding(layout, "five bores")
    assert "middle pickup: 147 mm from its centre, 4.6 bores" in walls.found
    # the sump's wall at that depth: cone of 110 to 80 mm over 45 mm, 10 mm down
    assert "sump pickup: 52 mm from its centre" in walls.found


def test_the_floor_is_looked_for_below_the_middle_of_an_outline() -> None:
    """Its lowest corners hang over a floor 100 mm deeper, and were told 190 mm off it."""
    step = [(0, 0), (0.3, 0), (0.3, 0.1), (1, 0.1), (1, 0.5), (0, 0.5)]
    tank = extrusion(step, 0.4, "across")
    rim = tuple((-0.05 * a, 0.02 * b, -0.01 * a) for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1)))
    tilted = pickup("p", (0.31, 0.2, 0.2), bore=0.11, facing=(0.2, 0.0, -1.0))
    port = replace(tilted, rim=rim)
    assert "p: 90 mm off the floor" in finding(Layout(tank, (port,)), "25.4 mm").found


def test_a_mouth_that_is_not_round_stands_in_for_no_suction_line(walled) -> None:
    """70 x 10 mm is 70.7 mm across, and 60 L/min go through 7 cm² at 1.4 m/s: through the circle at 0.25."""
    rim = ((0.035, 0.005, 0.0), (-0.035, 0.005, 0.0), (-0.035, -0.005, 0.0), (0.035, -0.005, 0.0))
    slot = replace(pickup("p", (0.25, 0.2, 0.13), bore=0.0707, facing="down"), rim=rim)
    layout = Layout(walled, (slot,), flow=1e-3)
    assert finding(layout, "velocity").verdict is Verdict.NOT_GIVEN
    assert finding(replace(layout, suction_bore=0.0381), "velocity").verdict is Verdict.PASS


def test_a_mouth_in_the_floor_or_a_wall_is_on_it() -> None:
    tank = box(0.9, 0.3, 0.3)
    floor = pickup("p", (0.45, 0.15, 0.0), bore=0.03, facing="up")
    assert "p: 0 mm off the floor" in finding(Layout(tank, (floor,)), "25.4 mm").found
    wall = pickup("p", (0.0, 0.15, 0.15), bore=0.03, facing="forward")
    assert "p: 0 mm from its centre" in finding(Layout(tank, (wall,)), "five bores").found


def test_a_tube_from_a_wall_is_judged_by_the_other_walls() -> None:
    parts = tube_from_the_rear()
    port = pickup("p", (0.2, 0.15, 0.15), bore=0.03, facing="forward")
    assert "p: 150 mm from its centre, 5.0 bores" in finding(Layout(parts, (port,)), "five").found
