"""The tree: what its nodes say about their faces must be true of those faces."""

import numpy as np
import pytest
from tanks import LIBRARY, ball_tank, tank

from tanksolve.kernel.capacity.tree import LANES, build_tree, patch_tensors

SOME = ["box", "baffled with sump", "ring", "two bodies"]


def face_range(tree, node):
    """First and one past the last face under a node, from its leaves."""
    leaves = [k for k in range(node, int(tree.skip[node])) if tree.first[k] >= 0]
    return int(tree.first[leaves[0]]), int(tree.last[leaves[-1]])


def corners_of(tree):
    """Corners of the faces in tree order (F, 3, 3), from the blocks."""
    return tree.blocks.transpose(0, 2, 1).reshape(-1, 3, 3)[: len(tree.order)]


def corner_sums(corners):
    """Area vectors and edge midpoints of (F, 3, 3) corners; midpoints integrate to 2nd degree."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = 0.5 * np.cross(b - a, c - a)
    return area, 0.5 * np.stack([a + b, b + c, c + a], axis=1)


@pytest.mark.parametrize("name", LIBRARY)
def test_each_face_is_in_one_leaf_and_is_a_face_of_the_mesh(name):
    mesh = tank(name)
    tree = build_tree(mesh.vertices, mesh.faces)
    leaves = tree.first >= 0
    spans = np.stack([tree.first[leaves], tree.last[leaves]], axis=1)
    assert spans[0, 0] == 0
    assert spans[-1, 1] == len(mesh.faces)
    np.testing.assert_array_equal(spans[1:, 0], spans[:-1, 1])
    assert np.all((spans[:, 1] - spans[:, 0] >= 1) & (spans[:, 1] - spans[:, 0] <= LANES))
    assert np.all(spans[:, 0] % LANES == 0)
    np.testing.assert_array_equal(np.sort(tree.order), np.arange(len(mesh.faces)))
    theirs = mesh.vertices[mesh.faces[tree.order]] - tree.origin
    np.testing.assert_array_equal(corners_of(tree), theirs)


@pytest.mark.parametrize("name", SOME)
def test_what_is_left_over_of_the_last_block_has_no_area(name):
    tree = tank(name).tree
    spare = tree.blocks.transpose(0, 2, 1).reshape(-1, 3, 3)[len(tree.order) :]
    assert len(spare) < LANES
    np.testing.assert_array_equal(spare, np.repeat(spare[:, :1], 3, axis=1))


@pytest.mark.parametrize("name", LIBRARY)
def test_the_walk_without_a_stack_comes_to_its_end(name):
    tree = tank(name).tree
    nodes = np.arange(len(tree.skip))
    assert tree.skip[0] == len(nodes)
    assert np.all(tree.skip > nodes)
    inner = np.flatnonzero(tree.first < 0)
    left, right = inner + 1, tree.skip[inner + 1]
    np.testing.assert_array_equal(tree.skip[right], tree.skip[inner])
    assert np.all(tree.skip[left] < tree.skip[inner])
    np.testing.assert_array_equal(tree.skip[tree.first >= 0], nodes[tree.first >= 0] + 1)


@pytest.mark.parametrize("name", SOME)
def test_boxes_hold_their_faces_and_fit_closely(name):
    tree = tank(name).tree
    for node in range(len(tree.skip)):
        first, last = face_range(tree, node)
        points = corners_of(tree)[first:last].reshape(-1, 3)
        centre, half = tree.boxes[node, :3].astype(float), tree.boxes[node, 3:].astype(float)
        gap = half - np.abs(points - centre).max(axis=0)
        assert np.all(gap >= 0.0)
        size = np.abs(points).max() + 1e-30
        assert np.all(half - 0.5 * np.ptp(points, axis=0) <= 1e-6 * size)


@pytest.mark.parametrize("name", SOME)
def test_fluxes_and_tensors_are_sums_over_the_faces_below(name):
    tree = tank(name).tree
    tensors = patch_tensors(tree)
    for node in range(0, len(tree.skip), 7):
        first, last = face_range(tree, node)
        area, middles = corner_sums(corners_of(tree)[first:last])
        y = middles - tree.boxes[node, :3].astype(float)
        one = area.sum(axis=0)
        m = np.einsum("fi,fmj->ij", area, y) / 3.0
        sym = 0.5 * (m + m.T)
        expected = [*one, sym[0, 0], sym[1, 1], sym[2, 2], sym[1, 2], sym[0, 2], sym[0, 1]]
        np.testing.assert_allclose(tree.flux[node], expected, atol=1e-15)
        n = np.einsum("fj,fmk,fml->jkl", area, y, y) / 3.0
        pairs = [(0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1)]
        six = [n[j][pair] for j in range(3) for pair in pairs]
        np.testing.assert_allclose(tensors[node], [*m.ravel(), *six], atol=1e-15)


def test_depth_grows_as_the_logarithm_of_the_faces():
    for rings in (8, 16, 32):
        mesh = ball_tank(rings)
        tree = mesh.tree
        depth = np.zeros(len(tree.skip), int)
        for node in np.flatnonzero(tree.first < 0):
            depth[[node + 1, tree.skip[node + 1]]] = depth[node] + 1
        assert depth.max() <= np.ceil(np.log2(len(mesh.faces) / LANES)) + 1


def test_equal_centroids_do_not_stall_the_split():
    """Two hundred copies of one face have one centroid: the halving must still end."""
    vertices = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    tree = build_tree(vertices, np.tile([[0, 1, 2]], (200, 1)))
    assert tree.last.max() == 200
    np.testing.assert_allclose(tree.flux[0, :3], [0.0, 0.0, 100.0])


def test_no_faces_is_refused():
    with pytest.raises(ValueError, match="at least one face"):
        build_tree(np.zeros((1, 3)), np.empty((0, 3), np.int64))
