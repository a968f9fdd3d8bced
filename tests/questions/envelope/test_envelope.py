"""The envelope against closed forms and brute force: roots, bounds, islands, words of each row."""

import math
from functools import cache

import numpy as np
import pytest
from closed_forms import bisect, box_below, box_port_kept, first_loss, slope_up
from tanks import block, box_tank, convex_prism, from_manifold, tank, turned

from tanksolve.errors import AttitudeError, FillError, PortError
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.volumes_plain import volumes_plain
from tanksolve.model.attitude import mounting_rotation
from tanksolve.model.liquid import Fill
from tanksolve.model.mounting import mount
from tanksolve.model.ports import breather, drain, filler, heater, pickup, strainer
from tanksolve.questions.envelope.envelope import envelope

SIZE = (0.9, 0.4, 0.3)
SUCTION = (0.1, 0.25, 0.06)
VENT = (0.7, 0.1, 0.3)
FULL = 0.9 * 0.4 * 0.3


def box_loss(point, volume, heading_deg, *, wet=True, to_deg=60.0):
    """Oracle in degrees: the first loss of a bare point in the box."""
    k = math.radians(heading_deg)
    root = first_loss(
        lambda b: box_port_kept(SIZE, point, volume, b, k, wet=wet), math.radians(to_deg)
    )
    return None if root is None else math.degrees(root)


def assert_rows_are(limits, expected):
    for row in limits:
        root = expected(row.heading_deg)
        assert row.limited is (root is not None), row
        if root is None:
            assert row.slope_deg is None
            assert row.port is None
            assert row.held_to_deg == pytest.approx(60.0)
        else:
            assert row.slope_deg == pytest.approx(root, abs=1e-9), row


def test_pickup_limits_of_a_box_at_every_heading():
    found = envelope(box_tank(SIZE), [pickup("suction", SUCTION)], 0.4 * FULL)
    assert len(found.limits) == 72
    assert [row.heading_deg for row in found.limits] == [5.0 * k for k in range(72)]
    assert_rows_are(found.limits, lambda k: box_loss(SUCTION, 0.4 * FULL, k))
    assert any(row.limited for row in found.limits)
    assert not all(row.limited for row in found.limits)


def test_breather_limits_of_a_box():
    found = envelope(box_tank(SIZE), [breather("vent", VENT)], 0.85 * FULL, every_deg=15.0)
    assert_rows_are(found.limits, lambda k: box_loss(VENT, 0.85 * FULL, k, wet=False))
    assert {row.port for row in found.limits if row.limited} == {"vent"}


def test_opening_with_bore_facing_and_cover():
    """A tube of 50 mm that faces aside, 30 mm of cover: the rim's highest point must be under."""
    centre, radius, cover = (0.45, 0.2, 0.05), 0.025, 0.03
    port = pickup("suction", centre, bore=2 * radius, facing="left", cover=cover)
    volume = 0.5 * FULL
    found = envelope(box_tank(SIZE), [port], volume, every_deg=45.0)

    def kept(slope, heading):
        u = slope_up(slope, heading)
        edge = sum(a * b for a, b in zip(u, centre, strict=True)) + cover
        edge += radius * math.hypot(u[0], u[2])  # the axis lies along y
        return box_below(SIZE, u, edge) <= volume

    for row in found.limits:
        k = math.radians(row.heading_deg)
        root = first_loss(lambda b, k=k: kept(b, k), math.radians(60.0))
        assert row.limited is (root is not None)
        if root is not None:
            assert row.slope_deg == pytest.approx(math.degrees(root), abs=1e-9)


def test_default_cover_is_two_bores():
    port = pickup("suction", SUCTION, bore=0.02, facing="down")
    given = pickup("suction", SUCTION, bore=0.02, facing="down", cover=0.04)
    bare = pickup("suction", SUCTION, bore=0.02, facing="down", cover=0.0)
    a, b, c = (
        envelope(box_tank(SIZE), [p], 0.6 * FULL, every_deg=90.0) for p in (port, given, bare)
    )
    assert [r.slope_deg for r in a.limits] == [r.slope_deg for r in b.limits]
    assert c.nose_up is None or c.nose_up > a.nose_up


