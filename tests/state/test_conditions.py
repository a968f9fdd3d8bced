"""Rules as margins and as yes-or-no tests: both must say the same, and a proved cell must be held."""

import math
from pathlib import Path

import numpy as np
import pytest
from closed_forms import box_level
from tanks import box_tank, random_up, tank

from tanksolve.errors import FillError, PortError
from tanksolve.kernel.attitude.cells import SLOPE_HEADING, Cells, centres, hull_slack, hulls
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Rule, breather, drain, heater, pickup, return_line
from tanksolve.project.load import load
from tanksolve.state.conditions import Conditions

SIZE = (1.2, 0.5, 0.8)


def ups(seed, count, most_deg=60.0):
    rng = np.random.default_rng(seed)
    slope = np.radians(most_deg) * np.sqrt(rng.uniform(size=count))
    return up_from_slope_heading(slope, rng.uniform(0.0, 2.0 * np.pi, count))


def test_margins_are_cover_over_a_wet_port_and_air_under_a_dry_one():
    low, high = (0.3, 0.1, 0.1), (0.9, 0.4, 0.7)
    ports = [
        pickup("suction", low, bore=0.05, cover=0.02),  # facing not known: a ball of 25 mm
        breather("vent", high, cover=0.01),
    ]
    conditions = Conditions.of(box_tank(SIZE), ports, Fill(0.2, 0.3))
    up = ups(1, 12)
    margins = conditions.margins(up[None])[0]
    assert margins.shape == (12, 2)
    for u, (wet, dry) in zip(up, margins, strict=True):
        assert wet == pytest.approx(box_level(SIZE, u, 0.2) - u @ low - 0.025 - 0.02, abs=1e-12)
        assert dry == pytest.approx(u @ high - 0.01 - box_level(SIZE, u, 0.3), abs=1e-12)


@pytest.mark.parametrize("name", ["L", "baffled with sump", "saddle"])
def test_held_says_the_sign_of_the_margin(name):
    mesh = tank(name)
    rng = np.random.default_rng(2)
    inside = [p for p in rng.uniform(mesh.lower, mesh.upper, (40, 3)) if mesh.winding(p)[0] > 0.5]
    ports = [pickup("a", inside[0]), pickup("b", inside[1]), breather("c", inside[2])]
    conditions = Conditions.of(mesh, ports, Fill(0.3 * mesh.capacity, 0.6 * mesh.capacity))
    up = ups(3, 300)
    margins = conditions.margins(up[None])[0]
    sure = np.abs(margins) > 1e-9
    np.testing.assert_array_equal((margins > 0.0)[sure], conditions.held(up)[sure])
    assert 0.02 < conditions.held(up).mean() < 0.98


@pytest.mark.parametrize("name", ["L", "baffled with sump", "stepped"])
def test_a_proved_cell_is_held_wherever_it_is_tried(name):
    mesh = tank(name)
    low = mesh.vertices[np.argmin(mesh.vertices[:, 2])] + [0.01, 0.01, 0.01]
    ports = [pickup("suction", low, cover=0.0)]
    if name == "stepped":
        ports = [pickup("suction", (0.5, -0.25, 0.05)), breather("vent", (0.3, -0.1, 0.59))]
    conditions = Conditions.of(mesh, ports, 0.4 * mesh.capacity)
    rng = np.random.default_rng(4)
    b, k = rng.uniform(0.0, 1.0, 400), rng.uniform(0.0, 6.3, 400)
    cells = np.stack([b, b + rng.uniform(0.0, 0.3, 400), k, k + rng.uniform(0.0, 0.6, 400)], -1)
    proved = cells[conditions.held_over(cells)]
    assert 20 < len(proved) < 380
    share = rng.uniform(size=(len(proved), 40, 2))
    share[:, :4] = [[0, 0], [0, 1], [1, 0], [1, 1]]
    slope = proved[:, None, 0] + share[..., 0] * (proved[:, 1] - proved[:, 0])[:, None]
    heading = proved[:, None, 2] + share[..., 1] * (proved[:, 3] - proved[:, 2])[:, None]
    assert conditions.held(up_from_slope_heading(slope, heading).reshape(-1, 3)).all()


