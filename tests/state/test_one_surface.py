"""One surface is certain in a convex tank always, in a divided one only when it stands over the walls."""

import math

import numpy as np

from tanksolve.geometry.parts import box, extrusion
from tanksolve.model.requirement import Requirement
from tanksolve.state.one_surface import one_surface_certain

DEG = math.radians(1.0)
# a wall 100 mm high in the middle of a box 0.8 x 0.3 x 0.4
WALLED = extrusion(
    [(0, 0), (0.39, 0), (0.39, 0.1), (0.41, 0.1), (0.41, 0), (0.8, 0), (0.8, 0.4), (0, 0.4)],
    0.3, "across",
)  # fmt: skip


def test_a_convex_tank_always_has_one():
    assert one_surface_certain(box(0.8, 0.3, 0.4), Requirement.every_heading(25 * DEG), 0.01)


def test_a_low_wall_parts_liquid_until_it_is_well_covered():
    need = Requirement.every_heading(10 * DEG)
    over = 0.1 + 0.41 * math.tan(10 * DEG) + 0.01
    assert one_surface_certain(WALLED, need, 0.8 * 0.3 * over)
    assert not one_surface_certain(WALLED, need, 0.8 * 0.3 * 0.08)
    assert not one_surface_certain(WALLED, need, 0.0)


def test_it_is_never_said_where_a_wall_stands_out_of_the_liquid():
    from tanksolve.kernel.attitude.direction import up_from_inclinometer
    from tanksolve.kernel.capacity.level import levels

    need = Requirement.box(10 * DEG, 10 * DEG)
    corners = up_from_inclinometer(
        *(np.array(a) * 10 * DEG for a in ([1, 1, -1, -1], [1, -1, 1, -1]))
    )
    top = np.array([[x, y, 0.1] for x in (0.39, 0.41) for y in (0.0, 0.3)])
    for share in np.linspace(0.2, 0.9, 8):
        volume = share * WALLED.capacity
        level = levels(WALLED.tree, corners, volume)[0]
        covered = bool(((corners @ top.T).min(axis=1) <= level).all())  # at its lower end
        if one_surface_certain(WALLED, need, volume):
            assert covered


def test_the_steep_end_of_a_cell_counts_and_not_only_its_middle():
    """At 9 degrees the surface stands over the wall, at 18 the far end is dry and it does not."""
    # upright section: depth 0.103 in the middle; see the triangle at 18 degrees below
    area = 0.8 * 0.103
    wet = math.sqrt(2.0 * area / math.tan(18 * DEG))
    assert (wet - 0.41) * math.tan(18 * DEG) < 0.1 < 0.103 - 0.01 * math.tan(9 * DEG)
    volume = 0.3 * (area - 0.02 * 0.1)
    assert one_surface_certain(WALLED, Requirement.sides(nose_up=1 * DEG), volume)
    assert not one_surface_certain(WALLED, Requirement.sides(nose_up=18 * DEG), volume)