def test_signs_are_in_the_names():
    """A pickup in the rear right floor corner: safe nose up and right down, lost the other ways."""
    found = envelope(box_tank(SIZE), [pickup("suction", (0.0, 0.0, 0.0))], 0.1 * FULL)
    assert found.nose_up is None
    assert found.right_down is None
    assert found.nose_down == pytest.approx(math.degrees(math.atan(2 * 0.03 / 0.9)), abs=1e-9)
    assert found.left_down == pytest.approx(math.degrees(math.atan(2 * 0.03 / 0.4)), abs=1e-9)
    by_heading = {row.heading_deg: row.slope_deg for row in found.limits}
    assert by_heading[0.0] is None  # nose uphill
    assert by_heading[90.0] is None  # left side uphill
    assert by_heading[180.0] == found.nose_down
    assert by_heading[270.0] == found.left_down


def test_the_port_that_gives_out_first_is_named():
    ports = [pickup("suction", SUCTION), breather("vent", VENT)]
    volume = 0.75 * FULL
    found = envelope(box_tank(SIZE), ports, volume, every_deg=30.0)
    for row in found.limits:
        roots = {
            "suction": box_loss(SUCTION, volume, row.heading_deg),
            "vent": box_loss(VENT, volume, row.heading_deg, wet=False),
        }
        lost = {name: root for name, root in roots.items() if root is not None}
        assert row.port == (min(lost, key=lost.get) if lost else None)
        assert row.slope_deg == (pytest.approx(min(lost.values()), abs=1e-9) if lost else None)


def test_all_pickups_or_any_one():
    """Front and rear pickups: all is the worse of the two at each heading, any one the better."""
    front, rear = pickup("front", (0.85, 0.2, 0.02)), pickup("rear", (0.05, 0.2, 0.02))
    volume = 0.3 * FULL

    def rows(ports, **options):
        found = envelope(box_tank(SIZE), ports, volume, every_deg=30.0, **options).limits
        return [90.0 if row.slope_deg is None else row.slope_deg for row in found]

    alone = rows([front]), rows([rear])
    np.testing.assert_allclose(rows([front, rear]), np.minimum(*alone), atol=1e-9)
    np.testing.assert_allclose(rows([front, rear], pickups="any"), np.maximum(*alone), atol=1e-9)
    assert max(rows([front, rear])) < 90.0


def test_any_pickup_does_not_let_a_heater_run_dry():
    ports = [pickup("a", (0.85, 0.2, 0.02)), pickup("b", (0.05, 0.2, 0.02))]
    hot = heater("heater", (0.45, 0.2, 0.1))
    found = envelope(box_tank(SIZE), [*ports, hot], 0.3 * FULL, pickups="any", every_deg=90.0)
    alone = envelope(box_tank(SIZE), [hot], 0.3 * FULL, every_deg=90.0)
    assert found.nose_up == pytest.approx(alone.nose_up, abs=1e-9)
    assert found.limits[0].port == "heater"


def test_pickups_at_the_least_fill_and_breathers_at_the_most():
    ports = [pickup("suction", SUCTION), breather("vent", VENT)]
    found = envelope(box_tank(SIZE), ports, Fill(0.3 * FULL, 0.9 * FULL), every_deg=30.0)
    for row in found.limits:
        lost = [
            box_loss(SUCTION, 0.3 * FULL, row.heading_deg),
            box_loss(VENT, 0.9 * FULL, row.heading_deg, wet=False),
        ]
        lost = [root for root in lost if root is not None]
        assert row.slope_deg == (pytest.approx(min(lost), abs=1e-9) if lost else None)


def test_ports_without_a_rule_change_nothing():
    alone = envelope(box_tank(SIZE), [pickup("suction", SUCTION)], 0.4 * FULL, every_deg=90.0)
    more = [pickup("suction", SUCTION), drain("drain", (0.5, 0.2, 0.0))]
    assert envelope(box_tank(SIZE), more, 0.4 * FULL, every_deg=90.0).limits == alone.limits


# A low roof behind the pickup, a deep well before it. Nose up, liquid behind gains until it meets the
# roof, the well loses all the while: V below the pickup's plane, less that at level, in terms of
# t = tan slope is t/2 - 0.18 t up to t = 0.05, then 0.05 - 0.00125 / t - 0.18 t. Its peak is 0.02
# at t = sqrt(0.00125 / 0.18).
WELL_LEVEL = 0.25 + 0.6 * 1.25
WELL_PEAK = math.degrees(math.atan(math.sqrt(0.00125 / 0.18)))