@pytest.mark.parametrize("wet", [True, False])
def test_each_rule_takes_its_own_slack(wet):
    """Wet and dry slack differ in wide cells; the other's would give other answers, as seen here."""
    mesh = box_tank(SIZE)
    point = np.array([0.5, 0.2, 0.3])
    port = pickup("p", point) if wet else breather("v", point)
    volume = 0.35 if wet else 0.05
    conditions = Conditions.of(mesh, [port], volume)
    rng = np.random.default_rng(7)
    cells = np.zeros((4000, 4))
    cells[:, 0] = rng.uniform(0.0, 0.6, 4000)
    cells[:, 1] = cells[:, 0] + rng.uniform(0.1, 0.4, 4000)
    cells[:, 2] = rng.uniform(0.0, 6.3, 4000)
    cells[:, 3] = cells[:, 2] + rng.uniform(0.1, 0.8, 4000)
    charted = Cells(np.full(4000, SLOPE_HEADING, np.int8), cells)
    up = centres(charted)

    def expected(dry):
        slack = hull_slack(mesh.lower, mesh.upper, port.discs, up, hulls(charted), dry=dry)
        height = up @ point + (slack if wet else -slack)
        below = volumes(mesh.tree, up, height)[0]
        return below <= volume if wet else below >= volume

    proved = conditions.held_over(cells)
    np.testing.assert_array_equal(proved, expected(dry=not wet))
    assert (proved != expected(dry=wet)).sum() > 10


def test_a_vanishing_cell_is_proved_exactly_where_it_is_held():
    mesh = box_tank(SIZE)
    conditions = Conditions.of(mesh, [pickup("suction", (0.1, 0.1, 0.1))], 0.12)
    rng = np.random.default_rng(5)
    b, k = rng.uniform(0.0, 1.0, 300), rng.uniform(0.0, 6.3, 300)
    held = conditions.held(up_from_slope_heading(b, k)).all(axis=1)
    proved = conditions.held_over(np.stack([b, b, k, k], -1))
    np.testing.assert_array_equal(proved, held)
    assert 50 < held.sum() < 250


def test_groups_of_all_and_of_any():
    ports = [
        pickup("a", (0.1, 0.1, 0.1)),
        breather("vent", (0.6, 0.25, 0.8)),
        pickup("b", (1.1, 0.1, 0.1)),
        heater("heater", (0.6, 0.25, 0.1)),
    ]
    every = Conditions.of(box_tank(SIZE), ports, 0.2)
    assert every.groups == ((0,), (1,), (2,), (3,))
    any_ = Conditions.of(box_tank(SIZE), ports, 0.2, "any")
    assert any_.groups == ((0, 2), (1,), (3,))
    margins = np.array([[0.1, 0.5, -0.2, 0.3], [-0.3, 0.5, -0.2, 0.3], [0.4, 0.05, -0.2, 0.3]])
    worst, port = every.group_margins(margins)
    assert worst.tolist() == [-0.2, -0.3, -0.2]
    assert port.tolist() == [2, 0, 2]
    worst, port = any_.group_margins(margins)
    assert worst.tolist() == [0.1, -0.2, 0.05]
    assert port.tolist() == [0, 2, 1]


def test_a_pickup_told_to_stay_dry_is_no_alternative_for_one_that_must_be_wet():
    ports = [pickup("a", (0.1, 0.1, 0.1)), pickup("b", (1.1, 0.1, 0.7), rule=Rule.DRY)]
    found = Conditions.of(box_tank(SIZE), ports, 0.2, "any")
    assert found.groups == ((0,), (1,))


def test_only_ports_with_a_rule_have_a_column():
    ports = [
        drain("d", (0.1, 0.1, 0.0)),
        pickup("a", (0.1, 0.1, 0.1)),
        return_line("r", (0.5, 0.2, 0.2)),
    ]
    found = Conditions.of(box_tank(SIZE), ports, 0.2)
    assert [port.name for port in found.ports] == ["a"]
    told = Conditions.of(box_tank(SIZE), [return_line("r", (0.5, 0.2, 0.2), rule=Rule.WET)], 0.2)
    assert [port.name for port in told.ports] == ["r"]


def test_what_a_body_without_a_way_out_holds_is_never_counted_on():
    """Two bodies that nothing joins, 0.048 m³ below: all liquid may be in either, as it was filled."""
    mesh = tank("two bodies")
    below = 0.4 * 0.4 * 0.3
    other = mesh.capacity - below
    port = pickup("suction", (0.2, 0.2, 0.15))
    level = np.array([[0.0, 0.0, 1.0]])
    need = other + 0.4 * 0.4 * 0.15
    for fill, held in ((need + 1e-6, True), (need - 1e-6, False)):
        conditions = Conditions.of(mesh, [port], fill)
        assert conditions.held(level).all() == held
        wet = conditions.margins(level[None])[0, 0, 0]
        assert wet == pytest.approx((fill - need) / 0.16, abs=1e-9)


