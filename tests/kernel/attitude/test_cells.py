"""Hulls hold every attitude of their cell, slack covers every one, half-spaces are their linear form."""

import numpy as np
import pytest

from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import Cells, half_spaces, hull_slack, hulls, ups
from tanksolve.kernel.attitude.support import support_high, support_low

SHIFTED = -1
CHARTS = {
    "slope and heading": attitude_cells.SLOPE_HEADING,
    "inclinometer": attitude_cells.INCLINOMETER,
    "rotations": attitude_cells.ROTATIONS,
    "projected": attitude_cells.PROJECTED,
    "slope and heading, shifted": SHIFTED,
}
LOWER, UPPER = np.array([-0.1, -0.2, 0.0]), np.array([0.7, 0.3, 0.4])
DISCS = np.array([[0.0, 0, 0, 0, 0, 1, 0.02, 0.0], [0.0, 0, 0.1, 0, 0, 1, 0.02, 0.01]])


def random_cells(chart, count, rng, widest=0.35):
    size = widest * rng.random((count, 2))
    low = rng.uniform(-0.6, 0.25, (count, 2))
    if chart in (attitude_cells.SLOPE_HEADING, SHIFTED):
        low = np.stack([rng.uniform(0, 1.0, count), rng.uniform(0, 6.2, count)], axis=1)
    box = np.stack([low[:, 0], low[:, 0] + size[:, 0], low[:, 1], low[:, 1] + size[:, 1]], axis=1)
    if chart == SHIFTED:
        codes = np.full(count, attitude_cells.SLOPE_HEADING, np.int8)
        return Cells(codes, box, rng.uniform(-0.8, 0.8, (count, 2)))
    return Cells(np.full(count, chart, np.int8), box)


def inside_cells(cells, count, rng):
    """Ups (C, count, 3) in each cell, its corners first."""
    share = rng.random((len(cells.box), count, 2))
    share[:, :4] = [[0, 0], [0, 1], [1, 0], [1, 1]]
    a = cells.box[:, None, 0] + share[..., 0] * (cells.box[:, None, 1] - cells.box[:, None, 0])
    b = cells.box[:, None, 2] + share[..., 1] * (cells.box[:, None, 3] - cells.box[:, None, 2])
    codes = np.repeat(cells.chart, count)
    shift = np.repeat(np.broadcast_to(cells.shift, (len(cells.box), 2)), count, axis=0)
    return ups(codes, a.ravel(), b.ravel(), shift).reshape(len(cells.box), count, 3)


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
def test_no_attitude_of_a_cell_is_further_out_than_its_hull(chart):
    """A point is in a hull only if it is not beyond the hull's farthest point in any direction."""
    rng = np.random.default_rng(1)
    cells = random_cells(chart, 300, rng)
    points = hulls(cells)
    up = inside_cells(cells, 40, rng)
    directions = rng.normal(size=(400, 3))
    directions = np.vstack([directions, np.eye(3), -np.eye(3)])
    farthest = (points @ directions.T).max(axis=1)
    assert ((up @ directions.T).max(axis=1) <= farthest + 1e-12).all()


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
def test_hulls_close_in_on_their_cell(chart):
    """A hull of a hundredth of the size sticks out by a ten-thousandth: second order."""
    rng = np.random.default_rng(2)
    wide = random_cells(chart, 50, rng)
    middle = attitude_cells.centres(wide)
    out = []
    for shrink in (1.0, 0.01):
        centre_a, centre_b = wide.box[:, :2].mean(axis=1), wide.box[:, 2:].mean(axis=1)
        half = 0.5 * shrink * (wide.box[:, [1, 3]] - wide.box[:, [0, 2]])
        box = np.stack(
            [
                centre_a - half[:, 0],
                centre_a + half[:, 0],
                centre_b - half[:, 1],
                centre_b + half[:, 1],
            ],
            axis=1,
        )
        points = hulls(wide._replace(box=box))
        out.append((np.einsum("cjk,ck->cj", points, middle) - 1.0).max())
    assert out[1] <= 1e-3 * max(out[0], 1e-9) + 1e-12


