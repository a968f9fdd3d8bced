import math

import pytest
from mesh_checks import is_closed

from tanksolve.errors import TankError
from tanksolve.geometry.parts import box, extrusion
from tanksolve.geometry.sections import (
    d_section,
    elliptical,
    obround,
    saddle,
    shaped_floor,
    t_section,
    wedge,
)

PI = math.pi
STEPPED = shaped_floor(0.9, 0.4, 0.3, [(0, 0), (0.3, 0), (0.3, 0.1), (0.9, 0.1)])

CASES = [
    ("box", box(0.9, 0.4, 0.3, corner_radius=0.05), 0.9 * (0.4 * 0.3 - (4 - PI) * 0.05**2)),
    (
        "upright box",
        box(0.9, 0.4, 0.3, corner_radius=0.05, rounded="upright"),
        0.3 * (0.9 * 0.4 - (4 - PI) * 0.05**2),
    ),
    (
        "bent box outside",
        box(0.906, 0.406, 0.306, corner_radius=0.053, outside=True, wall=0.003),
        0.9 * (0.4 * 0.3 - (4 - PI) * 0.05**2),
    ),
    ("sloped floor", shaped_floor(0.9, 0.4, 0.3, [(0, 0), (0.9, 0.06)]), 0.4 * 0.9 * (0.3 - 0.03)),
    (
        "stepped floor",
        STEPPED,
        0.4 * (0.9 * 0.3 - 0.6 * 0.1),
    ),
    ("wedge", wedge(0.9, 0.4, 0.3, 0.1), 0.4 * 0.9 * 0.2),
    ("sharp wedge", wedge(0.9, 0.4, 0.3, 0.0), 0.4 * 0.9 * 0.15),
    ("obround", obround(0.5, 0.2, 1.0), 0.3 * 0.2 + PI * 0.1**2),
    ("tall obround", obround(0.2, 0.5, 1.0, "across"), 0.3 * 0.2 + PI * 0.1**2),
    (
        "obround outside",
        obround(0.506, 0.206, 1.006, outside=True, wall=0.003),
        0.3 * 0.2 + PI * 0.1**2,
    ),
    ("elliptical", elliptical(0.5, 0.2, 1.0), PI * 0.25 * 0.1),
    ("D top", d_section(0.4, 0.5, 1.0), 0.4 * 0.3 + PI * 0.2**2 / 2),
    ("D bottom", d_section(0.4, 0.5, 1.0, round_side="bottom"), 0.4 * 0.3 + PI * 0.2**2 / 2),
    ("D left", d_section(0.5, 0.4, 1.0, round_side="left"), 0.4 * 0.3 + PI * 0.2**2 / 2),
    ("D right", d_section(0.5, 0.4, 1.0, round_side="right"), 0.4 * 0.3 + PI * 0.2**2 / 2),
    ("half round", d_section(0.4, 0.2, 1.0), PI * 0.2**2 / 2),
    ("T", t_section(0.5, 0.4, 0.2, 0.15, 1.0), 0.5 * 0.25 + 0.2 * 0.15),
    ("saddle", saddle(0.6, 0.4, 0.2, 0.25, 1.0), 0.6 * 0.4 - 0.2 * 0.15 - PI * 0.1**2 / 2),
    ("square saddle", saddle(0.6, 0.4, 0.2, 0.25, 1.0, tunnel="square"), 0.6 * 0.4 - 0.2 * 0.25),
    (
        "saddle outside",
        saddle(0.606, 0.406, 0.194, 0.25, 1.006, outside=True, wall=0.003),
        0.6 * 0.4 - 0.2 * 0.15 - PI * 0.1**2 / 2,
    ),
]