def test_fills_are_kept_within_the_tank():
    mesh = box_tank(SIZE)
    conditions = Conditions.of(mesh, [pickup("a", (0.1, 0.1, 0.1))], mesh.capacity)
    assert conditions.least < mesh.capacity == conditions.most
    assert conditions.least == pytest.approx(mesh.capacity, rel=2e-9)
    with pytest.raises(FillError):
        Conditions.of(mesh, [pickup("a", (0.1, 0.1, 0.1))], 0.481)
    with pytest.raises(PortError):
        Conditions.of(mesh, [pickup("a", (0.1, 0.1, -0.1))], 0.2)


def test_a_port_high_above_the_level_is_far_from_holding():
    conditions = Conditions.of(box_tank(SIZE), [pickup("a", (0.6, 0.25, 0.7))], 0.12)
    margin = conditions.margins(np.array([[[0.0, 0.0, 1.0]]]))[0, 0, 0]
    assert margin == pytest.approx(0.2 - 0.7, abs=1e-12)
    assert math.isfinite(conditions.margins(random_up(np.random.default_rng(6), 5)[None]).sum())


def test_rows_that_tell_of_more_than_the_tank_holds_are_brim_full():
    """Level in a box 0.8 m high: wet by what lies below the roof, dry short of it; between, by hand."""
    ports = [pickup("suction", (0.3, 0.1, 0.1), cover=0.0), breather("vent", (0.9, 0.4, 0.7))]
    conditions = Conditions.of(box_tank(SIZE), ports, Fill(0.2, 0.3))
    up = np.repeat([[0.0, 0.0, 1.0]], 4, axis=0)
    most = 1.2 * 0.5 * 0.8
    found = conditions.margins_at_fill(up, np.array([0.0, 0.3, most, 1.2 * most]))
    surface = np.array([0.0, 0.5, 0.8, 0.8])
    assert found == pytest.approx(np.stack([surface - 0.1, 0.7 - surface], axis=-1), abs=1e-8)


@pytest.mark.parametrize("high", [0.05, 0.23])
def test_what_is_needed_all_over_a_cell_is_bounded_to_second_order(high):
    """In two bays, below the wall between them and over it: ten times narrower, a hundredth of the excess."""
    two = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml").tank
    asked = Conditions.of(two, [pickup("p", (0.7, 0.2, high), cover=0.0)], 0.09)
    excess = []
    for half in np.radians([0.4, 0.04]):
        about = np.radians([4.0, 30.0])
        box = [about[0] - half, about[0] + half, about[1] - half, about[1] + half]
        cell = Cells(np.array([SLOPE_HEADING], np.int8), np.array([box]))
        over = asked.needs(asked.groups, centres(cell), hulls(cell))[0, 0]
        at = up_from_slope_heading(
            *(np.mgrid[-1:1:9j, -1:1:9j].reshape(2, -1) * half + about[:, None])
        )
        excess.append(over - asked.needs(asked.groups, at).max())
    assert -1e-12 <= excess[1] < 0.03 * excess[0]


@pytest.mark.parametrize("x", [0.51, 0.7, 0.95])
@pytest.mark.parametrize("half", [1.0, 0.2])
def test_no_attitude_in_a_cell_has_less_margin_than_its_bound_where_the_other_bay_takes_more(
    x, half
):
    """Nose up by 5 degrees give or take: at the lower end the rear bay holds more behind the wall than midway."""
    two = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml").tank
    asked = Conditions.of(two, [pickup("p", (x, 0.2, 0.02), cover=0.0)], 0.045)
    cell = Cells(
        np.array([SLOPE_HEADING], np.int8), np.radians([[5.0 - half, 5.0 + half, 0.0, 2.0]])
    )
    bound = asked.margins_within(centres(cell), hulls(cell))[0, 0]
    slope, heading = np.radians(np.mgrid[-half:half:7j, 0.0:2.0:7j].reshape(2, -1))
    up = up_from_slope_heading(slope + np.radians(5.0), heading)
    least = asked.margins(up[:, None])[:, 0, 0].min()
    assert bound <= least < bound + 0.1 * half
