"""The worst operating point: level over the pump and the pickup's rule over whole regions."""

import math

import numpy as np
import pytest

from tanksolve.errors import FillError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, slot
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.parts import box, cylinder
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.attitude import Attitude
from tanksolve.model.fluid_catalogue import LIQUIDS
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import pickup, return_line
from tanksolve.model.requirement import Requirement
from tanksolve.model.suction_line import LineSection, PumpLimits, SuctionLine, fitting
from tanksolve.pump.running import ReturnFlow
from tanksolve.pump.suction import Duty, inlet_state
from tanksolve.pump.suction_head import required_attitudes, running_line, worst_head, worst_pickup
from tanksolve.pump.suction_limits import solve_suction

BOX = box(1.2, 0.5, 0.8)
LINE = SuctionLine((LineSection(0.0381, 1.5, (fitting("drop tube"), fitting("elbow"))),))
PUMP = PumpLimits.common_practice()


def reach(degrees: float) -> Requirement:
    return Requirement.every_heading(math.radians(degrees))


def test_on_level_ground_it_is_the_depth_less_the_pumps_height() -> None:
    head = worst_head(BOX, (), 0.18, (0.1, 0.2, -0.1), required_attitudes(None))
    assert head.level_over_pump_m == pytest.approx(0.3 + 0.1)
    assert (head.pitch_deg, head.roll_deg) == (0.0, 0.0)
    assert head.bound_m == pytest.approx(0.4, abs=2e-5)


def test_the_worst_of_single_attitudes_is_found_and_told() -> None:
    """Box full to d = 0.3: the surface turns about its middle, so the pump at the nose is lifted."""
    pitches = [Attitude.from_inclinometer(math.radians(p), 0.0) for p in (-10, 10, 5)]
    head = worst_head(BOX, (), 0.18, (1.2, 0.25, 0.0), required_attitudes(None, pitches))
    slope = math.radians(10)
    assert head.pitch_deg == pytest.approx(10.0)
    assert head.level_over_pump_m == pytest.approx(
        0.3 * math.cos(slope) - 0.6 * math.sin(slope), abs=1e-9
    )


def test_a_region_has_its_worst_between_single_attitudes_too() -> None:
    """Every heading to 10 degrees: towards the pump at a corner, the box's surface about its middle."""
    head = worst_head(BOX, (), 0.18, (1.2, 0.5, 0.0), reach(10.0))
    slope, lever = math.radians(10), math.hypot(0.6, 0.25)
    assert head.level_over_pump_m == pytest.approx(
        0.3 * math.cos(slope) - lever * math.sin(slope), abs=1e-6
    )


def test_least_fill_counts_and_too_much_is_refused() -> None:
    requirement = required_attitudes(None)
    head = worst_head(BOX, (), Fill(0.18, 0.24), (0, 0, 0), requirement)
    assert head.level_over_pump_m == pytest.approx(0.3)
    with pytest.raises(FillError, match="more than the tank holds"):
        worst_head(BOX, (), 0.5, (0, 0, 0), requirement)


