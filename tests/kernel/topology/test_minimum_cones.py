"""Caps of directions: every vertex that is lowest among its neighbours lies in its own cap."""

import numpy as np
import pool_tanks
import pytest
from pool_tanks import arrays

from tanksolve.kernel.topology.mesh_graph import PATCH, build_graph
from tanksolve.kernel.topology.minimum_cones import build_cones

MAKERS = ["holed_baffles", "displacers", "nested_sumps", "cups", "leaning"]


def wavy_graph():
    """A lumpy ball: all kinds of vertices, dents and bumps among them, with the noise of an STL."""
    n = 24
    theta, phi = np.meshgrid(
        np.linspace(0.0, np.pi, n + 1)[1:-1], np.linspace(0.0, 2 * np.pi, 2 * n, endpoint=False),
        indexing="ij",
    )  # fmt: skip
    ring = np.stack(
        [np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)], axis=-1
    ).reshape(-1, 3)
    points = np.vstack([ring, [[0, 0, 1.0], [0, 0, -1.0]]])
    points *= 1 + 0.15 * np.sin(9 * points[:, :1]) * np.cos(8 * points[:, 1:2] + 5 * points[:, 2:])
    points = points.astype(np.float32).astype(float)
    top, bottom, faces = len(ring), len(ring) + 1, []
    for j in range(2 * n):
        k = (j + 1) % (2 * n)
        faces.append((top, j, k))
        faces.append((bottom, (n - 2) * 2 * n + k, (n - 2) * 2 * n + j))
        for i in range(n - 2):
            a, b, c, d = (r * 2 * n + s for r, s in ((i, j), (i + 1, j), (i + 1, k), (i, k)))
            faces += [(a, b, c), (a, c, d)]
    return build_graph(points, np.array(faces))


@pytest.fixture(params=["wavy", *MAKERS])
def graph(request):
    if request.param == "wavy":
        return wavy_graph()
    return build_graph(*arrays(getattr(pool_tanks, request.param)()))


def in_cap(cap, up, slack=0.0):
    return cap[3] >= 0 and np.arccos(np.clip(cap[:3] @ up, -1, 1)) <= cap[3] + slack


def lowest_vertices(graph, up):
    """Vertices from which no edge falls, straight from the definition."""
    z = graph.vertices @ up
    start = np.repeat(np.arange(len(z)), np.diff(graph.first_edge))
    falls = np.zeros(len(z), bool)
    np.logical_or.at(falls, start, z[graph.neighbour] < z[start])
    return np.flatnonzero(~falls)


def test_every_lowest_vertex_lies_in_its_cap_and_its_patch(graph):
    cones, rng = build_cones(graph), np.random.default_rng(3)
    axes = np.vstack([np.eye(3), -np.eye(3)])
    ups = np.vstack([axes, axes[rng.integers(0, 6, 40)] + 1e-4 * rng.normal(size=(40, 3)),
                     rng.normal(size=(200, 3))])  # fmt: skip
    met = 0
    for up in ups / np.linalg.norm(ups, axis=1)[:, None]:
        for v in lowest_vertices(graph, up):
            hangs = graph.normals[v] @ up > 0
            own, patch = (cones.hang, cones.patch_hang) if hangs else (cones.pit, cones.patch_pit)
            assert in_cap(own[v], up)
            assert in_cap(patch[cones.patch_of[v]], up)
            met += 1
    assert met > len(ups)


def test_caps_leave_most_vertices_out():
    cones = build_cones(wavy_graph())
    assert np.median(cones.pit[:, 3]) < 0.3
    assert (cones.pit[:, 3] < 0).mean() > 0.2  # dents and saddles: never a pit


def test_patches_hang_together_and_know_who_is_beside(graph):
    cones = build_cones(graph)
    assert graph.patch[0] == 0
    assert graph.patch[-1] == len(graph.vertices)
    assert np.diff(graph.patch).min() >= 1
    assert np.diff(graph.patch).max() <= PATCH
    start = np.repeat(np.arange(len(graph.vertices)), np.diff(graph.first_edge))
    across = set(zip(cones.patch_of[start], cones.patch_of[graph.neighbour], strict=True))
    told = {
        (p, q)
        for p in range(len(graph.patch) - 1)
        for q in cones.beside[cones.first_beside[p] : cones.first_beside[p + 1]]
    }
    assert told == {(p, q) for p, q in across if p != q}
    for p in range(len(graph.patch) - 1):
        inside = range(graph.patch[p], graph.patch[p + 1])
        reached, stack = {inside[0]}, [inside[0]]
        while stack:
            v = stack.pop()
            for other in graph.neighbour[graph.first_edge[v] : graph.first_edge[v + 1]]:
                if other in inside and other not in reached:
                    reached.add(other)
                    stack.append(other)
        assert len(reached) == len(inside)
        low, high = graph.vertices[inside].min(axis=0), graph.vertices[inside].max(axis=0)
        np.testing.assert_allclose(cones.patch_box[p, :3] - cones.patch_box[p, 3:], low, atol=1e-15)
        np.testing.assert_allclose(
            cones.patch_box[p, :3] + cones.patch_box[p, 3:], high, atol=1e-15
        )
