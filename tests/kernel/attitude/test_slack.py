"""The slack of a cell: never less than what a margin can lose in it, seen by brute force."""

import numpy as np
import pytest
from tanks import LIBRARY, box_tank, tank

from tanksolve.kernel.attitude.cells import SLOPE_HEADING, Cells, centres, hull_slack, hulls
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels


def cell_centres(cells):
    return np.stack([cells[:, :2].mean(axis=1), cells[:, 2:].mean(axis=1)], axis=-1)


def cell_slack(lower, upper, discs, cells, *, dry):
    charted = Cells(np.full(len(cells), SLOPE_HEADING, np.int8), cells)
    return hull_slack(lower, upper, discs, centres(charted), hulls(charted), dry=dry)


def random_cells(rng, count):
    """Cells from 60 degrees wide to 1e-5 of that, some on level ground, some all round a heading."""
    wide = np.radians(60.0) * 10.0 ** rng.uniform(-5.0, 0.0, (count, 2))
    wide[:, 1] *= 1.4
    b0 = rng.uniform(0.0, np.radians(80.0), count) * rng.integers(0, 2, count)
    k0 = rng.uniform(0.0, 2.0 * np.pi, count)
    wide[::5, 1] = 0.0  # along one heading, as the search for a limit uses them
    return np.stack([b0, b0 + wide[:, 0], k0, k0 + wide[:, 1]], axis=-1)


def random_opening(rng, mesh):
    """One or two discs somewhere about the tank, or a ball, or a bare point."""
    rows = np.zeros((rng.integers(1, 3), 8))
    axis = rng.normal(size=3)
    rows[:, :3] = rng.uniform(mesh.lower, mesh.upper)
    rows[:, 3:6] = axis / np.linalg.norm(axis)
    rows[:, 6] = rng.choice([0.0, 0.05, 0.2])
    rows[:, 7] = rng.choice([0.0, 0.0, 0.03])
    rows[1:, :3] += 0.2 * rows[1:, 3:6]
    return rows


def sampled(cell, count=9):
    b, k = np.meshgrid(np.linspace(*cell[:2], count), np.linspace(*cell[2:], count))
    return up_from_slope_heading(b.ravel(), k.ravel())


def greatest(discs, mesh, directions):
    """Greatest (x - q)·d over the tank's vertices x and the opening's points q."""
    tank_high = (mesh.vertices @ directions.T).max(axis=0)
    size = np.linalg.norm(directions, axis=1)
    unit = directions / np.where(size > 0.0, size, 1.0)[:, None]
    return tank_high - size * support_low(discs, unit)


@pytest.mark.parametrize("dry", [False, True])
@pytest.mark.parametrize("name", LIBRARY)
def test_slack_is_never_less_than_what_the_tank_can_lose(name, dry):
    mesh = tank(name)
    rng = np.random.default_rng(len(name))
    for _ in range(4):
        discs = random_opening(rng, mesh)
        cells = random_cells(rng, 25)
        slack = cell_slack(mesh.lower, mesh.upper, discs, cells, dry=dry)
        centre = up_from_slope_heading(*cell_centres(cells).T)
        for cell, u0, allowed in zip(cells, centre, slack, strict=True):
            d = (u0 - sampled(cell)) * (-1.0 if dry else 1.0)
            assert greatest(discs, mesh, d).max() <= allowed + 1e-15


@pytest.mark.parametrize("name", ["L", "baffled with sump", "twisted star"])
def test_margins_in_a_cell_never_fall_by_more_than_the_slack(name):
    """With the levels themselves, for fills from a puddle to nearly full: what the bound is for."""
    mesh = tank(name)
    rng = np.random.default_rng(7)
    for share in (0.02, 0.4, 0.95):
        discs = random_opening(rng, mesh)
        cells = random_cells(rng, 12)
        centre = up_from_slope_heading(*cell_centres(cells).T)
        volume = share * mesh.capacity
        wet = cell_slack(mesh.lower, mesh.upper, discs, cells, dry=False)
        dry = cell_slack(mesh.lower, mesh.upper, discs, cells, dry=True)
        h0 = levels(mesh.tree, centre, volume)[0]
        for k, cell in enumerate(cells):
            up = sampled(cell)
            h = levels(mesh.tree, up, volume)[0]
            loss = h0[k] - support_high(discs, centre[k : k + 1])[0] - (h - support_high(discs, up))
            assert loss.max() <= wet[k] + 1e-12
            loss = support_low(discs, centre[k : k + 1])[0] - h0[k] - (support_low(discs, up) - h)
            assert loss.max() <= dry[k] + 1e-12