def well_tank():
    return from_manifold("well", block((1.0, 1.0, 0.3)) + block((0.6, 1.0, 1.6), (1.0, 0.0, -1.0)))


def test_an_island_beyond_the_limit_is_found_and_its_ends_are_exact():
    port = pickup("suction", (1.0, 0.5, 0.25))
    found = envelope(well_tank(), [port], WELL_LEVEL + 0.01, every_deg=90.0)
    lost = math.degrees(math.atan(0.01 / 0.32))
    again = math.degrees(math.atan((0.04 + math.sqrt(0.04**2 - 4 * 0.18 * 0.00125)) / 0.36))
    assert found.ok_at_level
    assert found.nose_up == pytest.approx(lost, abs=1e-9)
    ahead = [island for island in found.islands if island.heading_deg == 0.0]
    assert len(ahead) == 1
    assert ahead[0].from_deg == pytest.approx(again, abs=1e-9)
    assert ahead[0].to_deg == pytest.approx(60.0, abs=1e-12)
    assert found.limits[0].held_to_deg <= lost


def test_a_margin_that_only_grazes_zero_says_so_and_bounds_short_of_it():
    port = pickup("suction", (1.0, 0.5, 0.25))
    found = envelope(well_tank(), [port], WELL_LEVEL + 0.02 + 1e-9, every_deg=90.0)
    row = found.limits[0]
    assert row.grazing
    assert WELL_PEAK - 1.0 < row.held_to_deg < WELL_PEAK
    assert row.slope_deg is None or row.slope_deg > WELL_PEAK + 5.0
    assert found.worst.held_to_deg < WELL_PEAK


def test_a_margin_clear_of_zero_does_not_graze():
    port = pickup("suction", (1.0, 0.5, 0.25))
    found = envelope(well_tank(), [port], WELL_LEVEL + 0.025, every_deg=90.0)
    assert not found.limits[0].grazing
    assert found.limits[0].held_to_deg > WELL_PEAK + 1.0


def test_lost_at_level_is_not_never_lost():
    port = pickup("suction", (0.45, 0.2, 0.2))
    dry = envelope(box_tank(SIZE), [port], 0.5 * FULL, every_deg=45.0)
    assert not dry.ok_at_level
    assert dry.margin_at_level_m == pytest.approx(0.15 - 0.2, abs=1e-12)
    for row in (*dry.limits, dry.worst):
        assert row.limited
        assert row.slope_deg == row.held_to_deg == row.grade_percent == 0.0
        assert row.port == "suction"
    wet = envelope(
        box_tank(SIZE), [pickup("suction", (0.45, 0.2, 0.02))], 0.5 * FULL, every_deg=45.0
    )
    assert wet.ok_at_level
    for row in (*wet.limits, wet.worst):
        assert not row.limited
        assert row.slope_deg is None
        assert row.port is None
        assert row.held_to_deg == pytest.approx(60.0)
    assert wet.searched_to_deg == 60.0
    assert wet.islands == ()


def test_worst_lies_between_the_headings_listed():
    """Listed every 90°, worst for a corner near the diagonal: the least root of a scan of headings."""
    point, volume = (0.05, 0.05, 0.03), 0.5 * FULL
    found = envelope(box_tank(SIZE), [pickup("suction", point)], volume, every_deg=90.0)
    scan = [
        (box_loss(point, volume, k, to_deg=75.0) or 99.0, k) for k in np.arange(180.0, 271.0, 10.0)
    ]
    coarse = min(scan)
    fine = min(
        box_loss(point, volume, k, to_deg=75.0) or 99.0
        for k in np.linspace(coarse[1] - 10, coarse[1] + 10, 81)
    )
    assert fine < min(row.slope_deg or 60.0 for row in found.limits) - 0.5
    assert found.worst.slope_deg == pytest.approx(fine, abs=1e-3)
    assert found.worst.slope_deg <= fine + 1e-9
    assert fine - 0.05 <= found.worst.held_to_deg <= found.worst.slope_deg
    assert found.worst.heading_deg % 90.0 not in (0.0, 90.0)