@pytest.mark.parametrize("pump", [(0.0, 0.3, -0.4), (1.3, -0.2, 0.1)])
def test_the_worst_over_the_region_is_that_of_a_dense_scan(pump: tuple[float, ...]) -> None:
    """Attitudes x fills x sites x flows x temperatures, each by the plain kernel and the line itself."""
    tank = cylinder(0.6, 1.2, lies="along")
    fill, requirement = Fill(0.12, 0.2), Requirement.box(math.radians(20), math.radians(12))
    head = worst_head(tank, (), fill, pump, requirement)
    oil = LIQUIDS["ISO VG 46"]
    duty = Duty(oil, 0.001, head.level_over_pump_m, 2500.0)
    cold, hot = 278.15, 343.15
    told = solve_suction(LINE, duty, PUMP, cold, hot).worst.pressure_margin_pa
    rows = []
    for pitch in np.radians(np.linspace(-20, 20, 41)):
        for roll in np.radians(np.linspace(-12, 12, 25)):
            rows.append(Attitude.from_inclinometer(pitch, roll).up)
    ups = np.array(rows)
    heads = [levels(tank.tree, ups, v)[0] - ups @ np.array(pump) for v in np.linspace(0.12, 0.2, 5)]
    assert np.min(heads) == pytest.approx(head.level_over_pump_m, abs=1e-5)
    assert head.bound_m is not None
    assert head.bound_m <= np.min(heads) + 1e-9
    scan = math.inf
    for z in np.quantile(heads, [0.0, 0.01, 0.1, 0.5, 1.0]):
        for site in (0.0, 1000.0, 2500.0):
            for flow in (0.0004, 0.0007, 0.001):
                for t in np.linspace(cold, hot, 27):
                    state = inlet_state(LINE, Duty(oil, flow, float(z), site), PUMP, float(t))
                    scan = min(scan, state.pressure_margin_pa)
    assert told == pytest.approx(scan, abs=0.5)  # Pa: 1e-5 m of head is 0.09 Pa
    assert told <= scan + 0.1


@pytest.mark.parametrize(("off", "verdict"), [(-0.02, "yes"), (0.02, "no")])
def test_a_pickup_keeps_its_rule_up_to_its_limit_and_not_beyond(off: float, verdict: str) -> None:
    """A bare point on the floor's rear edge dries at tan = 2 d / L."""
    limit = math.degrees(math.atan(2 * 0.15 / 1.2))
    edge = (pickup("edge", (0.0, 0.25, 0.0), cover=0.0),)
    found = worst_pickup(
        BOX, edge, 1.2 * 0.5 * 0.15, Requirement.box(math.radians(limit + off), 0.0), 0.04
    )
    assert found is not None
    assert found.verdict == verdict
    assert (found.margin_m >= 0.0) == (verdict == "yes")
    assert found.pitch_deg == pytest.approx(-(limit + off), abs=0.1)


def test_a_pickup_with_no_size_is_given_the_cover_for_its_line() -> None:
    bare = (pickup("bare", (0.6, 0.25, 0.05)),)
    found = worst_pickup(BOX, bare, 0.06, required_attitudes(None), 0.0381)
    assert found is not None
    assert (
        found.verdict == "no"
    )  # 100 mm of liquid, 50 mm over the point: 76.2 mm and the bore's half asked
    assert found.cover_m == pytest.approx(0.05 - 0.01905, abs=1e-9)
    assert worst_pickup(BOX, (), 0.06, required_attitudes(None), 0.0381) is None


def test_where_walls_part_the_liquid_the_worst_that_any_route_leaves_counts() -> None:
    """By hand on level ground: the other bay full to its wall, 150 mm; what is left stands at the pickup."""
    wall = Baffle("wall", "across", 0.4, 0.003, gaps={"top": 0.15})
    tank = build(Parts(box(0.9, 0.3, 0.3), (), (wall,)))
    port = (pickup("p", (0.1, 0.15, 0.02), cover=0.0),)
    left = (0.03 - 0.3 * 0.497 * 0.15) / (0.3 * 0.4)
    found = worst_pickup(tank, port, 0.03, required_attitudes(None), 0.0381)
    assert found is not None
    assert found.verdict == "yes"
    assert found.margin_m == pytest.approx(left - 0.02, abs=1e-6)
    head = worst_head(tank, port, 0.03, (0.0, 0.0, -0.2), required_attitudes(None))
    assert head.level_over_pump_m == pytest.approx(left + 0.2, abs=1e-6)
    assert head.bound_m == pytest.approx(left + 0.2, abs=2.1e-3)
    tilted = worst_head(tank, port, 0.03, (0.0, 0.0, -0.2), reach(3.0))
    assert tilted.bound_m is not None
    assert tilted.bound_m <= tilted.level_over_pump_m < left + 0.2
    less = worst_pickup(tank, port, 0.024, required_attitudes(None), 0.0381)
    assert less is not None
    assert less.verdict == "no"