def test_slack_is_no_more_than_a_box_needs_in_a_narrow_cell():
    """In a box the bound is exact but for the corners of the cell's hull: not a blunt one."""
    mesh = box_tank()
    rng = np.random.default_rng(8)
    point = np.array([[0.3, 0.1, 0.2, 0.0, 0.0, 1.0, 0.0, 0.0]])
    cells = random_cells(rng, 60)
    cells[:, 1] = cells[:, 0] + np.radians(0.5)
    cells[:, 3] = cells[:, 2] + np.radians(0.5)
    slack = cell_slack(mesh.lower, mesh.upper, point, cells, dry=False)
    centre = up_from_slope_heading(*cell_centres(cells).T)
    needed = [
        greatest(point, mesh, u0 - sampled(cell)).max()
        for cell, u0 in zip(cells, centre, strict=True)
    ]
    assert np.all(slack <= np.array(needed) * 1.01)


def test_slack_grows_with_the_cell_and_vanishes_with_it():
    mesh = tank("saddle")
    point = np.array([[0.3, 0.1, 0.2, 0.0, 0.0, 1.0, 0.0, 0.0]])
    widths = np.radians([0.0, 1e-3, 0.1, 1.0, 10.0])
    cells = np.stack([0.4 - widths / 2, 0.4 + widths / 2, 1.0 - widths, 1.0 + widths], axis=-1)
    for dry in (False, True):
        slack = cell_slack(mesh.lower, mesh.upper, point, cells, dry=dry)
        assert slack[0] <= 1e-14
        assert np.all(np.diff(slack) > 0.0)


def test_wet_and_dry_lean_to_their_own_sides():
    """A point at the rear: tilted nose up, liquid gains there; nose down, it loses there."""
    low, high = np.zeros(3), np.array([1.0, 1.0, 1e-9])
    rear = np.array([[0.0, 0.5, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0]])
    small = 1e-4
    along_nose = np.array([[-small, small, 0.0, 0.0]])
    slack = [cell_slack(low, high, rear, along_nose, dry=d)[0] for d in (False, True)]
    # either way half the cell away: (x - q)·d is at most 1 m x small
    np.testing.assert_allclose(slack, small, rtol=1e-6)


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("dry", [False, True])
def test_slender_tanks_lose_most_in_the_middle_of_a_cell(axis, dry):
    """A needle with the port at its end: the greatest loss is where up lies along it, not at a corner."""
    size = np.full(3, 1e-6)
    size[axis] = 1.0
    mesh = box_tank(size)
    point = np.zeros((2, 8))
    point[:, 5] = 1.0
    point[1, axis] = 1.0
    rng = np.random.default_rng(9)
    centre = rng.uniform([-0.2, 0.0], [1.8, 6.3], (300, 2))
    half = rng.uniform(0.05, 0.6, (300, 2)) * rng.integers(0, 2, (300, 2))
    cells = np.stack(
        [
            centre[:, 0] - half[:, 0],
            centre[:, 0] + half[:, 0],
            centre[:, 1] - half[:, 1],
            centre[:, 1] + half[:, 1],
        ],
        axis=-1,
    )
    cells[:, :2] = np.clip(cells[:, :2], 0.0, 1.5)
    u0 = up_from_slope_heading(*cell_centres(cells).T)
    for end in (point[:1], point[1:]):
        slack = cell_slack(mesh.lower, mesh.upper, end, cells, dry=dry)
        for k, cell in enumerate(cells):
            d = (u0[k] - sampled(cell)) * (-1.0 if dry else 1.0)
            assert greatest(end, mesh, d).max() <= slack[k] + 1e-15