CASES = {
    "box": ((0.1, 0.2, 0.1), (1.0, 0.3, 0.8), 0.6),
    "L": ((0.9, 0.2, 0.05), (0.2, 0.3, 0.85), 0.6),
    "baffled with sump": ((0.2, 0.2, -0.15), (1.0, 0.4, 0.78), 0.35),
    "saddle": ((0.2, 0.2, 0.1), (0.9, 0.0, 0.59), 0.5),
    "stepped": ((0.5, -0.25, 0.06), (0.3, -0.1, 0.59), 0.55),
}


@cache
def solved(name):
    low, high, share = CASES[name]
    mesh = tank(name)
    return envelope(mesh, [pickup("suction", low), breather("vent", high)], share * mesh.capacity)


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_lost_inside_the_bounds(name):
    """2,000 random attitudes inside held_to, judged by the plain kernel: no port has given out."""
    low, high, share = CASES[name]
    mesh, found = tank(name), solved(name)
    assert found.ok_at_level
    assert any(row.limited for row in found.limits)
    rng = np.random.default_rng(5)
    row = rng.integers(0, 72, 1500)
    held = np.array([limit.held_to_deg for limit in found.limits])
    heading = np.concatenate([5.0 * row, rng.uniform(0.0, 360.0, 500)])
    most = np.concatenate([held[row], np.full(500, found.worst.held_to_deg)])
    slope = most * np.sqrt(rng.uniform(0.0, 1.0, 2000))
    slope[::4] = most[::4]  # at the bounds themselves too
    up = up_from_slope_heading(np.radians(slope), np.radians(heading))
    for point, sign in ((low, 1.0), (high, -1.0)):
        for part in np.array_split(up, 20):
            below = volumes_plain(mesh.vertices, mesh.faces, part, part @ np.asarray(point))[0]
            assert np.all(sign * (share * mesh.capacity - below) >= -1e-12 * mesh.capacity)


@pytest.mark.parametrize("name", CASES)
def test_bounds_lie_within_the_tolerance_of_the_roots_and_never_above(name):
    found = solved(name)
    for row in found.limits:
        if row.slope_deg is not None:
            assert row.held_to_deg <= row.slope_deg
            assert row.grazing or row.held_to_deg >= row.slope_deg - 0.05
    least = min(row.slope_deg for row in found.limits if row.slope_deg is not None)
    assert found.worst.slope_deg <= least
    assert found.worst.held_to_deg <= found.worst.slope_deg
    assert found.worst.grazing or found.worst.held_to_deg >= found.worst.slope_deg - 0.05
    assert found.worst.held_to_deg <= min(row.held_to_deg for row in found.limits) + 0.05


@pytest.mark.parametrize("tolerance", [0.5, 0.005])
def test_tolerance_is_kept(tolerance):
    found = envelope(
        box_tank(SIZE),
        [pickup("suction", SUCTION)],
        0.4 * FULL,
        every_deg=30.0,
        tolerance_deg=tolerance,
    )
    gaps = [row.slope_deg - row.held_to_deg for row in found.limits if row.limited]
    assert min(gaps) >= 0.0
    assert max(gaps) <= tolerance
    assert 0.0 <= found.worst.slope_deg - found.worst.held_to_deg <= tolerance


def test_grade_is_of_the_rounded_bound_and_rounded_down():
    found = envelope(box_tank(SIZE), [pickup("suction", SUCTION)], 0.4 * FULL)
    for row in (*found.limits, found.worst):
        tenth = math.floor(row.held_to_deg * 10.0 + 1e-9) / 10.0
        exact = 100.0 * math.tan(math.radians(tenth))
        assert row.grade_percent <= exact + 1e-9
        assert row.grade_percent > exact - 0.1 - 1e-9
        assert row.grade_percent == pytest.approx(round(row.grade_percent, 1), abs=1e-12)
    assert any(
        row.grade_percent < math.floor(1000.0 * math.tan(math.radians(row.held_to_deg))) / 10.0
        for row in found.limits
    )


