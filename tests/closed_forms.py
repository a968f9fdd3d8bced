"""Exact volumes, levels and limits of simple shapes, written without tanksolve.

Box formulas are evaluated in rational arithmetic, so that their only error is that of the input.
Angles in radians, lengths in metres.
"""

import itertools
import math
from collections.abc import Sequence
from fractions import Fraction


def box_below(sizes: Sequence[float], up: Sequence[float], height: float) -> float:
    """Volume of the box [0, L] x [0, W] x [0, H] below the plane up·x = height.

    Source: the cut unit cube of interface reconstruction, Scardovelli and Zaleski, J. Comput.
    Phys. 164 (2000) 228-237 (citation from memory), here as the inclusion and exclusion of
    simplices: sum over subsets S of the sides of (-1)^|S| <alpha - m_S>^n / (n! product m).
    A side square to up drops out of the formula, which then holds in fewer dimensions.
    """
    alpha = Fraction(height)
    m = []
    for size, u in zip(sizes, up, strict=True):
        reach = Fraction(size) * Fraction(u)
        if reach < 0:  # mirror the box so that every component points up
            alpha -= reach
        if reach != 0:
            m.append(abs(reach))
    total = Fraction(0)
    for count in range(len(m) + 1):
        for sides in itertools.combinations(m, count):
            total += (-1) ** count * max(alpha - sum(sides), Fraction(0)) ** len(m)
    share = total / (math.factorial(len(m)) * math.prod(m))
    return float(share * math.prod(Fraction(size) for size in sizes))


def bisect(rises, wanted: float, low: float, high: float) -> float:
    """Where the rising function reaches ``wanted``, to the last digit, by halving alone."""
    while True:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            return middle
        if rises(middle) < wanted:
            low = middle
        else:
            high = middle


def box_level(sizes: Sequence[float], up: Sequence[float], volume: float) -> float:
    """Height of the plane that holds ``volume`` in the box: the inverse of :func:`box_below`."""
    reach = [s * u for s, u in zip(sizes, up, strict=True)]
    low, high = sum(min(r, 0.0) for r in reach), sum(max(r, 0.0) for r in reach)
    return bisect(lambda h: box_below(sizes, up, h), volume, low, high)


def slope_up(slope: float, heading: float) -> tuple[float, float, float]:
    """Up for a slope and the direction of uphill (0 nose, 90° left)."""
    return (
        math.sin(slope) * math.cos(heading),
        math.sin(slope) * math.sin(heading),
        math.cos(slope),
    )


def segment_area(radius: float, depth: float) -> float:
    """Area of a circle's segment: D. Jones, "Calculating Tank Volume", flat-ended cylinder."""
    h = min(max(depth, 0.0), 2.0 * radius)
    c = radius - h
    return radius**2 * math.acos(c / radius) - c * math.sqrt(2.0 * radius * h - h * h)


def horizontal_cylinder(radius: float, length: float, depth: float, head: float = 0.0) -> float:
    """Lying cylinder, both ends ellipsoidal of depth ``head`` (0 flat, radius hemispherical).

    Source: D. Jones, "Calculating Tank Volume": A_f L + pi a h² (1 - h / 3R).
    """
    ends = math.pi * head * depth**2 * (1.0 - depth / (3.0 * radius))
    return segment_area(radius, depth) * length + ends


def tilted_cylinder(radius: float, length: float, mid_depth: float, slope: float) -> float:
    """Lying cylinder with flat ends, tilted along its axis; depth at mid-length, square to the axis.

    Derived here: the integral of the segment area along the axis, with
    F(c) = c acos c - sqrt(1 - c²) + (1 - c²)^(3/2) / 3, F = 0 from c = 1 on, pi c up to c = -1.
    """
    if slope == 0.0:
        return segment_area(radius, mid_depth) * length
    rise = 0.5 * length * math.tan(slope)
    shallow, deep = (radius - mid_depth + rise) / radius, (radius - mid_depth - rise) / radius
    span = _segment_integral(shallow) - _segment_integral(deep)
    return radius**3 / math.tan(slope) * span


def _segment_integral(c: float) -> float:
    if c >= 1.0:
        return 0.0
    if c <= -1.0:
        return math.pi * c
    s2 = 1.0 - c * c
    return c * math.acos(c) - math.sqrt(s2) + s2**1.5 / 3.0


def wedge(radius: float, height: float, half_angle: float) -> float:
    """Cylindrical wedge: MathWorld, "Cylindrical Wedge", eqs 8-10 (citing Harris and Stocker 1998).

    half_angle is half the angle of the base's arc; pi/2 is Archimedes' hoof, 2/3 R² h.
    """
    s, c = math.sin(half_angle), math.cos(half_angle)
    return height * radius**2 / 3.0 * (3.0 * s - 3.0 * half_angle * c - s**3) / (1.0 - c)


def cap(radius: float, height: float) -> float:
    """Spherical cap: Lexique de mathématique, "spherical segment", pi h² (3R - h) / 3."""
    return math.pi * height**2 * (3.0 * radius - height) / 3.0


def wall_sided_shift(second: float, volume: float, slope: float) -> tuple[float, float]:
    """How far the liquid's centroid moves downhill and upwards, in body axes, while walls stay wet.

    Source: the two parts of the wall-sided formula of ship stability, Rawson and Tupper, Basic
    Ship Theory, vol. 1: (I / V) tan and half (I / V) tan² of the slope; I is the second moment of
    the level surface about the axis of tilt.
    """
    t = math.tan(slope)
    return second / volume * t, 0.5 * second / volume * t * t


def floor_edge_dries(depth: float, length: float) -> float:
    """Slope at which a box's uphill floor edge dries, tan = 2d / L. Derived: mean depth is d."""
    return math.atan(2.0 * depth / length)


def roof_reached(depth: float, length: float, height: float) -> float:
    """Slope at which the liquid meets a box's roof, tan = 2 (H - d) / L. Derived: mean depth is d."""
    return math.atan(2.0 * (height - depth) / length)


def floor_centre_dries(depth: float, length: float) -> float:
    """Slope at which a box's floor centre dries, tan = 8d / L, where 4d <= H.

    Derived: the liquid is then a triangle over half the floor, L/2 long and L/2 tan high.
    """
    return math.atan(8.0 * depth / length)


def box_port_kept(
    sizes: Sequence[float],
    point: Sequence[float],
    volume: float,
    slope: float,
    heading: float,
    *,
    wet: bool = True,
) -> bool:
    """Whether liquid stands over (or, dry, not over) a point of a box: by volume below the point."""
    up = slope_up(slope, heading)
    below = box_below(sizes, up, sum(u * p for u, p in zip(up, point, strict=True)))
    return below <= volume if wet else below >= volume


def first_loss(kept, to: float, step: float = math.radians(3.0)) -> float | None:
    """First slope at which ``kept(slope)`` fails, by steps and then halving; None up to ``to``."""
    before = 0.0
    for k in range(1, math.ceil(to / step - 1e-9) + 1):
        slope = min(k * step, to)
        if not kept(slope):
            return bisect(lambda b: 0.0 if kept(b) else 1.0, 0.5, before, slope)
        before = slope
    return None
