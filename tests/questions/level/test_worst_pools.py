"""The worst state for a port as pools: it holds all the liquid, and it is one that stands still."""

import numpy as np
import pytest
from pool_tanks import arrays
from pool_tanks import box as cuboid

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup
from tanksolve.model.tank import Tank
from tanksolve.questions.level.pool_shapes import pool_shapes
from tanksolve.questions.level.worst_pools import corner_below, worst_pools
from tanksolve.state.conditions import Conditions

WALLED = build(
    Parts(box(0.9, 0.3, 0.3), (), (Baffle("w", "across", 0.4, 0.003, gaps={"top": 0.15}),))
)


def test_by_hand_on_level_ground() -> None:
    """The front bay is full to the wall, 22.365 L; the rest stands at the pickup."""
    port = pickup("p", (0.1, 0.15, 0.02), cover=0.0)
    level = (0.03 - 0.3 * 0.497 * 0.15) / (0.3 * 0.4)
    found = worst_pools(WALLED, 0.03, Attitude.level(), port, level - 0.02)
    assert [p.volume_m3 for p in found.pools] == pytest.approx([0.022365, 0.007635], rel=1e-9)
    assert [p.level_height_m for p in found.pools] == pytest.approx([0.15, level], rel=1e-9)
    assert found.ports[0].pool == 1


@pytest.mark.parametrize("seed", range(6))
def test_all_the_liquid_is_in_it_at_the_margin_that_limits_rest_on(seed: int) -> None:
    """Plates low and high at any attitude: the pools of the worst margin hold the fill, no more and no less."""
    rng = np.random.default_rng(seed)
    plates = tuple(
        Baffle(f"b{k}", "across", at, 0.003, gaps={"top": float(rng.uniform(0.1, 0.25))})
        for k, at in enumerate((0.25, 0.6))
    )
    tank = build(Parts(box(0.9, 0.3, 0.3), (), plates))
    port = pickup("p", (float(rng.uniform(0.3, 0.5)), 0.15, 0.02), cover=0.01)
    attitude = Attitude.from_inclinometer(*rng.uniform(-0.3, 0.3, 2))
    fill = 0.045
    margin = float(Conditions.of(tank, (port,), fill).margins(np.array([[attitude.up]]))[0, 0, 0])
    found = worst_pools(tank, fill, attitude, port, margin)
    held = sum(pool.volume_m3 for pool in found.pools)
    assert held == pytest.approx(fill, rel=1e-6)
    shapes = pool_shapes(tank, found)
    assert len(shapes) == len(found.pools)


def test_a_dry_ports_own_pool_and_the_rest_elsewhere() -> None:
    port = breather("air", (0.1, 0.15, 0.2))
    margin = float(
        Conditions.of(WALLED, (port,), 0.02).margins(np.array([[[0.0, 0.0, 1.0]]]))[0, 0, 0]
    )
    found = worst_pools(WALLED, 0.02, Attitude.level(), port, margin)
    (own,) = found.pools
    assert own.volume_m3 <= 0.02 * (1.0 + 1e-9)
    assert own.level_height_m == pytest.approx(0.2 - margin)


def test_the_floor_below_a_place_is_the_nearest_though_a_smaller_face_lies_deeper() -> None:
    """A wide shelf, and a pad of 20 mm on the floor under it."""
    solid = cuboid((0, 0, 0), (1.0, 0.4, 0.4)) - cuboid((-1, -1, 0.2), (0.6, 1, 0.21))
    tank = Tank("shelf", *arrays(solid - cuboid((0.2, 0.19, -1), (0.22, 0.21, 0.05))))
    for high, below in ((0.3, 0.21), (0.1, 0.05)):
        corner = corner_below(tank, np.array([0.0, 0.0, 1.0]), np.array([0.21, 0.2, high]))
        assert (tank.graph.vertices[corner] + tank.graph.origin)[2] == pytest.approx(below)
