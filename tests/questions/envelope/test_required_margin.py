"""The loss of margin bounded over a cell covers every attitude in it; over a box it is the paper's."""

import math

import numpy as np
import pytest

from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.cells import Cells, centres, hulls, ups
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.envelope.requirement_met import requirement_met
from tanksolve.state.conditions import Conditions

TANK = box(0.9, 0.3, 0.3)
LOW, HIGH = pickup("p", (0.1, 0.15, 0.05), bore=0.03), breather("b", (0.3, 0.1, 0.29), bore=0.02)


@pytest.mark.parametrize("ports", [[LOW], [HIGH], [LOW, HIGH]], ids=["wet", "dry", "both"])
def test_no_attitude_of_a_cell_loses_more_than_its_bound(ports):
    conditions = Conditions.of(TANK, ports, 0.04)
    rng = np.random.default_rng(9)
    start = np.stack([rng.uniform(0, 0.4, 50), rng.uniform(0, 6, 50)], axis=1)
    size = rng.uniform(0.02, 0.3, (50, 2))
    cells = Cells(
        np.zeros(50, np.int8),
        np.stack(
            [start[:, 0], start[:, 0] + size[:, 0], start[:, 1], start[:, 1] + size[:, 1]], axis=1
        ),
    )
    bound = conditions.margins_within(centres(cells), hulls(cells))
    for share in rng.random((40, 2)):
        up = ups(cells.chart, *(start + share * size).T)
        assert (conditions.margins(up[:, None])[:, 0] >= bound - 1e-12).all()


def test_least_margin_of_a_bare_pickup_in_a_box_is_the_paper_height():
    slope = math.radians(9)
    bare = pickup("p", (0.1, 0.15, 0.02))
    need = Requirement.sides(slope, slope)
    (found,) = requirement_met(TANK, [bare], 0.04, need, tolerance=1e-4)
    exact = (0.04 / 0.27 - 0.02 - 0.35 * math.tan(slope)) * math.cos(slope)
    assert found.margin_m == pytest.approx(exact, abs=1e-12)
    assert exact - 1e-4 <= found.held_margin_m <= exact
