"""Pools at an attitude: which port stands in which, what is trapped, and that the path counts."""

import math

import pytest

from tanksolve.errors import FillError
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, filler, pickup
from tanksolve.model.tank import Tank
from tanksolve.questions.level.pools import pools
from tanksolve.questions.level.surface import level
from tanksolve.record import as_plain
from tests.pool_tanks import arrays, box

WALL = 1e-3


def two_bays(wall_height=0.3):
    solid = box((0, 0, 0), (1.2 + WALL, 0.5, 0.8))
    solid -= box((0.6, -1, -1), (0.6 + WALL, 1, wall_height))
    return Tank("two bays", *arrays(solid))


REAR = pickup("rear", (0.5, 0.25, 0.02))
FRONT = pickup("front", (1.1, 0.25, 0.02))


def nose_down(degrees):
    return Attitude.from_rotations(math.radians(-degrees), 0.0)


def test_the_uphill_bay_is_trapped_and_its_volume_told():
    found = pools(two_bays(), 0.12, nose_down(20.0), [FRONT, filler("fill", (0.1, 0.25, 0.8))])
    assert found.filled == "poured in at 'fill'"
    assert [pool.ports for pool in found.pools] == [("front",), ("fill",)]
    assert found.trapped_m3 == pytest.approx(
        0.0572427, rel=2e-6
    )  # check value, W (h b - b² tan / 2)
    assert sum(pool.volume_m3 for pool in found.pools) == pytest.approx(0.12, rel=1e-12)


def test_one_plane_is_wrong_on_the_unsafe_side_for_a_pickup_downhill():
    """Filled through the rear bay: the front one is nearly dry, one plane says that it is not."""
    ports = [FRONT, filler("fill", (0.1, 0.25, 0.8))]
    found = pools(two_bays(), 0.0901, None, ports)
    one = level(two_bays(), 0.0901, None, ports)
    assert one.ports[0].holds
    assert not found.ports[0].holds
    assert found.ports[0].margin_m == pytest.approx(0.0001 / 0.3 - 0.02, abs=1e-9)


def test_a_pickup_over_a_dry_bay_is_dry():
    found = pools(two_bays(), 0.05, None, [FRONT, filler("fill", (0.1, 0.25, 0.8))])
    front = found.ports[0]
    assert (front.pool, front.wet, front.holds) == (None, False, False)
    assert front.margin_m == pytest.approx(-0.02)
    assert found.trapped_m3 == pytest.approx(0.05)


def test_one_body_agrees_with_the_single_plane():
    ports = [REAR, FRONT, breather("vent", (0.6, 0.25, 0.8))]
    found = pools(two_bays(), 0.3, nose_down(10.0), ports)
    one = level(two_bays(), 0.3, nose_down(10.0), ports)
    assert len(found.pools) == 1
    assert found.pools[0].level_height_m == pytest.approx(one.level_height_m, abs=1e-12)
    assert [p.margin_m for p in found.ports] == pytest.approx([p.margin_m for p in one.ports])
    assert found.trapped_m3 == 0.0


def test_the_path_counts():
    """Tilted the other way first, the front bay is what keeps its liquid."""
    straight = pools(two_bays(), 0.12, nose_down(5.0), [REAR, FRONT])
    detour = pools(two_bays(), 0.12, nose_down(5.0), [REAR, FRONT], path=[nose_down(-30.0)])
    kept = 0.5 * 0.5 * 0.09 / math.tan(math.radians(30.0))

    def in_front(found):
        return next(pool.volume_m3 for pool in found.pools if "front" in pool.ports)

    assert in_front(straight) == pytest.approx(0.06, rel=1e-9)
    assert in_front(detour) == pytest.approx(kept, rel=1e-6)
    assert "as given" in detour.path


def test_what_the_record_holds():
    record = as_plain(pools(two_bays(), 0.12, nose_down(20.0), [REAR, FRONT]))
    wanted = {"volume_m3", "level_height_m", "surface_area_m2", "pit_m", "ports"}
    assert set(record["pools"][0]) == wanted
    assert record["trapped_m3"] == pytest.approx(0.0)


def test_refusals():
    with pytest.raises(FillError, match="does not fit"):
        pools(two_bays(), 1.0)