@pytest.mark.parametrize("dry", [False, True], ids=["wet", "dry"])
@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
def test_slack_covers_every_attitude_of_the_cell(chart, dry):
    """Whatever corner of the box the liquid's plane swings to: margin at the middle minus slack."""
    rng = np.random.default_rng(3)
    cells = random_cells(chart, 120, rng)
    middle, points = attitude_cells.centres(cells), hulls(cells)
    place = rng.uniform(LOWER, UPPER)
    discs = DISCS + np.r_[place, np.zeros(5)]
    slack = hull_slack(LOWER, UPPER, discs, middle, points, dry=dry)
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
    corners = LOWER + corners * (UPPER - LOWER)
    for up in np.moveaxis(inside_cells(cells, 30, rng), 1, 0):
        # the plane through a corner, at `up`, seen from the middle: where liquid can reach at most
        if dry:
            edge0, edge1 = support_low(discs, middle), support_low(discs, up)
            swing = ((up - middle) @ corners.T).max(axis=1) - (edge1 - edge0)
        else:
            edge0, edge1 = support_high(discs, middle), support_high(discs, up)
            swing = ((middle - up) @ corners.T).max(axis=1) - (edge0 - edge1)
        assert (swing <= slack + 1e-12).all()


@pytest.mark.parametrize("dry", [False, True], ids=["wet", "dry"])
def test_half_spaces_are_slack_in_linear_form(dry):
    rng = np.random.default_rng(4)
    cells = random_cells(attitude_cells.SLOPE_HEADING, 80, rng)
    middle, points = attitude_cells.centres(cells), hulls(cells)
    height = rng.uniform(0.1, 0.3, len(middle))
    normal, offset = half_spaces(LOWER, UPPER, DISCS, 0.03, middle, points, height, dry=dry)
    for place in rng.uniform(LOWER, UPPER, (20, 3)):
        discs = DISCS + np.r_[place, np.zeros(5)]
        slack = hull_slack(LOWER, UPPER, discs, middle, points, dry=dry)
        if dry:
            margin = support_low(discs, middle) - 0.03 - slack - height
        else:
            margin = height - support_high(discs, middle) - 0.03 - slack
        assert (offset - normal @ place).min(axis=1) == pytest.approx(margin, abs=1e-12)


@pytest.mark.parametrize("chart", [attitude_cells.INCLINOMETER, SHIFTED])
def test_halves_make_up_the_whole(chart):
    rng = np.random.default_rng(5)
    cells = random_cells(chart, 20, rng)
    both = attitude_cells.halves(cells)
    assert both.at(np.arange(20, 40)).shift == pytest.approx(both.at(np.arange(20)).shift)
    area = (both.box[:, 1] - both.box[:, 0]) * (both.box[:, 3] - both.box[:, 2])
    whole = (cells.box[:, 1] - cells.box[:, 0]) * (cells.box[:, 3] - cells.box[:, 2])
    assert area[:20] == pytest.approx(0.5 * whole)
    assert area[20:] == pytest.approx(0.5 * whole)


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
def test_angles_turn_ups_back(chart):
    rng = np.random.default_rng(6)
    cells = random_cells(chart, 50, rng)
    a, b = cells.box[:, 0] + 0.01, cells.box[:, 2]
    if chart == SHIFTED:
        cells = cells._replace(shift=np.array([[0.3, -0.7]]))
    up = ups(cells.chart, a, b, cells.shift)
    assert np.linalg.norm(up, axis=1) == pytest.approx(1.0)
    x, y = cells.shift[0]
    back = attitude_cells.angles(cells.chart[0], up, (float(x), float(y)))
    assert back[0] == pytest.approx(a)
    assert back[1] == pytest.approx(b)
