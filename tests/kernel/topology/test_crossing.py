"""Self-crossing: found when it is there, quiet when it is not, whatever the attitude and scale."""

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solids_by_hand import ball, box, inverted, turned

from tanksolve.geometry.mesh_checks import merged
from tanksolve.kernel.topology import crossing
from tanksolve.kernel.topology.crossing import find_crossings
from tanksolve.kernel.topology.edges import edges_of, merge_equal
from tanksolve.kernel.topology.face_pairs import CROSSES, OVERLAPS


def kinds(corners, tolerance=1e-6) -> set[int]:
    first, inverse = merge_equal(corners.reshape(-1, 3))
    faces = inverse.reshape(-1, 3)
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    vertices = corners.reshape(-1, 3)[first]
    size = float(np.linalg.norm(np.ptp(vertices, axis=0)))
    found = find_crossings(vertices, faces, edges_of(faces).twin, tolerance * size)
    return set(found.kind.tolist())


def both(*parts):
    return np.concatenate(parts)


def folded_fan(lift):
    """Four triangles about one corner; the last folds back by ``lift`` through the first."""
    hub, rim = (0, 0, 0), [(1, 0, 0), (0, 1, 0), (-1, 0, 0), (0, -1, 0)]
    faces = [[hub, rim[k], rim[k + 1]] for k in range(3)]
    return np.array([*faces, [hub, (0.5, 0.2, -lift), (0.5, 0.6, lift)]], float)


def hinge(angle):
    """Two triangles on one edge, ``angle`` [rad] between them: pi is flat, 0 folded shut."""
    tip = (0.2, np.cos(angle), np.sin(angle))
    return np.array([[(0, 0, 0), (1, 0, 0), (0.3, 1, 0)], [(1, 0, 0), (0, 0, 0), tip]], float)


def on_edge():
    """A box turned by 45 degrees that stands with one edge in the top face of the unit box."""
    c = np.sqrt(0.5)
    turn = np.array([[c, 0, c], [0, 1, 0], [-c, 0, c]])
    return box((0.5, 0.5, 0.5)) @ turn.T + [0.0, 0.2, 1.0 + 0.5 * c]


# Two cubes on one grid: they cross although each crossing line is an edge of both meshes.
ON_GRID = both(box((2, 2, 2), cells=4), box((2, 2, 2), (1, 1, 1), cells=3))
ON_GRID_SAME = both(box((2, 2, 2), cells=2), box((2, 2, 2), (1, 1, 1), cells=4))

CROSSING = {
    "two boxes": both(box(), box(low=(0.5, 0.5, 0.5))),
    "two boxes, barely": both(box(), box(low=(0.9999, 0.5, 0.5))),
    "two balls": both(ball(), ball(centre=(0.3, 0.2, 0.1))),
    "needle through a wall": both(box(), box((2, 0.01, 0.01), (0.5, 0.4, 0.4))),
    "fan folded through itself": folded_fan(0.3),
    "boxes on one grid": ON_GRID,
    "boxes on one grid, finer": ON_GRID_SAME,
    "edge on a face, both sides": both(box((2, 1, 1), cells=2), box((2, 0.5, 0.5), (1, 0.25, 0.5))),
}
OVERLAPPING = {
    "boxes that share part of a wall": both(box(), box(low=(1.0, 0.5, 0.5))),
    "a face twice": both(box(), box()[:1]),
    "a hinge folded shut": hinge(0.0),
    "a fan folded flat": folded_fan(0.0),
    "a sheet in the same plane": both(box(), box((0.5, 0.5, 0), (0.2, 0.2, 0))[8:9]),
}
PROPER = {
    "box": box(),
    "box of many coplanar faces": box(cells=6),
    "ball": ball(12),
    "boxes apart": both(box(), box(low=(1.01, 0, 0))),
    "boxes apart by a hair": both(box(), box(low=(1.0001, 0, 0))),
    "wall": both(box((1, 1, 1)), inverted(box((0.98, 0.98, 0.98), (0.01, 0.01, 0.01)))),
    "flat hinge": hinge(np.pi),
    "sharp hinge": hinge(0.01),
    "boxes that touch along an edge": both(box(), box(low=(1, 1, 0))),
    "boxes that touch in a corner": both(box(), box(low=(1, 1, 1))),
    "edge resting on a face": both(box(), on_edge()),
}


