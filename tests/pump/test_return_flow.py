"""Steady running: two bays in closed form, bounds over cells, and that more flow never helps."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tanksolve.errors import PortError, TankError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, hole, slot
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup, return_line
from tanksolve.pump.crossflow import head_for_flow
from tanksolve.pump.flow_ports import return_flow
from tanksolve.pump.return_flow import envelope_with_flow
from tanksolve.pump.running_level import running_level
from tanksolve.pump.running_limits import RunningConditions
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.state.conditions import Conditions

LENGTH, WIDTH, HEIGHT = 0.9, 0.3, 0.3
SHELL = box(LENGTH, WIDTH, HEIGHT)
PLATE = 0.003
UP = np.array([[0.0, 0.0, 1.0]])


def across(name, at, *cuts, **options):
    return Baffle(name, "across", at, PLATE, cuts=cuts, **options)


SLOT = slot(0.1, 0.02, (0.15, 0.03))  # 20 cm²
TWO = Parts(SHELL, (), (across("wall", 0.4, SLOT, gaps={"top": 0.025}),))
BACK = return_line("back", (0.8, 0.15, 0.2))


def suction(flow, at=(0.05, 0.15, 0.06), **options):
    return pickup("suction", at, **{"cover": 0.01, "flow": flow, **options})


def running(parts, ports, fill=0.042, **options):
    tank = build(parts)
    conditions = Conditions.of(tank, ports, fill)

    def at_rest(some):
        return envelope(tank, some, fill, every_deg=options.get("every_deg", 45.0))

    return envelope_with_flow(at_rest, conditions, bays_of(parts))


def two_bays_limit(flow, fill=0.042, edge_x=0.05, edge_z=0.06, cover=0.01, at=0.4):
    """Slope nose down [rad] at which the rear bay, lower by the slot's head, is at the edge.

    Each bay holds its plan area times the depth at its middle; with e the edge's height along up,
    W a (e + a/2 sin b) + W l (e + D + m sin b) = (V - slot) cos b.
    """
    drop = head_for_flow(20e-4, flow)
    ahead = LENGTH - at - PLATE
    middle = at + PLATE + 0.5 * ahead
    sine = WIDTH * (at * (0.5 * at - edge_x) + ahead * (middle - edge_x))
    cosine = WIDTH * (at + ahead) * edge_z - (fill - 20e-4 * PLATE)
    constant = WIDTH * ((at + ahead) * cover + ahead * drop)
    size = math.hypot(sine, cosine)
    return math.asin(-constant / size) - math.atan2(cosine, sine)


def test_the_limit_of_two_bays_is_the_closed_form():
    found, effect = running(TWO, [suction(0.001), BACK])
    rear_up = next(row for row in found.limits if row.heading_deg == 180.0)
    want = math.degrees(two_bays_limit(0.001))
    assert rear_up.slope_deg == pytest.approx(want, abs=1e-5)
    assert want - 0.05 < rear_up.held_to_deg <= want
    at_rest = {row.heading_deg: row.at_rest_deg for row in effect.limits}[180.0]
    assert at_rest > want + 1.0
    assert effect.bounded
    # on level ground the rear bay gives what the head asks for, shared by plan area
    share = (LENGTH - 0.4 - PLATE) / (LENGTH - PLATE)
    assert effect.lowered_m["suction"] == pytest.approx(
        share * head_for_flow(20e-4, 0.001), rel=1e-6
    )


def test_plates_in_series_add_their_drops_and_holes_in_parallel_share():
    pair = (hole(0.04, (0.1, 0.04)), hole(0.04, (0.2, 0.04)))
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.6, *pair)))
    flow = return_flow(build(parts), bays_of(parts), [suction(0.001), BACK])
    level = np.array([0.1])
    each = flow.levels("suction", UP, level)[0]
    area = 2.0 * math.pi * 0.02**2
    assert each[1] - each[0] == pytest.approx(head_for_flow(20e-4, 0.001), rel=1e-9)
    assert each[2] - each[1] == pytest.approx(head_for_flow(area, 0.001), rel=1e-6)
    assert each[0] == 0.1


def test_a_low_wall_is_a_weir_that_the_return_bay_fills_first():
    wall = Parts(SHELL, (), (across("low", 0.4, gaps={"top": 0.15}),))
    flow = return_flow(build(wall), bays_of(wall), [suction(0.001), BACK])
    level = np.array([0.05])
    over = (1.5 * 0.001 / (0.61 * WIDTH * math.sqrt(2.0 * 9.80665))) ** (2.0 / 3.0)
    assert flow.levels("suction", UP, level)[0, 1] == pytest.approx(0.15 + over, abs=3e-9)
    needed = flow.needed("suction", UP, level)[0]
    bays = WIDTH * (0.4 * 0.05 + (LENGTH - 0.403) * (0.15 + over))
    assert needed >= bays + WIDTH * over * PLATE  # what lies over the wall itself
    assert needed <= bays + WIDTH * 0.15 * PLATE + 1e-9


def test_what_the_bays_take_is_never_less_than_at_rest():
    flow = return_flow(build(TWO), bays_of(TWO), [suction(0.001), BACK])
    rng = np.random.default_rng(5)
    up = up_from_slope_heading(rng.uniform(0.0, 1.0, 200), rng.uniform(0.0, 6.28, 200))
    level = rng.uniform(-0.1, 0.3, 200)
    at_rest = volumes(flow.tank.tree, up, level)[0]
    assert np.all(flow.needed("suction", up, level) >= at_rest)


def test_more_flow_never_raises_a_limit_and_none_is_at_rest():
    told = []
    for flow in (1e-9, 0.0005, 0.001, 0.0015, 0.003):
        found, effect = running(TWO, [suction(flow), BACK])
        told.append([row.held_to_deg for row in found.limits] + [found.worst.held_to_deg])
        at_rest = [row.at_rest_deg for row in effect.limits]
    assert np.all(np.diff(np.array(told), axis=0) <= 1e-9)
    assert told[0][4] > told[2][4] + 1.0 > told[4][4]
    assert told[0][4] == pytest.approx(at_rest[4], abs=0.03)


HIGH_AND_ASIDE = Parts(SHELL, (), (across("wall", 0.4, hole(0.04, (0.25, 0.07))),))
PART_DRY = Parts(SHELL, (), (across("wall", 0.4, hole(0.06, (0.1, 0.07))),))


@pytest.mark.parametrize(
    ("parts", "at", "fill", "headings"),
    [
        # the pickup's bay is uphill, and the hole falls part dry
        (PART_DRY, (0.05, 0.15, 0.06), 0.035, (2.6, 3.7)),
        # the hole is lifted and the pickup let down: what the hole asks for sets the limit
        (HIGH_AND_ASIDE, (0.05, 0.03, 0.02), 0.024, (1.2, 1.9)),
    ],
)
def test_proved_cells_hold_at_every_attitude_within(parts, at, fill, headings):
    """Openings that fall part dry, or are lifted: the bound has to see them move."""
    ports = [suction(0.0006, at, bore=0.03), BACK, breather("air", (0.8, 0.15, 0.299))]
    tank = build(parts)
    flow = return_flow(tank, bays_of(parts), ports)
    c = RunningConditions.running_of(Conditions.of(tank, ports, fill), flow)
    rng = np.random.default_rng(3)
    count = 4000
    slope, heading = rng.uniform(0.0, 0.5, count), rng.uniform(*headings, count)
    size = 10.0 ** rng.uniform(-2.5, -0.5, count)
    cells = np.stack([slope, slope + size, heading, heading + size], axis=-1)
    kept = c.held_over(cells)
    assert 200 < kept.sum() < count - 200
    for corner in rng.uniform(0.0, 1.0, (4, 2)):
        inside = cells[kept][:, [0, 2]] + corner * (cells[kept][:, [1, 3]] - cells[kept][:, [0, 2]])
        assert c.held(up_from_slope_heading(*inside.T)).all()
    for ends in ([0, 2], [0, 3], [1, 2], [1, 3]):
        assert c.held(up_from_slope_heading(*cells[kept][:, ends].T)).all()


def test_what_is_taken_elsewhere_is_bounded_by_the_slack_of_edge_and_openings_together():
    """A small bay for the pickup, low and right; the hole high and left, which a roll lifts."""
    parts = Parts(SHELL, (), (across("wall", 0.1, hole(0.03, (0.25, 0.1))),))
    tank = build(parts)
    ports = [suction(0.0003, at=(0.05, 0.03, 0.02)), BACK]
    flow = return_flow(tank, bays_of(parts), ports)
    c = RunningConditions.running_of(Conditions.of(tank, ports, 0.04), flow)
    rng = np.random.default_rng(4)
    slope, step = rng.uniform(0.0, 0.4, 400), 10.0 ** rng.uniform(-3.0, -1.0, 400)
    heading = rng.choice([0.5, 1.5], 400) * np.pi + rng.uniform(-0.02, 0.02, 400)
    here, there = (
        up_from_slope_heading(slope, heading),
        up_from_slope_heading(slope + step, heading),
    )
    for up, other in ((here, there), (there, here)):
        slack = c.hull_slack(0, up, other[:, None])
        most = c.needs(c.groups, up, other[:, None])
        assert slack.max() > 0.0
        assert np.all(c.needs(c.groups, other) <= most * (1.0 + 1e-9))


def test_margins_over_whole_hulls_are_never_less_than_told():
    parts = Parts(SHELL, (), (across("wall", 0.4, hole(0.06, (0.1, 0.07))),))
    ports = [suction(0.0012, bore=0.03), BACK, breather("air", (0.8, 0.15, 0.28))]
    tank = build(parts)
    flow = return_flow(tank, bays_of(parts), ports)
    c = RunningConditions.running_of(Conditions.of(tank, ports, 0.035), flow)
    rng = np.random.default_rng(8)
    slope, heading = rng.uniform(0.05, 0.4, 60), rng.uniform(2.6, 3.7, 60)
    up = up_from_slope_heading(slope, heading)
    size = 10.0 ** rng.uniform(-3.0, -1.0, (60, 1, 1))
    hulls = up[:, None] + size * rng.uniform(-1.0, 1.0, (60, 6, 3))
    hulls /= np.linalg.norm(hulls, axis=-1, keepdims=True)
    told = c.margins_within(up, hulls)
    for corner in range(6):
        there = c.margins(hulls[:, corner][:, None])[:, 0]
        assert np.all(there >= told - 1e-7)
    assert np.all(told <= c.margins(up[:, None])[:, 0])


def test_a_hole_too_small_for_the_flow_is_not_held_and_says_so():
    parts = Parts(SHELL, (), (across("wall", 0.4, hole(0.01, (0.1, 0.03))),))
    found, effect = running(parts, [suction(0.001), BACK])
    assert not found.ok_at_level
    assert effect.lowered_m["suction"] is None
    assert all(row.cannot_carry for row in effect.limits)
    assert found.margin_at_level_m < -0.05


def test_a_breather_over_the_return_bay_is_nearer_to_the_liquid():
    ports = [
        suction(0.002, at=(0.35, 0.15, 0.02)),
        BACK,
        breather("air", (0.89, 0.15, 0.25)),
    ]
    found, effect = running(TWO, ports, fill=0.05)
    down = next(row for row in effect.limits if row.heading_deg == 180.0)
    assert down.running_deg < down.at_rest_deg - 1.0
    row = next(row for row in found.limits if row.heading_deg == 180.0)
    assert row.port == "air"
    # its bay is at most the slot's head above the level at rest
    drop = head_for_flow(20e-4, 0.002)
    raised = [*ports[:2], breather("air", (0.89, 0.15, 0.25), cover=drop)]
    want = envelope(build(TWO), raised, 0.05, every_deg=45.0).nose_down
    assert row.slope_deg == pytest.approx(want, abs=1e-4)


def test_a_pickup_in_the_return_bay_loses_nothing():
    found, effect = running(TWO, [suction(0.001, at=(0.85, 0.15, 0.06)), BACK])
    assert effect.lowered_m == {"suction": 0.0}
    rest = envelope(build(TWO), [suction(None, at=(0.85, 0.15, 0.06)), BACK], 0.042, every_deg=45.0)
    assert [row.slope_deg for row in found.limits] == [row.slope_deg for row in rest.limits]


def test_a_proof_leaves_in_a_dead_end_what_it_can_hold():
    """Its way out begins 190 mm up: 5 L more than where it stands level with its neighbour."""
    high = slot(0.1, 0.02, (0.15, 0.2))
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.7, high)))
    ports = [suction(0.001), return_line("back", (0.5, 0.15, 0.2))]
    level_ground = np.array([[0.0, 0.001, 1.0, 1.001]])
    for fill, proved in ((0.027, False), (0.032, True)):
        flow = return_flow(build(parts), bays_of(parts), ports)
        c = RunningConditions.running_of(Conditions.of(build(parts), ports, fill), flow)
        assert c.held_over(level_ground).all() == proved
        assert c.held(UP).all() == proved


def by_hand(slope, flow, edge, plates, sills):
    """Liquid [m³] that it takes to hold the middle of three bays at ``edge`` [m], nose up by a slope.

    Upright sections, strips of 0.1 mm. The rear bay is a dead end, as full as it can be.
    """
    sine, cosine = math.sin(slope), math.cos(slope)

    def held(low, high, level):
        x = np.arange(low, high, 1e-4) + 5e-5
        return WIDTH * 1e-4 * np.clip((level - x * sine) / cosine, 0.0, HEIGHT).sum()

    def passed(before, behind, x, low):  # a slot 100 mm wide and 20 mm high
        z = (np.arange(low, low + 0.02, 2e-5) + 1e-5) * cosine + x * sine
        head = np.maximum(before - np.maximum(z, behind), 0.0)
        return 0.61 * math.sqrt(2 * 9.80665) * 0.1 * 2e-5 * np.sqrt(head).sum()

    low, high = edge, edge + 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        enough = passed(middle, edge, plates[1] + PLATE / 2, sills[1]) >= flow
        low, high = (low, middle) if enough else (middle, high)
    lip = max(x * sine + sills[0] * cosine for x in (plates[0], plates[0] + PLATE))
    bays = (0.0, plates[0]), (plates[0] + PLATE, plates[1]), (plates[1] + PLATE, LENGTH)
    each = max(edge, lip), edge, high
    return sum(held(*bay, level) for bay, level in zip(bays, each, strict=True))


@pytest.mark.parametrize("bottom", [0.01, 0.12, 0.18])
def test_where_it_is_proved_a_full_dead_end_leaves_enough_for_the_pickup(bottom):
    """By hand, at attitudes nose up and down."""
    end, wall = across("a", 0.3, slot(0.1, 0.02, (0.15, bottom + 0.01))), across("b", 0.7, SLOT)
    ports = [suction(0.001, at=(0.35, 0.15, 0.06)), BACK]
    parts = Parts(SHELL, (), (end, wall))
    flow = return_flow(build(parts), bays_of(parts), ports)
    slopes = np.linspace(-0.8, 0.5, 40)
    sides = np.where(slopes < 0.0, math.pi, 0.0)
    hair = np.array([0.0, 1e-7])
    cells = np.hstack([np.abs(slopes)[:, None] + hair, sides[:, None] + hair])
    edges = 0.35 * np.sin(slopes) + 0.06 * np.cos(slopes) + 0.01
    taken = np.array(
        [
            by_hand(slope, 0.001, edge, (0.3, 0.7), (bottom, 0.02))
            for slope, edge in zip(slopes, edges, strict=True)
        ]
    )
    ups = up_from_slope_heading(np.abs(slopes), sides)
    sure = lost = 0
    for fill in (0.025, 0.033, 0.042):
        c = RunningConditions.running_of(Conditions.of(build(parts), ports, fill), flow)
        for kept in (c.held_over(cells), c.held(ups)[:, 0]):
            sure += kept.sum()
            assert np.all(taken[kept] <= fill + 1e-6)
        lost += (~kept & (taken > fill)).sum()
    assert sure > 10
    assert lost > 5


def test_a_breather_in_a_dead_end_is_above_all_that_this_may_hold_back():
    high = slot(0.1, 0.02, (0.15, 0.2))
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.7, high)))
    level_ground = np.array([[0.0, 0.001, 1.0, 1.001]])
    for height, proved in ((0.17, False), (0.26, True)):
        air = breather("air", (0.8, 0.15, height))
        ports = [suction(0.001, at=(0.05, 0.15, 0.02)), return_line("back", (0.5, 0.15, 0.2)), air]
        flow = return_flow(build(parts), bays_of(parts), ports)
        c = RunningConditions.running_of(Conditions.of(build(parts), ports, 0.032), flow)
        assert c.held_over(level_ground).all() == proved


def test_a_pickup_that_draws_nothing_is_lowered_with_the_bay_that_it_stands_in():
    """In the same place as one that draws, it gives out with it."""
    idle = [suction(0.001, at=(0.35, 0.15, 0.02)), pickup("idle", (0.05, 0.15, 0.06), cover=0.01)]
    found, _ = running(TWO, [*idle, BACK])
    alone, _ = running(TWO, [suction(0.001), BACK])
    row, other = (some.limits[4] for some in (found, alone))
    assert row.port == "idle"
    assert row.slope_deg == pytest.approx(other.slope_deg, abs=1e-6)
    assert row.held_to_deg == pytest.approx(other.held_to_deg, abs=0.03)


def test_a_dead_end_behind_a_solid_wall_is_not_drained_through_it():
    """Nose down the rear bay keeps what a drive has left in it behind its wall; the pickup is before it."""
    told = {}
    for bottom in (0.02, 0.2):
        end, wall = across("a", 0.3, slot(0.1, 0.02, (0.15, bottom))), across("b", 0.7, SLOT)
        parts = Parts(SHELL, (), (end, wall))
        ports = [suction(0.001, at=(0.35, 0.15, 0.06)), BACK]
        found, effect = running(parts, ports)
        assert effect.bounded
        told[bottom] = found.limits[4].slope_deg
    assert 0.0 < told[0.2] < told[0.02] - 3.0


def test_a_bay_that_the_pump_empties_is_not_told_as_steady():
    """60 L/min over a wall 250 mm high, with 20 L in the tank: no liquid is left for the pickup."""
    wall = Parts(SHELL, (), (across("high", 0.4, gaps={"top": 0.05}),))
    ports = [suction(0.001), BACK]
    flow = return_flow(build(wall), bays_of(wall), ports)
    at_rest = 0.02 / (WIDTH * (LENGTH - PLATE))
    level = running_level(flow, 0.02, Attitude.level(), ports, {"suction": at_rest - 0.07})
    (found,) = level.pickups
    assert not found.carried
    assert found.lowered_m is None
    assert "takes 4" in found.why_not
    assert "there are 20.00 L" in found.why_not
    assert found.seconds_left == pytest.approx(WIDTH * 0.4 * (at_rest - 0.06) / 0.001, rel=1e-6)
    # one that the liquid suffices for
    (found,) = running_level(flow, 0.06, Attitude.level(), ports, {"suction": 0.1}).pickups
    assert found.carried
    assert not found.why_not


def test_several_pickups_share_an_opening_and_the_last_bay_pays_for_both():
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.6, SLOT)))
    ports = [suction(0.001), pickup("other", (0.4, 0.15, 0.05), flow=0.0005), BACK]
    flow = return_flow(build(parts), bays_of(parts), ports)
    each = flow.levels("suction", UP, np.array([0.1]))[0]
    assert each[1] - each[0] == pytest.approx(head_for_flow(20e-4, 0.001), rel=1e-9)
    assert each[2] - each[1] == pytest.approx(head_for_flow(20e-4, 0.0015), rel=1e-9)
    assert flow.total == pytest.approx(0.0015)


def test_two_ways_round_take_the_easier_one():
    cross = across("a", 0.3, slot(0.05, 0.02, (0.05, 0.03)), slot(0.1, 0.02, (0.22, 0.03)))
    keel = Baffle("keel", "along", 0.15, PLATE, gaps={"bottom": 0.02})
    parts = Parts(SHELL, (), (cross, keel))
    bays = bays_of(parts)
    flow = return_flow(
        build(parts),
        bays,
        [suction(0.001, at=(0.05, 0.05, 0.06)), return_line("r", (0.8, 0.1, 0.2))],
    )
    assert len(flow.between("suction")) == 4
    each = flow.levels("suction", UP, np.array([0.1]))[0]
    direct = head_for_flow(10e-4, 0.001)
    assert each[flow.sources[0]] - 0.1 < 0.5 * direct


def test_a_flap_carries_the_flow_its_own_way_only():
    free = slot(0.1, 0.02, (0.15, 0.03), flap="rearward")
    flapped = Parts(SHELL, (), (across("wall", 0.4, free, gaps={"top": 0.025}),))
    level = np.array([0.1])
    flow = return_flow(build(flapped), bays_of(flapped), [suction(0.001), BACK])
    each = flow.levels("suction", UP, level)[0]
    assert each[1] - each[0] == pytest.approx(head_for_flow(20e-4, 0.001), abs=2e-9)
    # against the flap all of it goes over the wall, through the gap under the roof
    back = return_line("back", (0.1, 0.15, 0.2))
    front = suction(0.001, at=(0.8, 0.15, 0.06))
    flow = return_flow(build(flapped), bays_of(flapped), [front, back])
    assert flow.levels("suction", UP, level)[0, 0] > HEIGHT - 0.025
    shut = Parts(SHELL, (), (across("wall", 0.4, free),))
    with pytest.raises(TankError, match="no flow goes against a flap"):
        return_flow(build(shut), bays_of(shut), [front, back])


def test_what_cannot_be_put_together_is_refused():
    tank, bays = build(TWO), bays_of(TWO)
    with pytest.raises(PortError, match="no return is given"):
        return_flow(tank, bays, [suction(0.001)])
    two = [suction(0.001), BACK, return_line("b2", (0.7, 0.1, 0.1), flow=0.0012)]
    with pytest.raises(PortError, match="come back at the returns"):
        return_flow(tank, bays, two)
    with pytest.raises(PortError, match="no pickup has a flow"):
        return_flow(tank, bays, [suction(None), BACK])
    with pytest.raises(TankError, match="discharge coefficient"):
        return_flow(tank, bays, [suction(0.001), BACK], 1.2)
    blind = Parts(SHELL, (), (across("blind", 0.4),))
    with pytest.raises(TankError, match="no opening leads"):
        return_flow(build(blind), bays_of(blind), [suction(0.001), BACK])
    with pytest.raises(PortError, match="none that a pump draws"):
        breather("air", (0.1, 0.1, 0.3), flow=0.001)


TWIN = Parts(
    box(0.9, 0.3, 0.3),
    (),
    (across("wall", 0.4),),
    pipes=(BalancePipe("low", ((0.39, 0.15, 0.05), (0.42, 0.15, 0.05)), 0.05),),
)


def test_a_return_through_a_balance_pipe_takes_the_pipes_head() -> None:
    """Entry 0.5, exit 1, friction 0.05 x 30 / 50 mm: 1.53 velocity heads of 1.0 L/s through 50 mm."""
    flow = return_flow(build(TWIN), bays_of(TWIN), [suction(0.001), BACK])
    each = flow.levels("suction", UP, np.array([0.15]))[0]
    velocity = 0.001 / (0.25 * math.pi * 0.05**2)
    head = (1.5 + 0.05 * 0.03 / 0.05) * velocity**2 / (2.0 * 9.80665)
    assert each[1] - each[0] == pytest.approx(head, rel=5e-3)  # a polygon of 64 corners: 0.3 % more
    assert each[1] - each[0] >= head
    found, effect = running(TWIN, [suction(0.001), BACK])
    assert effect.bounded
    at_rest = [row.at_rest_deg for row in effect.limits]
    assert 0.0 < found.limits[4].slope_deg < at_rest[4]
    # what stands below the pipe's sill in the front bay does not come through
    sill = flow.levels("suction", UP, np.array([0.0]))[0, 1]
    assert sill > 0.05 - 0.025


def test_a_pipe_over_a_rise_passes_what_stands_above_it() -> None:
    over = ((0.2, 0.15, 0.05), (0.2, 0.15, 0.2), (0.6, 0.15, 0.2), (0.6, 0.15, 0.05))
    raised = Parts(
        box(0.9, 0.3, 0.3), (), (across("wall", 0.4),), pipes=(BalancePipe("over", over, 0.03),)
    )
    flow = return_flow(build(raised), bays_of(raised), [suction(0.0002), BACK])
    each = flow.levels("suction", UP, np.array([0.05]))[0]
    assert each[1] > 0.2 - 0.015


def test_several_returns_share_and_limits_hold_however_they_do() -> None:
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.6, SLOT)))
    tank, bays = build(parts), bays_of(parts)
    near, far = (
        return_line("near", (0.45, 0.15, 0.2), flow=0.0006),
        return_line("far", (0.8, 0.15, 0.2)),
    )
    pump = suction(0.001, at=(0.05, 0.15, 0.02))
    flow = return_flow(tank, bays, [pump, near, far])
    assert flow.brought == pytest.approx((0.0006, 0.0004))
    level = running_level(flow, 0.05, Attitude.level(), [pump, near, far], {"suction": 0.1})
    drops = [one.drop_m for one in level.pickups[0].openings]
    flows = [one.flow_m3_s for one in level.pickups[0].openings]
    assert sorted(flows) == pytest.approx([0.0004, 0.001], rel=1e-3)
    want = [head_for_flow(20e-4, q) for q in (0.0004, 0.001)]
    assert sorted(drops) == pytest.approx(want, rel=1e-3)
    # limits take all of it to come back at the far one: what is told with that one alone
    told = [running(parts, [pump, *backs])[0].limits for backs in ((near, far), (far,))]
    for row, other in zip(*told, strict=True):
        assert row.held_to_deg <= other.held_to_deg + 1e-9
    silent = [pump, replace(near, flow=None), far]
    unknown = return_flow(tank, bays, silent)
    assert unknown.brought is None
    with pytest.raises(PortError, match="not what each brings back"):
        running_level(unknown, 0.05, Attitude.level(), silent, {"suction": 0.1})


def test_bays_that_would_have_to_stand_above_the_roof_have_no_steady_state():
    """Two pickups behind a hole of 25 mm: 1 L/s through it asks for a head of 0.57 m in a tank 0.3 m high."""
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.6, hole(0.025, (0.1, 0.03)))))
    half_way = pickup("half way", (0.45, 0.15, 0.02), cover=0.01, flow=0.0005)
    ports = [suction(0.0005, at=(0.05, 0.15, 0.02)), half_way, BACK]
    flow = return_flow(build(parts), bays_of(parts), ports)
    level = running_level(flow, 0.06, Attitude.level(), ports, {"suction": 0.04, "half way": 0.04})
    assert not any(one.carried for one in level.pickups)
    assert all("full to the roof" in one.why_not for one in level.pickups)


def test_two_pickups_are_told_one_level_of_each_bay():
    parts = Parts(SHELL, (), (across("a", 0.3, SLOT), across("b", 0.6, SLOT)))
    half_way = pickup("half way", (0.45, 0.15, 0.02), cover=0.01, flow=0.0005)
    ports = [suction(0.0005, at=(0.05, 0.15, 0.02)), half_way, BACK]
    flow = return_flow(build(parts), bays_of(parts), ports)
    at_rest = 0.05 / (WIDTH * (LENGTH - 2 * PLATE)) - 0.03
    rest = {"suction": at_rest, "half way": at_rest}
    level = running_level(flow, 0.05, Attitude.level(), ports, rest)
    far, near = level.pickups
    assert level.imbalance_m3_s < 1e-9
    by_name = {(one.from_bay, one.to_bay): one for p in level.pickups for one in p.openings}
    assert [one.flow_m3_s for one in by_name.values()] == pytest.approx([0.0005, 0.001], rel=1e-3)
    drop = head_for_flow(20e-4, 0.0005)
    assert near.level_m - far.level_m == pytest.approx(drop, rel=1e-3)
    drops = [one.drop_m for one in by_name.values()]
    assert sorted(drops) == pytest.approx([drop, 4.0 * drop], rel=1e-3)