@pytest.mark.parametrize(
    ("tank", "volume"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_volume_is_exact_and_the_surface_closed(tank, volume):
    assert tank.capacity == pytest.approx(volume, rel=1e-12)
    assert tank.volume_error == pytest.approx(0.0, abs=1e-15)
    assert is_closed(tank)
    assert tank.lower == pytest.approx([0.0, 0.0, 0.0], abs=2e-4)


@pytest.mark.parametrize(
    ("tank", "wet", "dry"),
    [
        (d_section(0.4, 0.5, 1.0), (0.5, 0.02, 0.02), (0.5, 0.02, 0.48)),
        (d_section(0.4, 0.5, 1.0, round_side="bottom"), (0.5, 0.02, 0.48), (0.5, 0.02, 0.02)),
        (d_section(0.5, 0.4, 1.0, round_side="left"), (0.5, 0.02, 0.02), (0.5, 0.48, 0.02)),
        (d_section(0.5, 0.4, 1.0, round_side="right"), (0.5, 0.48, 0.02), (0.5, 0.02, 0.02)),
        (
            d_section(0.5, 0.4, 1.0, "across", round_side="right"),
            (0.48, 0.5, 0.02),
            (0.02, 0.5, 0.02),
        ),
        (saddle(0.6, 0.4, 0.2, 0.25, 1.0), (0.5, 0.1, 0.02), (0.5, 0.3, 0.02)),
        (t_section(0.5, 0.4, 0.2, 0.15, 1.0), (0.5, 0.25, 0.02), (0.5, 0.05, 0.02)),
        (wedge(0.9, 0.4, 0.3, 0.1), (0.02, 0.2, 0.28), (0.88, 0.2, 0.28)),
        (
            shaped_floor(0.9, 0.4, 0.3, [(0, 0), (0.3, 0), (0.3, 0.1), (0.9, 0.1)]),
            (0.1, 0.2, 0.05),
            (0.6, 0.2, 0.05),
        ),
        (box(0.9, 0.4, 0.3, corner_radius=0.05), (0.002, 0.2, 0.002), (0.45, 0.002, 0.002)),
        (
            box(0.9, 0.4, 0.3, corner_radius=0.05, rounded="upright"),
            (0.002, 0.2, 0.002),
            (0.002, 0.002, 0.15),
        ),
    ],
)
def test_shapes_point_the_way_they_are_said_to(tank, wet, dry):
    assert tank.winding([wet, dry]) == pytest.approx([1.0, 0.0], abs=1e-9)


def test_plates_of_even_thickness_all_round():
    # what is left of an outside size is the same section drawn a wall smaller all round
    outer = wedge(0.9, 0.4, 0.3, 0.1, outside=True, wall=0.003)
    slant = math.hypot(0.9, 0.2)
    perimeter = 0.9 + 0.3 + 0.1 + slant
    corners = 0.003**2 * (
        1.0 + 1.0 + 1 / math.tan(0.5 * math.atan2(0.9, 0.2)) + math.tan(0.5 * math.atan2(0.9, 0.2))
    )
    assert outer.capacity == pytest.approx((0.18 - 0.003 * perimeter + corners) * 0.394, rel=1e-9)
    sloped = shaped_floor(0.906, 0.406, 0.306, [(0, 0), (0.906, 0.0)], outside=True, wall=0.003)
    assert sloped.capacity == pytest.approx(0.9 * 0.4 * 0.3, rel=1e-12)


def test_a_section_by_hand_is_the_same_as_by_name():
    by_hand = extrusion(
        [
            (0.15, 0),
            (0.35, 0),
            (0.35, 0.15),
            (0.5, 0.15),
            (0.5, 0.4),
            (0, 0.4),
            (0, 0.15),
            (0.15, 0.15),
        ],
        1.0,
    )
    by_name = t_section(0.5, 0.4, 0.2, 0.15, 1.0)
    assert by_hand.capacity == pytest.approx(by_name.capacity, rel=1e-13)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: box(0.9, 0.4, 0.3, corner_radius=0.2), "does not fit"),
        (lambda: box(0.9, 0.4, 0.3, corner_radius=0.02, rounded="round"), "not a direction"),
        (
            lambda: shaped_floor(0.9, 0.4, 0.3, [(0, 0), (0.8, 0)]),
            "from the rear wall to the front",
        ),
        (
            lambda: shaped_floor(0.9, 0.4, 0.3, [(0, 0), (0.5, 0.1), (0.4, 0.1), (0.9, 0)]),
            "does not run forward",
        ),
        (lambda: shaped_floor(0.9, 0.4, 0.3, [(0, 0), (0.9, 0.4)]), "under the roof"),
        (lambda: wedge(0.9, 0.4, 0.3, -0.1), "negative"),
        (lambda: d_section(0.5, 0.2, 1.0), "does not fit"),
        (lambda: d_section(0.5, 0.4, 1.0, round_side="front"), "not a side"),
        (lambda: t_section(0.5, 0.4, 0.6, 0.15, 1.0), "narrower"),
        (lambda: saddle(0.6, 0.4, 0.7, 0.25, 1.0), "tunnel"),
        (lambda: saddle(0.6, 0.4, 0.2, 0.05, 1.0), "at least half as high"),
        (lambda: saddle(0.6, 0.4, 0.2, 0.25, 1.0, tunnel="oval"), "round, at least"),
    ],
)
def test_what_does_not_fit_is_refused(make, words):
    with pytest.raises(TankError, match=words):
        make()
