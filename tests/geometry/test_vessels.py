import math

import numpy as np
import pytest
from mesh_checks import is_closed

from tanksolve.errors import TankError
from tanksolve.geometry.heads import HEADS, Head, cone_slices, head_outline
from tanksolve.geometry.vessels import cone, hopper, revolved, vessel

PI = math.pi


def head(kind: str) -> Head:
    return Head(kind, 0.12 if kind in ("spherical", "conical") else None)


@pytest.mark.parametrize("kind", HEADS)
def test_facets_of_a_head_hold_its_exact_volume(kind):
    outline = head_outline(head(kind), 0.8)
    assert cone_slices(outline.points) == pytest.approx(outline.volume, rel=1e-13, abs=1e-18)
    assert outline.points[0].tolist() == [0.4, 0.0]
    assert outline.points[-1, 0] == 0.0
    assert outline.points[-1, 1] == pytest.approx(outline.depth, abs=1.1e-4)


@pytest.mark.parametrize(
    ("one", "volume"),
    [
        (Head("hemispherical"), 2 / 3 * PI * 0.4**3),
        (Head("ellipsoidal"), 2 / 3 * PI * 0.4**2 * 0.2),
        (Head("ellipsoidal", 0.3), 2 / 3 * PI * 0.4**2 * 0.3),
        (Head("conical", 0.3), PI * 0.4**2 * 0.3 / 3),
        (Head("spherical", 0.4), 2 / 3 * PI * 0.4**3),
        (Head("torispherical", crown_radius=0.4, knuckle_radius=0.4 - 1e-9), 2 / 3 * PI * 0.4**3),
    ],
)
def test_head_volumes_in_closed_form(one, volume):
    assert head_outline(one, 0.8).volume == pytest.approx(volume, rel=1e-7)


def test_torispherical_volume_by_thin_slices():
    # r(z) from the definition, integrated by Simpson's rule on each arc, independent of the formula
    radius, crown, knuckle = 0.4, 0.8, 0.048
    outline = head_outline(Head("torispherical"), 0.8)
    tip = math.asin((radius - knuckle) / (crown - knuckle))
    centre = -(crown - knuckle) * math.cos(tip)

    def simpson(r2, low, high, n=20000):
        z = np.linspace(low, high, n + 1)
        w = np.ones(n + 1)
        w[1:-1:2], w[2:-1:2] = 4.0, 2.0
        return PI * float(w @ r2(z)) * (high - low) / (3 * n)

    meet = knuckle * math.cos(tip)
    below = simpson(lambda z: (radius - knuckle + np.sqrt(knuckle**2 - z**2)) ** 2, 0.0, meet)
    above = simpson(lambda z: crown**2 - (z - centre) ** 2, meet, centre + crown)
    assert outline.depth == pytest.approx(centre + crown, rel=1e-12)
    assert outline.volume == pytest.approx(below + above, rel=1e-7)


@pytest.mark.parametrize("kind", HEADS)
@pytest.mark.parametrize(("lies", "axis"), [("along", 0), ("across", 1), ("upright", 2)])
def test_a_vessel_lies_in_its_box_and_is_closed(kind, lies, axis):
    tank = vessel(0.8, 1.0, lies, head=head(kind), far_head=Head())
    outline = head_outline(head(kind), 0.8)
    assert tank.capacity == pytest.approx(PI * 0.4**2 + outline.volume, rel=1e-12)
    assert tank.volume_error == pytest.approx(0.0, abs=1e-14)
    assert is_closed(tank)
    size = tank.upper - tank.lower
    assert size[axis] == pytest.approx(1.0 + outline.depth, abs=2e-4)
    assert tank.lower == pytest.approx([0, 0, 0], abs=2e-4)
    middle = np.array([0.4, 0.4, 0.4])
    middle[axis] = 1.0 + outline.depth - 0.001  # the flat end is the far one
    corner = middle.copy()
    corner[(axis + 1) % 3] = 0.01
    assert tank.winding([middle, corner]) == pytest.approx([1, 1], abs=1e-9)


def test_a_ball_and_a_vessel_given_over_the_outside():
    ball = vessel(0.8, 0.0, head=Head("hemispherical"))
    assert ball.capacity == pytest.approx(4 / 3 * PI * 0.4**3, rel=1e-12)
    outside = vessel(
        0.806, 1.0, head=Head("ellipsoidal"), far_head=Head(), outside=True, wall=0.003
    )
    expected = PI * 0.4**2 * 0.997 + 2 / 3 * PI * 0.4**2 * (0.806 / 4 - 0.003)
    assert outside.capacity == pytest.approx(expected, rel=1e-12)
    dished = vessel(0.806, 1.0, head=Head("torispherical"), outside=True, wall=0.003)
    inner = Head("torispherical", crown_radius=0.803, knuckle_radius=0.06 * 0.806 - 0.003)
    assert dished.capacity == pytest.approx(
        PI * 0.16 + 2 * head_outline(inner, 0.8).volume, rel=1e-12
    )


def test_the_capacity_does_not_depend_on_the_chord_tolerance():
    for kind in HEADS:
        volumes = [
            vessel(0.8, 1.0, head=head(kind), chord_tolerance=t).capacity for t in (2e-3, 1e-4)
        ]
        assert volumes[0] == pytest.approx(volumes[1], rel=1e-12)