def test_a_tank_turned_in_its_machine_turns_its_envelope():
    """Nose of the tank 30° to the left: what the tank calls heading k, the machine calls k + 30°."""
    ports = [pickup("suction", SUCTION)]
    plain = envelope(box_tank(SIZE), ports, 0.4 * FULL, every_deg=30.0)
    mesh, moved = mount(box_tank(SIZE), ports, mounting_rotation(yaw=math.radians(30.0)))
    found = envelope(mesh, moved, 0.4 * FULL, every_deg=30.0)
    here = [90.0 if r.slope_deg is None else r.slope_deg for r in plain.limits]
    there = [90.0 if r.slope_deg is None else r.slope_deg for r in found.limits]
    np.testing.assert_allclose(np.roll(here, 1), there, atol=1e-8)


def test_a_tank_mounted_nose_up_loses_that_much_nose_up():
    """Fixed 4° nose up, limits along the axis shift by 4° each way."""
    ports = [pickup("suction", (0.45, 0.2, 0.0))]
    plain = envelope(box_tank(SIZE), ports, 0.15 * FULL, every_deg=90.0)
    mesh, moved = mount(box_tank(SIZE), ports, mounting_rotation(pitch=math.radians(4.0)))
    found = envelope(mesh, moved, 0.15 * FULL, every_deg=90.0)
    assert found.nose_up == pytest.approx(plain.nose_up - 4.0, abs=1e-8)
    assert found.nose_down == pytest.approx(plain.nose_down + 4.0, abs=1e-8)


def test_brim_full():
    """A pickup below the roof is never lost, a breather anywhere at once.

    In the roof itself a pickup counts as lost: brim-full is judged 1e-9 short of full.
    """
    mesh = box_tank(SIZE)
    wet = envelope(mesh, [pickup("suction", (0.45, 0.2, 0.299))], mesh.capacity, every_deg=90.0)
    assert wet.ok_at_level
    assert not wet.worst.limited
    roof = envelope(mesh, [pickup("suction", (0.45, 0.2, 0.3))], mesh.capacity, every_deg=90.0)
    assert not roof.ok_at_level
    dry = envelope(mesh, [breather("vent", (0.45, 0.2, 0.299))], mesh.capacity, every_deg=90.0)
    assert not dry.ok_at_level
    assert dry.worst.slope_deg == 0.0


def test_strainer_is_lost_before_either_of_its_ends_alone():
    whole = strainer("s", (0.3, 0.2, 0.02), bore=0.04, length=0.3, facing="forward", cover=0.0)
    ends = [pickup("s", (x, 0.2, 0.02), bore=0.04, facing="forward", cover=0.0) for x in (0.3, 0.6)]
    volume = 0.3 * FULL
    rows = [
        [r.slope_deg or 90.0 for r in envelope(box_tank(SIZE), [p], volume, every_deg=45.0).limits]
        for p in (whole, *ends)
    ]
    np.testing.assert_allclose(rows[0], np.minimum(rows[1], rows[2]), atol=1e-9)


def test_map_margins_have_the_sign_of_the_rule():
    mesh = box_tank(SIZE)
    ports = [pickup("suction", SUCTION), breather("vent", VENT)]
    volume = 0.75 * FULL
    grid = envelope(mesh, ports, volume, every_deg=90.0).map
    assert grid.margin_m.shape == (len(grid.pitch_deg), len(grid.roll_deg))
    assert grid.ports == ("suction", "vent")
    for i in range(0, len(grid.pitch_deg), 10):
        for j in range(0, len(grid.roll_deg), 10):
            x, y = (math.sin(math.radians(a)) for a in (grid.pitch_deg[i], grid.roll_deg[j]))
            if x * x + y * y > 1.0:
                assert math.isnan(grid.margin_m[i, j])
                assert grid.port_index[i, j] == -1
                continue
            up = (x, y, math.sqrt(1.0 - x * x - y * y))
            span = [
                sum(min(s * u, 0) for s, u in zip(SIZE, up, strict=True)),
                sum(max(s * u, 0) for s, u in zip(SIZE, up, strict=True)),
            ]
            level = bisect(lambda h, up=up: box_below(SIZE, up, h), volume, *span)
            cover = level - np.dot(up, SUCTION)
            air = np.dot(up, VENT) - level
            assert grid.margin_m[i, j] == pytest.approx(min(cover, air), abs=1e-9)
            assert grid.port_index[i, j] == (0 if cover <= air else 1)
            np.testing.assert_allclose(grid.lead_m[:, i, j], (air - cover, cover - air), atol=1e-9)


