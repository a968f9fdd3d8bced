"""Places in a tank of two bays: heights against F by hand, zones against the engine's yes or no."""

import math

import numpy as np
import pytest

from tanksolve.geometry.parts import extrusion
from tanksolve.kernel.attitude.direction import up_from_inclinometer
from tanksolve.kernel.attitude.support import support_low
from tanksolve.kernel.pools.worst_state import room as least_room
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.envelope.requirement_met import requirement_met
from tanksolve.questions.place.heights import heights
from tanksolve.questions.place.place import place
from tanksolve.state.conditions import Conditions

DEG = math.radians(1.0)
WIDTH, ROOF, WALL = 0.4, 0.3, 0.2
SIDES = 0.597, 0.603  # of the wall: the rear bay is the longer one
PITCH = Requirement.box(12 * DEG, 0.0)
VOLUME = 0.07
MARGIN = 0.016  # more than half a bore


def two_bays(rear=SIDES[0], front=SIDES[1]):
    outline = [
        (0, 0),
        (rear, 0),
        (rear, WALL),
        (front, WALL),
        (front, 0),
        (1, 0),
        (1, ROOF),
        (0, ROOF),
    ]
    return extrusion(outline, WIDTH, "across")


def below(corners, up, height):
    """Area [m²] of a convex outline below ``up · x = height``: cut edge by edge, by the shoelace."""
    kept = []
    for here, there in zip(corners, corners[1:] + corners[:1], strict=True):
        a, b = (up[0] * x + up[1] * z - height for x, z in (here, there))
        if a <= 0.0:
            kept.append(here)
        if a * b < 0.0:
            t = a / (a - b)
            kept.append(tuple(p + t * (q - p) for p, q in zip(here, there, strict=True)))
    turns = (a[0] * b[1] - b[0] * a[1] for a, b in zip(kept, kept[1:] + kept[:1], strict=True))
    return 0.5 * abs(sum(turns)) if len(kept) > 2 else 0.0


def column(low, high, floor=0.0):
    return [(low, floor), (high, floor), (high, ROOF), (low, ROOF)]


REAR, FRONT, OVER = column(0, SIDES[0]), column(SIDES[1], 1), column(*SIDES, WALL)


def passes(up):
    """Heights of the wall's upper corners, rear and front: the higher is the pass between the bays."""
    return [up[0] * x + up[1] * WALL for x in SIDES]


def held_back(up, mine, other, h):
    """F [m³]: one bay to ``h``, the other to the wall's top, and what stands over the wall below it."""
    rear, front = passes(up)
    brim = max(rear, front)
    if h >= brim:
        return WIDTH * sum(below(part, up, h) for part in (REAR, FRONT, OVER))
    slopes_away = bool(rear > front) is (
        mine is REAR
    )  # from this bay: what is over the wall is the other's
    over = below(OVER, up, brim if slopes_away else h)
    return WIDTH * (below(mine, up, h) + below(other, up, brim) + over)


def room(up, mine, h):
    rear, front = passes(up)
    if h > max(rear, front):
        return WIDTH * sum(below(part, up, h) for part in (REAR, FRONT, OVER))
    over = 0.0 if bool(rear > front) is (mine is REAR) else below(OVER, up, h)
    return WIDTH * (below(mine, up, h) + over)


def root(of, volume):
    low, high = -1.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if of(middle) < volume else (low, middle)
    return high


def ups():
    pitch = np.linspace(-12, 12, 49) * DEG
    return np.stack([np.sin(pitch), np.cos(pitch)], axis=1)


@pytest.mark.parametrize(("x", "mine", "other"), [(0.2, REAR, FRONT), (0.8, FRONT, REAR)])
def test_the_highest_pickup_at_a_spot_is_where_f_is_the_fill(x, mine, other):
    found = heights(two_bays(), pickup("p", (0.2, 0.2, 0.1)), VOLUME, PITCH, x, 0.2)
    by_hand = min(
        (root(lambda h, u=u: held_back(u, mine, other, h), VOLUME) - u[0] * x) / u[1] for u in ups()
    )
    assert not found.one_surface
    assert 0.01 < by_hand < WALL
    assert found.highest_m == pytest.approx(by_hand, abs=1e-6)
    assert found.highest_m - 6e-4 <= found.held_m <= found.highest_m


