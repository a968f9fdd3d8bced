"""Where liquid runs to from places where it may run either way: vertices, edges, ridges, flats."""

import numpy as np
import pytest

from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.kernel.pools.settle import settle
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.pool_tanks import Solid, arrays, box, cups, holed_baffles

HAIR = 2e-5  # m


def inside(vertices, faces, points):
    """Whether points (P, 3) lie in a closed mesh: the solid angle that it fills, seen from them.

    A. Van Oosterom and J. Strackee, "The solid angle of a plane triangle", 1983, from memory.
    """
    a, b, c = (vertices[faces[:, k]][None] - points[:, None] for k in range(3))
    x, y, z = (np.linalg.norm(arm, axis=2) for arm in (a, b, c))
    over = (a * np.cross(b, c)).sum(2)
    under = x * y * z + (a * b).sum(2) * z + (a * c).sum(2) * y + (b * c).sum(2) * x
    return np.arctan2(over, under).sum(axis=1) > np.pi


def kissing_cups():
    """Two cups that share the vertex (0.3, 0.2, 0.2) and nothing else."""
    tank = box((0, 0, 0), (0.6, 0.4, 0.4))
    for low, high in (((0.1, 0.05, 0.1), (0.3, 0.2, 0.2)), ((0.3, 0.2, 0.2), (0.5, 0.35, 0.3))):
        inner = [value + 0.01 for value in low], [value - 0.01 for value in high[:2]]
        tank -= box(low, high) - box(tuple(inner[0]), (*inner[1], 1.0))
    return tank


TANKS = {"holed baffles": holed_baffles, "cups": cups, "kissing cups": kissing_cups}


def starts(vertices, faces, most):
    """Vertices, middles of edges, middles of faces."""
    edges = np.unique(np.sort(np.vstack([faces[:, [0, 1]], faces[:, [1, 2]]]), axis=1), axis=0)
    places = np.vstack([vertices, vertices[edges].mean(axis=1), vertices[faces].mean(axis=1)])
    if len(places) <= most:
        return places
    return places[np.random.default_rng(1).choice(len(places), most, replace=False)]


@pytest.mark.parametrize("tilt", [(10, 0), (-10, 0), (0, 15), (5, 7), (-40, 12)])
@pytest.mark.parametrize("name", TANKS)
def test_liquid_runs_to_where_it_runs_from_a_hair_away(name, tilt):
    """On a ridge it may run either way, so one of the places near by has to agree.

    Before, it went round for ever between two faces at a vertex, up to a cap on its steps, or fell
    past the floor at the foot of a wall.
    """
    vertices, faces = arrays(TANKS[name]())
    graph = build_graph(vertices, faces)
    places = starts(vertices, faces, 120)
    near = places[:, None] + HAIR * np.random.default_rng(2).normal(size=(len(places), 30, 3))
    valid = np.array([inside(vertices, faces, points) for points in near])
    ports = np.vstack([places, near[valid]])
    up = up_from_pitch_roll(*np.radians(tilt))
    found = settle(graph, up[None], 1e-7 * graph.capacity, ports).port_level[0, 0]
    at, around = found[: len(places)], np.full(valid.shape, np.nan)
    around[valid] = found[len(places) :]
    seen = valid.any(axis=1)
    assert seen.sum() > 0.7 * len(places)
    gaps = np.nanmin(np.abs(around[seen] - at[seen, None]), axis=1)
    assert gaps.max() < 1e-9


@pytest.mark.parametrize("under_a_shelf", [False, True])
def test_what_falls_lands_straight_below_and_runs_down_from_there(under_a_shelf):
    """Nose down by 20 degrees: 0.3 m down is 0.109 m forward, and nothing to either side.

    Further on a wall along x parts the floor at y = 0.15 m; a wall across under the fall, 0.1 m high, is cleared
    where 0.2 m down is 0.073 m forward.
    """
    tank = box((0, 0, 0), (1.0, 0.4, 0.5)) - box((0.6, 0.15, -1), (2.0, 0.16, 0.45))
    tank -= box((0.36, -1, -1), (0.365, 1, 0.1))
    start = 0.3
    if under_a_shelf:
        tank, start = tank - box((-1, -1, 0.3), (0.3, 1, 0.31)), 0.05
    graph = build_graph(*arrays(tank))
    up = up_from_pitch_roll(np.radians(-20.0), 0.0)
    across = (0.05, 0.12, 0.17, 0.35)
    ports = [(start, y, 0.32 if under_a_shelf else 0.3) for y in across]
    bays = [(0.9, 0.07, 0.01), (0.9, 0.3, 0.01), (0.3, 0.2, 0.01)]
    found = settle(graph, up[None], 1e-6 * graph.capacity, [*ports, *bays]).port_pool[0, 0]
    left, right, rear = found[4:]
    assert len({left, right, rear}) == 3
    assert found[:4].tolist() == [left, left, right, right]


def test_from_an_overhanging_tip_liquid_falls_and_does_not_crawl_back_under():
    """Nose down by 20 degrees: a fall from the tip of a plate at x = 0.5 clears the wall at x = 0.56 m.

    The plate's keel leans back to x = 0.4, 0.2 m lower. What ran down that would drip off it short of the wall.
    """
    corners = [
        (0.1, 0.1, 0.4),
        (0.1, 0.3, 0.4),
        (0.5, 0.2, 0.3),
        (0.4, 0.19, 0.1),
        (0.4, 0.21, 0.1),
    ]
    tank = box((0, 0, 0), (1.0, 0.4, 0.5)) - Solid.hull_points(corners)
    graph = build_graph(*arrays(tank - box((0.56, -1, -1), (0.565, 1, 0.1))))
    up = up_from_pitch_roll(np.radians(-20.0), 0.0)
    above_the_tip, front, rear = (0.3, 0.2, 0.45), (0.9, 0.2, 0.01), (0.2, 0.01, 0.01)
    found = settle(graph, up[None], 1e-6 * graph.capacity, [above_the_tip, front, rear])
    falls, ahead, behind = found.port_pool[0, 0]
    assert falls == ahead != behind