@pytest.mark.parametrize("name", CROSSING)
@pytest.mark.parametrize("seed", [None, 1, 2])
def test_crossing_is_found(name, seed):
    corners = CROSSING[name] if seed is None else turned(CROSSING[name], seed)
    assert CROSSES in kinds(corners)


@pytest.mark.parametrize("name", OVERLAPPING)
@pytest.mark.parametrize("seed", [None, 1, 2])
def test_overlap_is_found(name, seed):
    corners = OVERLAPPING[name] if seed is None else turned(OVERLAPPING[name], seed)
    assert OVERLAPS in kinds(corners)


@pytest.mark.parametrize("name", PROPER)
@pytest.mark.parametrize("seed", [None, 1, 2])
@pytest.mark.parametrize("single", [False, True])
def test_no_false_alarm(name, seed, single):
    corners = PROPER[name] if seed is None else turned(PROPER[name], seed)
    if single:
        corners = corners.astype(np.float32).astype(np.float64)
    assert kinds(corners) == set()


@given(
    seed=st.integers(0, 2**31),
    scale=st.sampled_from([1e-3, 1.0, 25.4, 1e4]),
    shift=st.sampled_from([0.0, 3.0, 100.0]),
    name=st.sampled_from(sorted(CROSSING | PROPER)),
)
def test_neither_attitude_place_nor_unit_matters(seed, scale, shift, name):
    corners = turned((CROSSING | PROPER)[name], seed, shift) * scale
    assert (CROSSES in kinds(corners)) == (name in CROSSING)


@given(seed=st.integers(0, 2**31), order=st.randoms(use_true_random=False))
def test_order_of_faces_and_corners_does_not_matter(seed, order):
    corners = turned(CROSSING["two balls"], seed)
    rows = list(range(len(corners)))
    order.shuffle(rows)
    shifted = np.roll(corners[rows], order.randrange(3), axis=1)
    assert CROSSES in kinds(shifted)
    assert kinds(np.roll(turned(PROPER["ball"], seed)[::-1], 1, axis=1)) == set()


@given(
    st.lists(st.floats(-1, 1, width=32), min_size=18, max_size=18),
)
def test_two_triangles_agree_with_a_plain_reckoning(numbers):
    """Against edges piercing faces, each by signs of volumes; near-ties are left out."""
    t = np.asarray(numbers, float).reshape(2, 3, 3)
    pierced = [_pierces(t[1 - k], t[k, e], t[k, (e + 1) % 3]) for k in (0, 1) for e in range(3)]
    if any(p is None for p in pierced):
        return
    assert (kinds(t, tolerance=1e-9) == {CROSSES}) == any(pierced)


def _pierces(face, p, q) -> bool | None:
    """Whether segment pq pierces a face; None where that hangs on rounding or the tolerance."""

    def volume(a, b, c, d):
        return float(np.linalg.det([b - a, c - a, d - a]))

    ends = (volume(*face, p), volume(*face, q))
    sides = [volume(p, q, face[k], face[(k + 1) % 3]) for k in range(3)]
    if min(map(abs, (*ends, *sides))) < 1e-6:
        return None
    return ends[0] * ends[1] < 0 and (min(sides) > 0 or max(sides) < 0)


