"""Tanks of constant section that fabricators bend and weld: shaped floors, obround, D, T, saddle."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from tanksolve.errors import TankError
from tanksolve.geometry import profile as outline
from tanksolve.geometry.profile import CHORD_TOLERANCE, Profile
from tanksolve.geometry.sizes import inner_sizes, make_tank, outside_notes, size_notes
from tanksolve.geometry.solids import prism
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

__all__ = ["d_section", "elliptical", "obround", "saddle", "shaped_floor", "t_section", "wedge"]

ROUND_SIDES = ("top", "bottom", "left", "right")


def shaped_floor(
    length: float,
    width: float,
    height: float,
    floor: ArrayLike,
    *,
    name: str = "shaped floor",
    outside: bool = False,
    wall: float = 0.0,
) -> Tank:
    """A box whose floor is sloped or stepped on its way forward, the same all across.

    Parameters
    ----------
    length, width, height : of the enclosing box [m].
    floor : (N, 2) [m], from the rear wall forward: distance from the rear wall, height of the
        floor; from distance 0 to ``length``. Two points at one distance are a step.
    outside, wall : as for ``parts.box``; the floor is then given over the outside too.

    Raises TankError for a floor that does not run from end to end, or leaves no room.
    """
    points = np.asarray(floor, float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError("a floor is (N, 2)")
    reach = points[:, 0]
    good = len(points) >= 2 and reach[0] == 0.0 and bool(np.isclose(reach[-1], length, rtol=1e-9))
    if not good or np.any(np.diff(reach) < 0.0) or points[:, 1].max() >= height:
        raise TankError(
            "the floor does not run forward from the rear wall to the front wall under the roof",
            allowed=f"distances from 0 up to {stated(length, 'length')}, heights below {stated(height, 'length')}",
        )
    sizes = {"length": length, "width": width, "height": height}
    inner = inner_sizes(sizes, outside, wall)
    section = outline.polygon([*points.tolist(), [length, height], [0.0, height]], "floor")
    if outside:
        section = outline.inset(section, wall, "floor")
    section = section.moved(*(-section.points.min(axis=0)))
    return make_tank(name, prism(section, inner[1], "across"), size_notes(inner, outside, wall))


def wedge(
    length: float,
    width: float,
    rear_height: float,
    front_height: float,
    *,
    name: str = "wedge",
    outside: bool = False,
    wall: float = 0.0,
) -> Tank:
    """A level floor under a roof that slopes from ``rear_height`` to ``front_height`` [m].

    One of the two may be 0. ``outside``, ``wall`` as for ``parts.box``.
    """
    inner_sizes(
        {"length": length, "width": width, "greater height": max(rear_height, front_height)},
        outside,
        wall,
    )
    if min(rear_height, front_height) < 0.0:
        raise TankError("a height is negative", allowed="0 mm or more")
    (inner_width,) = inner_sizes({"width": width}, outside, wall)
    corners = [(0.0, 0.0), (length, 0.0), (length, front_height), (0.0, rear_height)]
    section = outline.polygon(corners, "wedge")
    if outside:
        section = outline.inset(section, wall, "wedge")
    section = section.moved(*(-section.points.min(axis=0)))
    rear, front = (stated(height, "length") for height in (rear_height, front_height))
    words = f"wedge, {rear} high at the rear, {front} at the front"
    return make_tank(
        name, prism(section, inner_width, "across"), (words, *outside_notes(outside, wall))
    )


def obround(
    width: float,
    height: float,
    length: float,
    lies: str = "along",
    *,
    name: str = "obround",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A section of two half circles and the straight sides between them.

    ``width`` and ``height`` of the section [m] are (across, up) for a tank along the machine,
    (forward, up) across it, (forward, across) upright; ``length`` is along the axis.
    """
    w, h, inner = _section_sizes(width, height, length, outside, wall)
    section = outline.rounded_rectangle(w, h, 0.5 * min(w, h), chord_tolerance)
    return _lay(section, inner, lies, name, "obround section", outside, wall)