def test_cones_and_hoppers():
    tank = cone(0.2, 0.6, 0.5)
    assert tank.capacity == pytest.approx(PI * 0.5 / 12 * (0.2**2 + 0.2 * 0.6 + 0.6**2), rel=1e-12)
    assert tank.winding([[0.3, 0.05, 0.48], [0.3, 0.05, 0.02]]) == pytest.approx([1, 0], abs=1e-9)
    tip = cone(0.0, 0.6, 0.5, "along")
    assert tip.capacity == pytest.approx(PI * 0.3**2 * 0.5 / 3, rel=1e-12)
    assert is_closed(tip)
    funnel = hopper(0.6, 0.5, 0.2, 0.1, 0.4)
    assert funnel.capacity == pytest.approx(
        0.4 / 6 * (0.6 * 0.5 + 0.2 * 0.1 + 0.8 * 0.6), rel=1e-12
    )
    assert is_closed(funnel)
    assert funnel.winding([[0.05, 0.25, 0.38], [0.05, 0.25, 0.02]]) == pytest.approx(
        [1, 0], abs=1e-9
    )
    widening = hopper(0.2, 0.5, 0.6, 0.5, 0.4)
    assert widening.capacity == pytest.approx(0.4 * 0.4 * 0.5, rel=1e-12)


def test_walls_come_off_slanted_sides_at_right_angles():
    # the same frustum as a revolved outline, whose wall comes off by a general inset
    by_name = cone(0.2, 0.6, 0.5, outside=True, wall=0.01)
    by_outline = revolved([(0, 0), (0.1, 0), (0.3, 0.5), (0, 0.5)], outside=True, wall=0.01)
    assert by_name.capacity == pytest.approx(by_outline.capacity, rel=1e-12)
    wall = math.hypot(1.0, 0.4) * 0.01
    low, high = 0.1 + 0.4 * 0.01 - wall, 0.3 - 0.4 * 0.01 - wall
    assert by_name.capacity == pytest.approx(
        PI * 0.48 / 3 * (low**2 + low * high + high**2), rel=1e-12
    )
    funnel = hopper(0.6, 0.6, 0.2, 0.2, 0.5, outside=True, wall=0.01)
    low, high = 2 * low, 2 * high
    assert funnel.capacity == pytest.approx(0.48 / 3 * (low**2 + low * high + high**2), rel=1e-12)


def test_revolved_outlines():
    ring = revolved([(0.2, 0), (0.3, 0), (0.3, 0.1), (0.2, 0.1)])
    assert ring.capacity == pytest.approx(PI * (0.3**2 - 0.2**2) * 0.1, rel=1e-12)
    assert is_closed(ring)
    pointed = revolved([(0, 0), (0.3, 0.2), (0, 0.5)], "along")
    assert pointed.capacity == pytest.approx(PI * 0.3**2 * 0.5 / 3, rel=1e-12)
    assert is_closed(pointed)
    thick = revolved([(0, 0), (0.3, 0.2), (0, 0.5)], outside=True, wall=0.01)
    # both slants move in at right angles: what is left is a smaller double cone
    height = 0.5 - 0.01 * math.hypot(1.0, 2 / 3) - 0.01 * math.hypot(1.0, 1.0)
    radius = height / (2 / 3 + 1.0)
    assert thick.capacity == pytest.approx(PI * radius**2 * height / 3, rel=1e-12)
    hollow = revolved([(0.2, 0), (0.3, 0), (0.3, 0.1), (0.2, 0.1)], outside=True, wall=0.01)
    assert hollow.capacity == pytest.approx(PI * (0.29**2 - 0.21**2) * 0.08, rel=1e-12)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Head("domed"), "'domed' is not a head"),
        (lambda: Head("conical"), "needs its depth"),
        (lambda: Head("flat", 0.1), "no depth of its own"),
        (lambda: Head("conical", -0.1), "not positive"),
        (lambda: Head("ellipsoidal", crown_radius=0.1), "no crown"),
        (lambda: head_outline(Head("spherical", 0.5), 0.8), "up to the radius"),
        (lambda: head_outline(Head("torispherical", crown_radius=0.3), 0.8), "do not fit"),
        (lambda: vessel(0.8, 0.0), "leaves no room"),
        (lambda: vessel(0.8, -0.1, head=Head("ellipsoidal")), "leaves no room"),
        (lambda: cone(-0.1, 0.5, 0.5), "negative"),
        (lambda: cone(0.0, 0.5, 0.5, outside=True, wall=0.003), "narrow end"),
        (
            lambda: revolved([(0, 0), (0.3, 0.2), (0, 0.2), (0.3, 0.5), (0, 0.5)]),
            "axis|crosses|touches",
        ),
        (lambda: revolved([(-0.1, 0), (0.3, 0.0), (0.3, 0.2)]), "axis"),
        (lambda: revolved([(0, 0), (0.3, 0.0), (0.3, 0.2)]), "axis"),
    ],
)
def test_what_does_not_fit_is_refused(make, words):
    with pytest.raises(TankError, match=words):
        make()