def test_each_pair_is_a_real_one():
    corners = CROSSING["two boxes"]
    first, inverse = merge_equal(corners.reshape(-1, 3))
    vertices, faces = corners.reshape(-1, 3)[first], inverse.reshape(-1, 3)
    found = find_crossings(vertices, faces, edges_of(faces).twin, 1e-6)
    assert len(found.face) >= 3
    one, other = np.minimum(found.face, found.other), np.maximum(found.face, found.other)
    assert (one < 12).all()
    assert (other >= 12).all()


def saddle_patch(steps=60):
    """A fine saddle z = x y over a square, in triangles whose planes part by about the tolerance."""
    at = np.linspace(-1.0, 1.0, steps + 1)
    x, y = np.meshgrid(at, at, indexing="ij")
    points = np.stack([100.0 * x, 100.0 * y, 8.0 * x * y + 3.0 * x**2], axis=-1)
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    corners = np.concatenate([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)])
    return corners.reshape(-1, 3, 3)


@pytest.mark.parametrize("steps", [20, 60, 120])
@pytest.mark.parametrize("tolerance", [1e-7, 1e-6, 3e-6, 1e-5])
def test_a_fine_saddle_does_not_cross_itself(steps, tolerance):
    """Corners within the tolerance of a neighbour's plane must not lengthen where the two meet."""
    assert not kinds(saddle_patch(steps), tolerance)


def _strips(count):
    """A plate 900 x 300 x 3 whose floor and roof are cut into strips along it, lying askew."""
    y = np.linspace(0.0, 300.0, count + 1)
    ring = np.r_[np.c_[y, 0 * y], np.c_[y[::-1], 0 * y + 3.0]]
    m = len(ring)
    after = (np.arange(m) + 1) % m
    low, high = np.c_[np.zeros(m), ring], np.c_[np.full(m, 900.0), ring]
    side = np.concatenate(
        [np.stack([low, high[after], high], 1), np.stack([low, low[after], high[after]], 1)]
    )
    i = np.arange(count)
    a, b, c, d = i, i + 1, m - 2 - i, m - 1 - i
    ends = [
        np.stack([end[p], end[q], end[r]], 1)
        for end, turns in ((low, ((c, b, a), (d, c, a))), (high, ((a, b, c), (a, c, d))))
        for p, q, r in turns
    ]
    return turned(np.concatenate([side, *ends]), 3)


def test_long_faces_that_lie_askew_are_not_all_compared():
    """Each against each took 2.9 s here, of processor time; the first run, which may compile, is not counted."""
    took = {}
    for count in (10, 2700):
        surface = merged(_strips(count))
        edges = edges_of(surface.faces)
        start = time.process_time()
        found = find_crossings(surface.vertices, surface.faces, edges.twin, surface.tolerance)
        took[len(surface.faces)] = time.process_time() - start
        assert len(found.face) == 0
    assert max(took) > 21_000
    assert took[max(took)] < 1.0


def test_a_crossing_among_faces_that_lie_askew_is_found():
    corners = _strips(50)
    normal = np.cross(corners[7, 1] - corners[7, 0], corners[7, 2] - corners[7, 0])
    normal *= 20.0 / np.linalg.norm(normal)
    middle = corners[7].mean(axis=0)
    spike = np.stack(
        [middle - normal, middle + normal, middle + normal + 0.2 * (corners[7, 1] - middle)]
    )
    surface = merged(np.concatenate([corners, spike[None]]))
    edges = edges_of(surface.faces)
    found = find_crossings(surface.vertices, surface.faces, edges.twin, surface.tolerance)
    assert len(surface.faces) - 1 in {*found.face.tolist(), *found.other.tolist()}


def test_a_search_that_would_never_end_says_that_it_was_not_whole(monkeypatch):
    corners = box(cells=20)
    vertices, faces = corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)
    twin = edges_of(faces).twin
    assert find_crossings(vertices, faces, twin, 1e-6).whole
    monkeypatch.setattr(crossing, "_STEPS", 100)
    monkeypatch.setattr(crossing, "_STEPS_A_LEAF", 1)
    assert not find_crossings(vertices, faces, twin, 1e-6).whole