@pytest.mark.parametrize("x", [0.2, 0.8])
def test_the_lowest_breather_at_a_spot_is_above_either_bay_with_all_that_it_can_hold(x):
    found = heights(two_bays(), breather("b", (0.2, 0.2, 0.1)), 0.02, PITCH, x, 0.2)
    by_hand = max(
        (root(lambda h, u=u, mine=mine: room(u, mine, h), 0.02) - u[0] * x) / u[1]
        for u in ups()
        for mine in (REAR, FRONT)
    )
    assert not found.one_surface
    assert 0.1 < by_hand < ROOF
    assert found.lowest_m == pytest.approx(by_hand, abs=1e-6)
    assert found.lowest_m <= found.held_m <= found.lowest_m + 6e-4


PORTS = {
    "wet": (pickup("p", (0.2, 0.2, 0.1), bore=0.03, facing="down", cover=0.01), VOLUME),
    "dry": (breather("b", (0.2, 0.2, 0.1), bore=0.02, facing="up", cover=0.01), 0.02),
}
NEED = Requirement.box(12 * DEG, 8 * DEG)


@pytest.fixture(scope="module", params=PORTS)
def zone(request):
    port, volume = PORTS[request.param]
    return port, volume, place(two_bays(), port, volume, NEED, tolerance_deg=0.2)


def attitudes():
    """All over ``NEED``, its rim and level ground included."""
    forward, side = np.meshgrid(np.linspace(-12, 12, 13) * DEG, np.linspace(-8, 8, 9) * DEG)
    return up_from_inclinometer(forward.ravel(), side.ravel())


def moved(port, point, more=0.0):
    made = pickup if port.name == "p" else breather
    facing = "down" if port.name == "p" else "up"
    cover = port.cover + more
    return made(port.name, tuple(map(float, point)), bore=port.bore, facing=facing, cover=cover)


def in_mesh(vertices, faces, points):
    """Whether points are inside a closed mesh, by its solid angles."""
    a, b, c = (vertices[faces[:, k]][None] - points[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(p, axis=2) for p in (a, b, c))
    dot = [np.einsum("pfi,pfi->pf", *pair) for pair in ((a, b), (b, c), (c, a))]
    det = np.einsum("pfi,pfi->pf", a, np.cross(b, c))
    angle = 2.0 * np.arctan2(det, la * lb * lc + dot[0] * lc + dot[1] * la + dot[2] * lb)
    return np.abs(angle.sum(axis=1)) > 2.0 * math.pi


def test_places_of_the_zone_hold_and_places_that_hold_well_are_in_it(zone):
    port, volume, found = zone
    tank, up = two_bays(), attitudes()
    assert found.feasible
    assert len(found.zones) == (2 if port.name == "p" else 1)
    rng = np.random.default_rng(3)
    points = rng.uniform(tank.lower + 0.001, tank.upper - 0.001, (120, 3))
    points = points[tank.winding(points) > 0.5]
    inside = in_mesh(found.zone.vertices, found.zone.faces, points)
    assert 5 < inside.sum() < len(points) - 20
    for point, within in zip(points, inside, strict=True):
        if within:
            assert Conditions.of(tank, [moved(port, point)], volume).held(up).all()
        else:
            assert not holds_well(tank, port, point, volume, up)


def holds_well(tank, port, point, volume, up):
    """Whether a place keeps its rule with 6 mm more of cover; a breather, over either bay."""
    if not MARGIN < point[1] < WIDTH - MARGIN:
        return False  # the rim is in a side wall
    if port.name == "p":
        return Conditions.of(tank, [moved(port, point, 0.006)], volume).held(up).all()
    edges = support_low(moved(port, point).discs, up) - port.cover - 0.006
    floors = [(0.3, 0.2, 0.001), (0.8, 0.2, 0.001)]
    return (least_room(tank.graph, up, floors, np.stack([edges, edges], -1)) >= volume).all()


def test_the_places_told_meet_the_requirement_with_the_margin_told(zone):
    port, volume, found = zone
    for point, margin in (
        (found.best_point_m, found.best_margin_m),
        (found.recommended_point_m, found.recommended_margin_m),
    ):
        assert margin > 0.0
        spot = two_bays().seated(point)
        (met,) = requirement_met(two_bays(), [moved(port, spot, margin - 1e-3)], volume, NEED)
        assert met.met
        (lost,) = requirement_met(two_bays(), [moved(port, spot, margin + 5e-3)], volume, NEED)
        assert not lost.met


def test_the_mirror_image_has_the_mirror_zone(zone):
    port, volume, found = zone
    other = place(two_bays(1.0 - SIDES[1], 1.0 - SIDES[0]), port, volume, NEED, tolerance_deg=0.2)
    assert other.zone_volume_m3 == pytest.approx(found.zone_volume_m3, rel=0.02)
    assert other.best_margin_m == pytest.approx(found.best_margin_m, abs=2e-3)
    assert other.zone_from_m[0] == pytest.approx(1.0 - found.zone_to_m[0], abs=3e-3)