def test_on_the_map_the_port_that_leads_is_the_one_that_sets_the_margin():
    """Two pickups of which one is enough, and a breather: each leads somewhere."""
    ports = [
        pickup("front", (0.8 * SIZE[0], 0.5 * SIZE[1], 0.02)),
        pickup("rear", (0.2 * SIZE[0], 0.5 * SIZE[1], 0.02)),
        breather("vent", VENT),
    ]
    grid = envelope(box_tank(SIZE), ports, 0.5 * FULL, pickups="any", every_deg=90.0).map
    real = grid.port_index >= 0
    assert set(grid.port_index[real]) == {0, 1, 2}
    assert np.isnan(grid.lead_m[:, ~real]).all()
    leads = grid.lead_m[:, real]
    setter = grid.port_index[real]
    ours = leads[setter, np.arange(len(setter))]
    assert (ours >= 0.0).all()
    leads[setter, np.arange(len(setter))] = -np.inf
    assert (leads.max(axis=0) <= 0.0).all(), "one port leads at a time"
    assert (np.abs(leads.max(axis=0) + ours) < 1e-12).any(), "and hands over at nought"


def test_round_tank_lying_along_does_not_care_for_roll():
    """A pickup on the axis of a full polygon of 360 sides: roll turns the tank on itself."""
    turn = np.radians(np.arange(360) + 0.5)
    mesh = convex_prism(0.3 * np.stack([np.cos(turn), np.sin(turn)], -1), 1.0)
    found = envelope(
        mesh, [pickup("suction", (0.5, 0.0, 0.0))], 0.55 * mesh.capacity, every_deg=90.0
    )
    assert found.left_down is None
    assert found.right_down is None


def test_far_from_the_origin_the_limits_are_the_same():
    shift = np.array([512.0, -1024.0, 256.0])
    near = envelope(box_tank(SIZE), [pickup("s", SUCTION)], 0.4 * FULL, every_deg=30.0)
    far = envelope(
        turned(box_tank(SIZE), np.eye(3), shift),
        [pickup("s", tuple(np.asarray(SUCTION) + shift))],
        0.4 * FULL,
        every_deg=30.0,
    )
    for a, b in zip(near.limits, far.limits, strict=True):
        assert (a.slope_deg is None) == (b.slope_deg is None)
        if a.slope_deg is not None:
            assert b.slope_deg == pytest.approx(a.slope_deg, abs=1e-8)


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"search_to_deg": 90.0}, AttitudeError, "at or past 90"),
        ({"search_to_deg": 0.0}, AttitudeError, "no search"),
        ({"every_deg": 0.0}, AttitudeError, "cannot be used"),
        ({"tolerance_deg": 0.0}, AttitudeError, "cannot be used"),
    ],
)
def test_searches_that_make_no_sense_are_refused(options, error, words):
    with pytest.raises(error, match=words):
        envelope(box_tank(SIZE), [pickup("s", SUCTION)], 0.05, **options)


def test_inputs_that_do_not_fit_the_tank_are_refused():
    with pytest.raises(FillError, match="more than the tank holds"):
        envelope(box_tank(SIZE), [pickup("s", SUCTION)], 1.01 * FULL)
    with pytest.raises(FillError, match="not positive"):
        envelope(box_tank(SIZE), [pickup("s", SUCTION)], -0.01)
    with pytest.raises(PortError, match=r"outside the tank by 100\.0 mm"):
        envelope(box_tank(SIZE), [pickup("s", (1.0, 0.2, 0.1))], 0.05)
    with pytest.raises(PortError, match="no port sets a limit"):
        envelope(box_tank(SIZE), [drain("d", (0.5, 0.2, 0.0))], 0.05)
    with pytest.raises(PortError, match="no port sets a limit"):
        envelope(box_tank(SIZE), [], 0.05)


def test_filler_must_stay_dry_like_a_breather():
    fills = [
        envelope(box_tank(SIZE), [p("p", VENT)], 0.85 * FULL, every_deg=90.0)
        for p in (breather, filler)
    ]
    assert [r.slope_deg for r in fills[0].limits] == [r.slope_deg for r in fills[1].limits]
