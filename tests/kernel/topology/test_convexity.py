"""Convex or not, without the graph of the mesh: never true where the graph says no."""

import numpy as np
import pytest
from tanks import LIBRARY, ball_tank, box_tank, random_rotation, tank, turned

from tanksolve.kernel.topology.convexity import is_convex, surely_convex


@pytest.mark.parametrize("seed", range(4))
def test_a_box_is_convex_however_it_is_turned(seed: int) -> None:
    made = turned(box_tank(), random_rotation(np.random.default_rng(seed)), (3.0, -2.0, 1.0))
    assert surely_convex(made.vertices, made.faces)
    assert "graph" not in vars(made)
    assert made.is_convex
    assert "graph" not in vars(made)  # so the code that builds it need not be compiled


@pytest.mark.parametrize("name", sorted(LIBRARY))
def test_what_is_not_convex_is_never_said_to_be(name: str) -> None:
    made = tank(name)
    assert not surely_convex(made.vertices, made.faces) or is_convex(made.graph)


def test_two_boxes_side_by_side_are_not_one_convex_tank() -> None:
    one, other = box_tank(), box_tank(low=(2.0, 0.0, 0.0))
    faces = np.vstack([one.faces, other.faces + len(one.vertices)])
    assert not surely_convex(np.vstack([one.vertices, other.vertices]), faces)


def test_a_dished_wall_is_told_by_the_graph() -> None:
    """A box whose roof's middle sinks by a millionth of its size."""
    made = ball_tank()
    assert is_convex(made.graph)
    sunk = made.vertices.copy()
    sunk[np.argmax(sunk[:, 2])] *= 0.9
    assert not surely_convex(sunk, made.faces)