def elliptical(
    width: float,
    height: float,
    length: float,
    lies: str = "along",
    *,
    name: str = "elliptical",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """An elliptical section; sizes as for :func:`obround`."""
    w, h, inner = _section_sizes(width, height, length, outside, wall)
    section = outline.ellipse(w, h, chord_tolerance).moved(0.5 * w, 0.5 * h)
    return _lay(section, inner, lies, name, "elliptical section", outside, wall)


def d_section(
    width: float,
    height: float,
    length: float,
    lies: str = "along",
    *,
    round_side: str = "top",
    name: str = "D section",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A section with three flat sides and a half circle on the ``round_side`` (top, bottom, left, right).

    Sizes as for :func:`obround`; left is the far side of the width. Raises TankError where the half
    circle does not fit.
    """
    if round_side not in ROUND_SIDES:
        raise TankError(f"'{round_side}' is not a side", allowed=", ".join(ROUND_SIDES))
    w, h, inner = _section_sizes(width, height, length, outside, wall)
    upright = round_side in ("top", "bottom")
    base, reach = (w, h) if upright else (h, w)
    radius = 0.5 * base
    if reach < radius:
        raise TankError(
            f"a half circle over {stated(base, 'length')} does not fit in {stated(reach, 'length')}",
            allowed=f"{stated(0.5 * base, 'length')} or more",
        )
    bow, bound = outline.arc((radius, reach - radius), radius, 0.0, math.pi, chord_tolerance)
    straight = [[0.0, 0.0], [base, 0.0]] if reach > radius else []
    points = np.vstack([*np.reshape(straight, (-1, 2)), bow]) if straight else bow
    if round_side in ("bottom", "right"):
        points = np.column_stack([points[:, 0], reach - points[:, 1]])[::-1]
    if not upright:  # lay the bow from the top to the far side of the width
        points = points[:, ::-1][::-1]
    section = Profile(np.ascontiguousarray(points), 0.0, bound)
    return _lay(section, inner, lies, name, f"D section, round at the {round_side}", outside, wall)


def t_section(
    width: float,
    height: float,
    stem_width: float,
    stem_height: float,
    length: float,
    lies: str = "along",
    *,
    name: str = "T section",
    outside: bool = False,
    wall: float = 0.0,
) -> Tank:
    """A T: a bar of full ``width`` on top of a stem in the middle; sizes as for :func:`obround`."""
    w, h, inner = _section_sizes(width, height, length, outside, wall)
    (stem,) = inner_sizes({"stem width": stem_width}, outside, wall)
    if not (stem < w and 0.0 < stem_height < h):
        raise TankError("the stem is not narrower and lower than the whole section")
    a, b = 0.5 * (w - stem), 0.5 * (w + stem)
    corners = [
        (a, 0),
        (b, 0),
        (b, stem_height),
        (w, stem_height),
        (w, h),
        (0, h),
        (0, stem_height),
        (a, stem_height),
    ]
    return _lay(outline.polygon(corners), inner, lies, name, "T section", outside, wall)


def saddle(
    width: float,
    height: float,
    tunnel_width: float,
    tunnel_height: float,
    length: float,
    lies: str = "along",
    *,
    tunnel: str = "round",
    name: str = "saddle tank",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """Two lobes over a tunnel, as over a driveshaft; sizes as for :func:`obround`.

    ``tunnel_width`` and ``tunnel_height`` [m] are the free tunnel for outside sizes, else the
    tunnel that the liquid sees; its top is ``round`` (a half circle) or ``square``.
    Raises TankError where the tunnel does not fit.
    """
    w, h, inner = _section_sizes(width, height, length, outside, wall)
    gap = tunnel_width + (2.0 * wall if outside else 0.0)
    if not (0.0 < gap < w and 0.0 < tunnel_height < h):
        raise TankError("the tunnel is not narrower and lower than the tank")
    a, b, radius = 0.5 * (w - gap), 0.5 * (w + gap), 0.5 * gap
    ends = [[0.0, h], [0.0, 0.0], [a, 0.0]], [[b, 0.0], [w, 0.0], [w, h]]
    if tunnel == "square":
        roof: Sequence[Sequence[float]] = [[a, tunnel_height], [b, tunnel_height]]
        bound = 0.0
    elif tunnel == "round" and tunnel_height >= radius:
        centre = (0.5 * w, tunnel_height - radius)
        bow, bound = outline.arc(centre, radius, math.pi, 0.0, chord_tolerance)
        roof = bow.tolist()
    else:
        raise TankError(
            f"a {tunnel} tunnel {stated(gap, 'length')} wide and {stated(tunnel_height, 'length')} high",
            allowed="round, at least half as high as wide; or square",
        )
    section = outline.polygon([*ends[0], *roof, *ends[1]], "saddle tank")
    section = Profile(section.points, 0.0, bound)
    return _lay(section, inner, lies, name, f"saddle section over a {tunnel} tunnel", outside, wall)


def _section_sizes(
    width: float, height: float, length: float, outside: bool, wall: float
) -> tuple[float, float, float]:
    w, h, inner = inner_sizes({"width": width, "height": height, "length": length}, outside, wall)
    return w, h, inner


def _lay(
    section: Profile, length: float, lies: str, name: str, words: str, outside: bool, wall: float
) -> Tank:
    across = stated(np.ptp(section.points, axis=0), "length", solved=True)
    sizes = f"{words}, about {across} inside, {stated(length, 'length')} long, {lies}"
    return make_tank(name, prism(section, length, lies), (sizes, *outside_notes(outside, wall)))
