"""Ends of round vessels: outlines with their exact volume, as facets that hold that volume.

An outline is listed from the rim (radius of the vessel, height 0) to the pole on the axis.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.profile import CHORD_TOLERANCE
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = ["HEADS", "Head", "HeadOutline", "cone_slices", "head_outline"]

HEADS = ("flat", "spherical", "hemispherical", "conical", "ellipsoidal", "torispherical")
_FEWEST = 6  # facets of a curved outline
_FINEST = 1e-6  # sagitta as a share of the radius, below which facets no longer get smaller


@dataclass(frozen=True)
class Head:
    """One end of a vessel.

    Attributes
    ----------
    kind : flat, spherical (a cap), hemispherical, conical, ellipsoidal or torispherical.
    depth : how far it bulges [m]; needed for a cap and a cone; a quarter of the diameter (2:1)
        for an ellipsoidal head where not given; follows from the radii for a torispherical one.
    crown_radius, knuckle_radius : of a torispherical head [m]; the diameter and 6 % of it where
        not given.
    """

    kind: str = "flat"
    depth: float | None = None
    crown_radius: float | None = None
    knuckle_radius: float | None = None

    def __post_init__(self) -> None:
        wrong = "" if self.kind in HEADS else f"'{self.kind}' is not a head"
        if not wrong and self.kind in ("spherical", "conical") and self.depth is None:
            wrong = f"a {self.kind} head needs its depth"
        if (
            not wrong
            and self.kind in ("flat", "hemispherical", "torispherical")
            and self.depth is not None
        ):
            wrong = f"a {self.kind} head has no depth of its own"
        if (
            not wrong
            and self.kind != "torispherical"
            and (self.crown_radius or self.knuckle_radius)
        ):
            wrong = f"a {self.kind} head has no crown and knuckle radius"
        lengths = [x for x in (self.depth, self.crown_radius, self.knuckle_radius) if x is not None]
        if not wrong and any(not (math.isfinite(x) and x > 0.0) for x in lengths):
            wrong = f"{self.kind} head: a length is not positive"
        if wrong:
            raise TankError(wrong, where="head", allowed=f"kinds: {', '.join(HEADS)}")

    def inside(self, diameter: float, wall: float) -> "Head":
        """The inner face of a head given over the outside, on a vessel of outside ``diameter`` [m]."""
        if self.kind in ("flat", "hemispherical"):
            return self
        if self.kind == "torispherical":
            crown, knuckle = self._radii(diameter)
            return Head(self.kind, None, crown - wall, knuckle - wall)
        return Head(self.kind, self._depth(diameter) - wall)

    def _depth(self, diameter: float) -> float:
        if self.depth is not None:
            return self.depth
        return {"hemispherical": 0.5, "ellipsoidal": 0.25}.get(self.kind, 0.0) * diameter

    def _radii(self, diameter: float) -> tuple[float, float]:
        crown = diameter if self.crown_radius is None else self.crown_radius
        return crown, 0.06 * diameter if self.knuckle_radius is None else self.knuckle_radius


@dataclass(frozen=True)
class HeadOutline:
    """A head as facets: ``points`` (N, 2) radius and height [m] from rim to pole, and what is exact."""

    points: Array
    depth: float
    volume: float
    stray: float


def head_outline(head: Head, diameter: float, tolerance: float = CHORD_TOLERANCE) -> HeadOutline:
    """The outline of a head on a vessel of inside ``diameter`` [m].

    The corners of a curved outline are moved out of the curve by a common share of their facets'
    sagitta, so that the facets enclose exactly the head's volume. ``tolerance`` is the sagitta
    wanted [m]. Raises TankError for a head that does not fit.
    """
    radius = 0.5 * diameter
    if head.kind == "flat":
        return HeadOutline(np.array([[radius, 0.0], [0.0, 0.0]]), 0.0, 0.0, 0.0)
    if head.kind == "conical":
        depth = head._depth(diameter)
        return HeadOutline(
            np.array([[radius, 0.0], [0.0, depth]]), depth, math.pi * radius**2 * depth / 3, 0.0
        )
    if head.kind == "torispherical":
        curve, sides, volume = _torispherical(radius, *head._radii(diameter), tolerance)
    else:
        depth = head._depth(diameter)
        maker = _cap if head.kind == "spherical" else _ellipsoid
        curve, sides, volume = maker(radius, depth, tolerance)
    return _faceted(curve, sides, volume)


def cone_slices(points: Array) -> float:
    """Volume [m³] inside an outline (N, 2) turned about the axis, rim at height 0, pole on the axis."""
    r, z = points[:, 0], points[:, 1]
    return float(np.sum(math.pi / 3.0 * np.diff(z) * (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2)))


def _sides(sweep: float, radius: float, tolerance: float) -> int:
    """Facets of an arc: sagitta ``radius (1 - cos(step / 2))`` up to ``tolerance``."""
    share = min(1.0, max(_FINEST, tolerance / radius))
    step = 2.0 * math.acos(1.0 - share)
    return max(_FEWEST, math.ceil(sweep / step))


def _on_arc(centre: float, height: float, radius: float, angles: Array) -> Array:
    """Points, and outward normals, of an arc; angles from the radial direction: (N, 4)."""
    c, s = np.cos(angles), np.sin(angles)
    return np.column_stack([centre + radius * c, height + radius * s, c, s])


def _cap(radius: float, depth: float, tolerance: float) -> tuple[Array, list[int], float]:
    """Spherical cap: D. Jones, "Calculating Tank Volume" (from memory: pi a (3 R² + a²) / 6)."""
    if depth > radius * (1.0 + 1e-12):
        raise TankError(
            f"a spherical head {stated(depth, 'length')} deep on a radius of {stated(radius, 'length')}",
            where="head",
            allowed="a depth up to the radius",
        )
    ball = (radius**2 + depth**2) / (2.0 * depth)
    rim = math.asin(min(1.0, max(-1.0, (ball - depth) / ball)))
    n = _sides(0.5 * math.pi - rim, ball, tolerance)
    curve = _on_arc(0.0, depth - ball, ball, np.linspace(rim, 0.5 * math.pi, 2 * n + 1))
    return curve, [n], math.pi * depth * (3.0 * radius**2 + depth**2) / 6.0


def _ellipsoid(radius: float, depth: float, tolerance: float) -> tuple[Array, list[int], float]:
    """Half an ellipsoid: 2/3 pi R² a."""
    n = _sides(0.5 * math.pi, max(radius, depth), tolerance)
    t = np.linspace(0.0, 0.5 * math.pi, 2 * n + 1)
    c, s = np.cos(t), np.sin(t)
    normal = np.column_stack([c / radius, s / depth])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    return (
        np.column_stack([radius * c, depth * s, normal]),
        [n],
        2.0 / 3.0 * math.pi * radius**2 * depth,
    )


def _torispherical(
    radius: float, crown: float, knuckle: float, tolerance: float
) -> tuple[Array, list[int], float]:
    """A crown of one radius and a knuckle of a smaller one, tangent to each other and to the shell.

    Own integration: the knuckle is a torus about the ring of radius R - k, up to the angle at which
    both arcs share a tangent, the crown a cap above it.
    """
    ring = radius - knuckle
    if not (0.0 < knuckle <= radius and crown >= radius and crown > knuckle):
        raise TankError(
            f"a crown radius of {stated(crown, 'length')} and a knuckle of {stated(knuckle, 'length')} do not fit",
            where="head",
            allowed=f"crown {stated(radius, 'length')} or more, knuckle up to {stated(radius, 'length')}",
        )
    tip = math.asin(ring / (crown - knuckle))  # from the axis to where the arcs meet
    low = 0.5 * math.pi - tip
    centre = knuckle * math.sin(low) - crown * math.cos(tip)
    n, m = _sides(low, knuckle, tolerance), _sides(tip, crown, tolerance)
    below = _on_arc(ring, 0.0, knuckle, np.linspace(0.0, low, 2 * n + 1))
    above = _on_arc(0.0, centre, crown, np.linspace(low, 0.5 * math.pi, 2 * m + 1))
    z = knuckle * math.sin(low)
    half_lens = 0.5 * (z * math.sqrt(knuckle**2 - z**2) + knuckle**2 * low)
    torus = math.pi * (ring**2 * z + 2.0 * ring * half_lens + knuckle**2 * z - z**3 / 3.0)
    bulge = crown * (1.0 - math.cos(tip))
    cap = math.pi * bulge**2 * (3.0 * crown - bulge) / 3.0
    return np.vstack([below, above[1:]]), [n, m], torus + cap


def _faceted(curve: Array, sides: list[int], volume: float) -> HeadOutline:
    """Every second point of a curve, moved out so that the facets hold ``volume`` exactly."""
    ends = curve[::2]
    middle = curve[1::2, :2]
    sagitta = np.linalg.norm(middle - 0.5 * (ends[:-1, :2] + ends[1:, :2]), axis=1)
    assert len(sagitta) == sum(sides)
    reach = np.maximum(np.r_[sagitta, 0.0], np.r_[0.0, sagitta])
    reach[0] = 0.0  # the rim stays on the shell
    out = reach[:, None] * ends[:, 2:]
    share, previous = 0.7, 0.0
    error, before = (
        cone_slices(_on_axis(ends[:, :2] + k * out)) - volume for k in (share, previous)
    )
    for _ in range(20):  # secant: the volume is a smooth, nearly linear function of the share
        if abs(error) <= 1e-15 * volume or error == before:
            break
        share, previous, before = (
            share - error * (share - previous) / (error - before),
            share,
            error,
        )
        error = cone_slices(_on_axis(ends[:, :2] + share * out)) - volume
    points = _on_axis(ends[:, :2] + share * out)
    stray = float(max(share, 1.0) * sagitta.max())
    return HeadOutline(points, float(curve[-1, 1]), volume, stray)


def _on_axis(points: Array) -> Array:
    """The same outline with its pole exactly on the axis."""
    moved = points.copy()
    moved[-1, 0] = 0.0
    return moved
