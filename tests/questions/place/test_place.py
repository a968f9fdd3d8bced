"""The best place in a box of 1 m, by hand: the middle of its floor, kept at every heading or not."""

import numpy as np
import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.ports import pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.place.place import place

SLOPE, DEPTH, OFF = np.radians(5.0), 0.1, 0.02
NEED = Requirement.every_heading(SLOPE)


@pytest.mark.parametrize(("cover", "feasible"), [(0.05, True), (0.09, False)])
def test_it_is_feasible_where_the_recommended_place_keeps_its_rule(cover, feasible):
    """100 L stand 0.1 m deep over the middle at any heading; 20 mm off the floor 90 mm of cover lack 10.4 mm."""
    port = pickup("p", (0.1, 0.1, 0.5), cover=cover)
    found = place(box(1.0, 1.0, 1.0), port, DEPTH, NEED, off_floor=OFF)
    assert found.best_point_m == pytest.approx((0.5, 0.5, 0.0), abs=2e-3)
    assert found.best_margin_m == pytest.approx(DEPTH * np.cos(SLOPE) - cover, abs=2e-3)
    expected = (DEPTH - OFF) * np.cos(SLOPE) - cover
    assert found.recommended_margin_m == pytest.approx(expected, abs=2e-3)
    assert found.feasible is feasible
    assert (found.tube is not None) is feasible
    assert found.zone_volume_m3 > 0.0  # on the floor itself a place keeps the rule in both
