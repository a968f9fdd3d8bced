import math
import subprocess
import sys

import numpy as np
import pytest
from mesh_checks import is_closed, part_volume

from tanksolve.errors import TankError
from tanksolve.geometry.parts import box, cylinder, extrusion
from tanksolve.geometry.profile import circle, circle_facets, inset, polygon, rounded_rectangle

L_SECTION = [(0.0, 0.0), (0.3, 0.0), (0.3, 0.1), (0.1, 0.1), (0.1, 0.3), (0.0, 0.3)]


def test_box_stands_on_its_rear_right_bottom_corner():
    tank = box(0.9, 0.4, 0.3)
    assert tank.lower.tolist() == [0.0, 0.0, 0.0]
    assert tank.upper.tolist() == [0.9, 0.4, 0.3]
    assert tank.capacity == pytest.approx(0.9 * 0.4 * 0.3, rel=1e-15)
    assert tank.volume_error == 0.0
    assert is_closed(tank)


def test_outside_sizes_lose_a_wall_on_each_side():
    tank = box(0.906, 0.406, 0.306, outside=True, wall=0.003)
    assert tank.upper == pytest.approx([0.9, 0.4, 0.3])
    assert any("wall of 3 mm" in note for note in tank.notes)
    round_tank = cylinder(0.456, 1.206, outside=True, wall=0.003)
    assert round_tank.capacity == pytest.approx(math.pi * 0.225**2 * 1.2, rel=1e-12)


@pytest.mark.parametrize(("lies", "axis"), [("along", 0), ("across", 1), ("upright", 2)])
def test_cylinder_holds_its_exact_volume_and_lies_as_told(lies, axis):
    tank = cylinder(0.45, 1.2, lies)
    assert tank.capacity == pytest.approx(math.pi * 0.225**2 * 1.2, rel=1e-14)
    assert tank.volume_error == 0.0
    size = tank.upper - tank.lower
    assert size[axis] == pytest.approx(1.2, rel=1e-15)
    others = np.delete(size, axis)
    assert np.all(np.abs(others - 0.45) < 2 * 1e-4)
    assert np.all(np.abs(np.delete(tank.lower, axis)) < 1e-4)
    assert any("capacity is exact" in note for note in tank.notes)
    assert is_closed(tank)


@pytest.mark.parametrize("depth", [0.02, 0.1, 0.225, 0.3, 0.44])
def test_partial_volume_stays_within_the_stated_bound(depth):
    # D. Jones, "Calculating Tank Volume": A = R² acos((R-h)/R) - (R-h) sqrt(2Rh - h²)
    r = 0.225
    exact = 1.2 * (
        r * r * math.acos((r - depth) / r) - (r - depth) * math.sqrt(2 * r * depth - depth**2)
    )
    profile = circle(r)
    error = part_volume(cylinder(2 * r, 1.2), (0, 0, 1), depth) - exact
    assert abs(error) <= 1.2 * profile.partial_bound
    assert profile.partial_bound < 1e-3 * math.pi * r * r


def test_facets_stay_within_the_chord_tolerance():
    for radius, tolerance in [(0.225, 1e-4), (0.02, 1e-4), (1.0, 1e-3), (0.5, 2e-5)]:
        points = circle(radius, tolerance).points
        middle = 0.5 * (points + np.roll(points, 1, axis=0))
        assert np.linalg.norm(points, axis=1).max() - radius <= tolerance * 1.01
        assert radius - np.linalg.norm(middle, axis=1).min() <= tolerance * 1.01
        assert circle_facets(radius, tolerance) % 8 == 0


def test_equal_area_beats_inscribed_facets_and_halves_by_four():
    stray = [circle(0.2, t).partial_bound for t in (4e-4, 1e-4)]
    assert stray[1] == pytest.approx(stray[0] / 4, rel=0.2)


def test_rounded_rectangle_has_the_area_of_its_arcs():
    section = rounded_rectangle(0.4, 0.3, 0.05)
    assert section.area == pytest.approx(0.4 * 0.3 - (4 - math.pi) * 0.05**2, rel=1e-14)
    assert rounded_rectangle(0.4, 0.3, 0.15).area == pytest.approx(
        0.1 * 0.3 + math.pi * 0.15**2, rel=1e-14
    )
    with pytest.raises(TankError, match="does not fit"):
        rounded_rectangle(0.4, 0.3, 0.16)


@pytest.mark.parametrize("clockwise", [False, True])
def test_extrusion_of_a_hollow_section(clockwise):
    corners = L_SECTION[::-1] if clockwise else L_SECTION
    tank = extrusion(corners, 0.9)
    assert tank.capacity == pytest.approx(0.05 * 0.9, rel=1e-14)
    assert is_closed(tank)
    # the L is open at the upper left: along the machine its points are (left, up)
    assert tank.winding(
        [[0.45, 0.05, 0.25], [0.45, 0.25, 0.05], [0.45, 0.25, 0.25]]
    ) == pytest.approx([1, 1, 0], abs=1e-9)


@pytest.mark.parametrize(
    ("along", "inside", "beyond"),
    [
        ("along", (0.45, 0.25, 0.02), (0.45, 0.02, 0.35)),
        ("across", (0.25, 0.45, 0.02), (0.02, 0.45, 0.35)),
        ("upright", (0.25, 0.02, 0.45), (0.02, 0.35, 0.45)),
    ],
)
def test_extrusion_lies_as_told(along, inside, beyond):
    triangle = [(0.0, 0.0), (0.3, 0.0), (0.0, 0.2)]
    tank = extrusion(triangle, 0.9, along)
    assert tank.capacity == pytest.approx(0.03 * 0.9, rel=1e-14)
    assert tank.winding([inside, beyond]) == pytest.approx([1, 0], abs=1e-9)


def test_wall_comes_off_an_outline_at_right_angles():
    assert inset(polygon(L_SECTION), 0.01).area == pytest.approx(
        0.05 - 0.01 * 1.2 + 0.01**2 * (5 - 1), rel=1e-12
    )
    with pytest.raises(TankError, match="leaves no room"):
        inset(polygon(L_SECTION), 0.06)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: box(0.9, 0.0, 0.3), "width of 0 mm"),
        (lambda: box(0.9, -0.1, 0.3), "width of -100 mm"),
        (lambda: box(math.nan, 0.1, 0.3), "length of nan"),
        (lambda: box(0.9, 0.3, 0.3, outside=True), "without the thickness"),
        (lambda: box(0.9, 0.3, 0.005, outside=True, wall=0.003), "leaves no room in a height"),
        (lambda: cylinder(0.4, 1.0, "sideways"), "'sideways' is not a direction"),
        (lambda: extrusion([(0, 0), (1, 1), (1, 0), (0, 1)], 1.0), "no area|crosses"),
        (lambda: extrusion([(0, 0), (2, 0), (2, 2), (1, -1), (0, 2)], 1.0), "crosses"),
        (lambda: extrusion([(0, 0), (1, 0)], 1.0), "no area"),
        (lambda: cylinder(0.4, 1.0, chord_tolerance=0.0), "chord tolerance"),
    ],
)
def test_nonsense_is_refused(make, words):
    with pytest.raises(TankError, match=words):
        make()


def test_a_box_starts_without_the_boolean_library():
    code = (
        "import sys; from tanksolve.geometry.parts import box, cylinder; box(1, 1, 1); cylinder(1, 1); "
        "sys.exit('manifold3d' in sys.modules or 'trimesh' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
