"""Pools as shapes: each holds what its pool holds, and the merge tree's basins add up."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pool_tanks import TANKS, arrays

from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import filler, pickup
from tanksolve.model.tank import Tank
from tanksolve.project.load import load
from tanksolve.questions.level.pool_shapes import liquid_centroid, merge_record, pool_shapes
from tanksolve.questions.level.pools import pools

SOLIDS = {name: Tank(name, *arrays(make())) for name, make in TANKS.items()}


def signed_volume(vertices, faces):
    a, b, c = (vertices[faces[:, k]] - vertices[0] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def is_closed(faces):
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    forward = {(int(a), int(b)) for a, b in edges if a != b}
    count = {}
    for a, b in edges:
        if a != b:
            key = (min(a, b), max(a, b))
            count[key] = count.get(key, 0) + (1 if a < b else -1)
    return bool(forward) and not any(count.values())


@settings(max_examples=40)
@given(
    name=st.sampled_from(sorted(SOLIDS)),
    share=st.floats(0.01, 0.95),
    slope=st.floats(0.0, 80.0),
    heading=st.floats(0.0, 360.0),
)
def test_each_shape_is_closed_and_holds_what_its_pool_holds(name, share, slope, heading):
    tank = SOLIDS[name]
    attitude = Attitude.from_slope(np.radians(slope), np.radians(heading))
    settled = pools(tank, share * tank.capacity, attitude)
    for pool, shape in zip(settled.pools, pool_shapes(tank, settled), strict=True):
        assert is_closed(shape.faces)
        assert signed_volume(shape.vertices, shape.faces) == pytest.approx(
            pool.volume_m3, rel=1e-9, abs=1e-12 * tank.capacity
        )
        heights = shape.vertices @ np.array(settled.up)
        assert heights.max() <= pool.level_height_m + 1e-9
        for loop in shape.surface:
            assert loop @ np.array(settled.up) == pytest.approx(pool.level_height_m, abs=1e-9)


def test_a_full_pool_ends_at_its_saddle():
    """A wall of 200 mm in a tank of 1 m; poured in behind it until it runs over."""
    from tanksolve.model.ports import filler

    whole = SOLIDS["hanging and weirs"]
    rear = filler("filler", (0.05, 0.2, 0.39), bore=0.02)
    settled = pools(whole, 0.02, Attitude.level(), [rear])
    full = next(p for p in settled.pools if p.level_height_m == pytest.approx(0.2))
    assert full.volume_m3 == pytest.approx(0.2 * 0.4 * 0.2)
    shape = pool_shapes(whole, settled)[settled.pools.index(full)]
    assert shape.vertices[:, 0].max() == pytest.approx(0.2)


@pytest.mark.parametrize("name", sorted(SOLIDS))
def test_basins_add_up_and_the_last_is_the_tank(name):
    tank = SOLIDS[name]
    settled = pools(tank, 0.3 * tank.capacity, Attitude.from_slope(0.3, 0.7))
    record = merge_record(tank, settled)
    roots = [basin for basin in record.basins if basin.joins is None]
    assert sum(basin.holds_m3 for basin in roots) == pytest.approx(tank.capacity)
    for basin in record.basins:
        assert basin.from_height_m < basin.to_height_m
        for part in basin.made_of:
            assert record.basins[part].to_height_m == basin.from_height_m
            assert record.basins[part].holds_m3 < basin.holds_m3
    assert sorted(k for basin in record.basins for k in basin.pools) == list(
        range(len(settled.pools))
    )


def test_a_plain_box_is_one_basin():
    tank = box(0.9, 0.3, 0.3)
    settled = pools(tank, 0.042, Attitude.from_slope(0.1, 0.0))
    record = merge_record(tank, settled)
    assert [(b.made_of, b.joins, b.pools) for b in record.basins] == [((), None, (0,))]
    assert record.basins[0].holds_m3 == pytest.approx(0.081)
    (shape,) = pool_shapes(tank, settled)
    assert signed_volume(shape.vertices, shape.faces) == pytest.approx(0.042)


def test_the_centre_of_two_pools_is_that_of_their_moments():
    """50 L poured into the rear bay: 39.76 L brim-full 0.2 m deep, the rest in the front one; bays of 0.497 m."""
    tank = load(Path(__file__).parents[3] / "meshes" / "two_bays.toml").tank
    settled = pools(tank, 0.05, Attitude.level(), [filler("neck", (0.2, 0.2, 0.29))])
    area = 0.4 * 0.497
    rear, front = area * 0.2, 0.05 - area * 0.2
    x = (rear * 0.5 * 0.497 + front * (1.0 - 0.5 * 0.497)) / 0.05
    z = (rear * 0.1 + front * 0.5 * front / area) / 0.05
    assert liquid_centroid(tank, settled) == pytest.approx((x, 0.2, z), rel=1e-9)


@pytest.mark.parametrize(("high", "wet", "covered"), [(0.05, 1, 1), (0.15, 1, 0), (0.25, 0, 0)])
def test_a_port_that_the_surface_cuts_is_wet_and_not_covered(high, wet, covered):
    """30 L poured into the rear bay stand 151 mm deep; the ports reach 30 mm up and down."""
    tank = load(Path(__file__).parents[3] / "meshes" / "two_bays.toml").tank
    ports = [pickup("p", (0.2, 0.2, high), bore=0.06), filler("neck", (0.2, 0.2, 0.29))]
    found = pools(tank, 0.03, Attitude.level(), ports).ports[0]
    assert (found.wet, found.covered) == (bool(wet), bool(covered))
    assert found.pool is not None
