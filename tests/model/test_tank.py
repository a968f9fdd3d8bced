"""The tank as a closed surface: capacity, inside and outside, distances, ports out of place."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tanks import block, from_manifold

from tanksolve.errors import PortError, TankError
from tanksolve.model.ports import breather, pickup, strainer
from tanksolve.model.tank import Tank

SIZE = np.array([0.9, 0.3, 0.25])
CORNERS = np.array(list(itertools.product((0.0, 1.0), repeat=3)))
# corners are numbered 4x + 2y + z; two triangles a side, counter-clockwise from outside
FACES = np.array(
    [
        (0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5),
        (0, 4, 5), (0, 5, 1), (2, 3, 7), (2, 7, 6),
        (0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3),
    ]
)  # fmt: skip


def box_tank(offset=(0.0, 0.0, 0.0)) -> Tank:
    return Tank("box", CORNERS * SIZE + np.array(offset), FACES)


def test_capacity_of_a_box_and_far_from_the_origin():
    assert box_tank().capacity == pytest.approx(0.0675, rel=1e-15)
    far = box_tank((4000.0, -7000.0, 900.0))
    assert far.capacity == pytest.approx(0.0675, rel=1e-11), "CAD coordinates lose no digits"


def test_enclosing_box():
    tank = box_tank((1.0, 2.0, 3.0))
    np.testing.assert_allclose(tank.lower, (1.0, 2.0, 3.0))
    np.testing.assert_allclose(tank.upper, np.array((1.0, 2.0, 3.0)) + SIZE)
    np.testing.assert_allclose(tank.centre, np.array((1.0, 2.0, 3.0)) + SIZE / 2)
    assert tank.from_walls((1.1, 2.2, 3.05)) == pytest.approx((0.1, 0.2, 0.05))


def test_height_range_along_directions():
    low, high = box_tank().height_range([[0.0, 0.0, 1.0], [-0.6, 0.0, 0.8]])
    np.testing.assert_allclose(low, [0.0, -0.54])
    np.testing.assert_allclose(high, [0.25, 0.2])


@pytest.mark.parametrize("flaw", ["inside out", "flat", "empty"])
def test_a_surface_that_bounds_nothing_is_refused(flaw):
    faces = FACES[:, ::-1] if flaw == "inside out" else FACES
    vertices = CORNERS * (SIZE * (1, 1, 0) if flaw == "flat" else SIZE)
    with pytest.raises(TankError, match="bounds a volume of"):
        Tank("odd", vertices, faces if flaw != "empty" else np.empty((0, 3), int))


def test_not_a_number_is_refused():
    vertices = CORNERS * SIZE
    vertices[3, 1] = math.nan
    with pytest.raises(TankError):
        Tank("odd", vertices, FACES)


@pytest.mark.parametrize(
    ("vertices", "faces", "message"),
    [
        (CORNERS[:, :2], FACES, "must be"),
        (CORNERS, FACES[:, :2], "must be"),
        (CORNERS, FACES + 1, "not there"),
        (CORNERS, FACES - 1, "not there"),
    ],
)
def test_arrays_of_the_wrong_shape_are_the_programmers_mistake(vertices, faces, message):
    with pytest.raises(ValueError, match=message):
        Tank("odd", vertices, faces)


def test_arrays_cannot_be_written_to_afterwards():
    source = CORNERS * SIZE
    tank = Tank("box", source, FACES)
    source[:] = 0.0
    assert tank.capacity > 0.06
    with pytest.raises(ValueError, match="read-only"):
        tank.vertices[0, 0] = 1.0


coordinate = st.floats(-1.0, 2.0)


@given(coordinate, coordinate, coordinate)
def test_inside_outside_and_distance_against_the_box(x, y, z):
    point = np.array([x, y, z])
    outside = np.maximum(np.maximum(-point, point - SIZE), 0.0)
    to_walls = np.minimum(point, SIZE - point)
    inside = to_walls.min() > 0.0
    distance = float(to_walls.min()) if inside else float(np.linalg.norm(outside))
    tank = box_tank()
    assert tank.distance_to_wall(point) == pytest.approx(distance, abs=1e-12)
    if distance > 1e-9:
        assert tank.winding(point)[0] == pytest.approx(1.0 if inside else 0.0, abs=1e-6)


def test_ports_inside_and_on_the_wall_are_taken():
    box_tank().check_ports([pickup("a", (0.1, 0.1, 0.1)), pickup("b", (0.0, 0.1, 0.1))])


def test_a_port_outside_is_told_by_how_much_it_misses():
    with pytest.raises(PortError) as caught:
        box_tank().check_ports([pickup("suction", (0.1, 0.33, 0.1))])
    message = caught.value.message
    assert "port 'suction': 100, 330, 100 mm is outside the tank by 30.0 mm" in message
    assert "900 x 300 x 250 mm" in message


def test_a_strainer_that_pokes_through_the_wall_is_refused():
    cage = strainer("suction", (0.1, 0.1, 0.05), bore=0.04, length=0.12, facing="rearward")
    with pytest.raises(PortError, match=r"far end -20, 100, 50 mm .* by 20\.0 mm"):
        box_tank().check_ports([cage])


def test_two_ports_of_one_name_are_refused():
    with pytest.raises(PortError, match="two ports are called 'a'"):
        box_tank().check_ports([pickup("a", (0.1, 0.1, 0.1)), pickup("a", (0.2, 0.1, 0.1))])


def test_a_port_inside_a_plate_is_told_so():
    """Within the enclosing box, and yet in no liquid: it lies in metal."""
    tank = from_manifold(
        "walled", block((0.5, 0.3, 0.3)) - block((0.003, 0.3, 0.2), (0.25, 0.0, 0.0))
    )
    with pytest.raises(PortError, match=r"is in metal \(a plate, a tube, a wall\) by 1.0 mm"):
        tank.check_ports([breather("b", (0.251, 0.06, 0.1))])