# --- with the pump running, the return in another bay: 60 L/min through a slot of 100 x 20 mm

SLOTTED = Parts(
    box(0.9, 0.3, 0.3),
    (),
    (
        Baffle(
            "wall", "across", 0.4, 0.003, gaps={"top": 0.025}, cuts=(slot(0.1, 0.02, (0.15, 0.03)),)
        ),
    ),
)
DRAWN = (
    pickup("suction", (0.05, 0.15, 0.06), cover=0.01),
    return_line("back", (0.8, 0.15, 0.2)),
)


def drawn(flow: float, back: tuple[float, float, float] = (0.8, 0.15, 0.2)) -> ReturnFlow | None:
    ports = (DRAWN[0], return_line("back", back))
    return running_line(build(SLOTTED), bays_of(SLOTTED), ports, flow, 0.61)


def test_running_the_level_over_the_pump_is_less_by_the_pickups_share_of_the_head() -> None:
    """By hand: both bays' volume stays, so the rear one sinks by the head times the front one's share."""
    tank, level = build(SLOTTED), required_attitudes(None)
    head = (0.001 / (0.61 * 0.002)) ** 2 / (2.0 * 9.80665)
    still = worst_head(tank, DRAWN, 0.042, (0.0, 0.15, -0.2), level)
    told = worst_head(tank, DRAWN, 0.042, (0.0, 0.15, -0.2), level, drawn(0.001))
    assert told.running
    assert not still.running
    lost = still.level_over_pump_m - told.level_over_pump_m
    assert lost == pytest.approx(head * 0.497 / 0.897, rel=1e-4)
    # a return into the pickup's own bay crosses nothing; without a return nothing is known of it
    assert drawn(0.001, (0.3, 0.15, 0.2)) is None
    assert running_line(tank, bays_of(SLOTTED), DRAWN[:1], 0.001, 0.61) is None


def test_running_the_worst_over_region_and_fills_is_that_of_a_dense_scan() -> None:
    tank, running = build(SLOTTED), drawn(0.001)
    assert running is not None
    region = Requirement.box(math.radians(6), math.radians(4))
    told = worst_head(tank, DRAWN, Fill(0.042, 0.05), (0.0, 0.15, -0.2), region, running)
    rows = [
        Attitude.from_inclinometer(pitch, roll).up
        for pitch in np.radians(np.linspace(-6, 6, 13))
        for roll in np.radians(np.linspace(-4, 4, 9))
    ]
    ups, place = np.array(rows), np.array([0.0, 0.15, -0.2])
    scan = min(
        float(
            (running.level_of("suction", ups, v, levels(tank.tree, ups, v)[0]) - ups @ place).min()
        )
        for v in (0.042, 0.046, 0.05)
    )
    assert told.level_over_pump_m == pytest.approx(scan, abs=1e-5)
    assert told.bound_m is not None
    assert scan - 2.1e-3 <= told.bound_m <= scan + 1e-9


@pytest.mark.parametrize(("off", "verdict"), [(-0.05, "yes"), (0.05, "no")])
def test_running_a_pickup_keeps_its_rule_up_to_the_closed_form_of_two_bays(
    off: float, verdict: str
) -> None:
    """9.4596 degrees nose down (``test_return_flow.two_bays_limit``); at rest it would hold to more."""
    region = Requirement.box(math.radians(9.459594 + off), 0.0)
    tank = build(SLOTTED)
    found = worst_pickup(tank, DRAWN, 0.042, region, 0.0381, "all", drawn(0.001))
    still = worst_pickup(tank, DRAWN, 0.042, region, 0.0381)
    assert found is not None
    assert still is not None
    assert found.verdict == verdict
    assert found.running
    assert still.verdict == "yes"
