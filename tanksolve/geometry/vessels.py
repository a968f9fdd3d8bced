"""Tanks of revolution and frusta: vessels with heads, cones, hoppers, any revolved outline."""

import math

import numpy as np
from numpy.typing import ArrayLike

from tanksolve.errors import TankError
from tanksolve.geometry.heads import Head, head_outline
from tanksolve.geometry.profile import CHORD_TOLERANCE, inset, polygon
from tanksolve.geometry.sizes import inner_sizes, make_tank, outside_notes
from tanksolve.geometry.solids import Solid, loft, revolve
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated, told

__all__ = ["cone", "hopper", "revolved", "vessel"]


def vessel(
    diameter: float,
    length: float,
    lies: str = "along",
    *,
    head: Head | None = None,
    far_head: Head | None = None,
    name: str = "vessel",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A round tank with dished ends.

    Parameters
    ----------
    diameter : of the shell [m].
    length : of the straight shell between the heads [m]; may be 0 between dished heads.
    lies : ``along``, ``across`` or ``upright``.
    head : at the rear, right or bottom end; flat where not given.
    far_head : at the front, left or top end; like ``head`` where not given.
    outside, wall : as for ``parts.box``; depth and radii of the heads are then outside sizes too,
        and the straight shell loses a wall's thickness at each flat end.
    chord_tolerance : how far facets may stray from curved walls [m].

    The origin is the rear right bottom inner corner of the enclosing box, heads included.
    Raises TankError for sizes or heads that do not fit.
    """
    near, far = head or Head(), far_head or head or Head()
    (inner,) = inner_sizes({"diameter": diameter}, outside, wall)
    straight = length
    if outside:
        straight -= wall * sum(end.kind == "flat" for end in (near, far))
        near, far = near.inside(diameter, wall), far.inside(diameter, wall)
    if straight < 0.0 or (straight == 0.0 and near.kind == far.kind == "flat"):
        raise TankError(
            f"a length of {stated(straight, 'length')} between the heads leaves no room"
        )
    low, high = (head_outline(end, inner, chord_tolerance) for end in (near, far))
    points = np.vstack(
        [
            np.column_stack([low.points[:, 0], low.depth - low.points[:, 1]])[::-1],
            np.column_stack([high.points[:, 0], low.depth + straight + high.points[:, 1]]),
        ]
    )
    volume = low.volume + high.volume + math.pi * (0.5 * inner) ** 2 * straight
    solid = revolve(points, chord_tolerance, volume, max(low.stray, high.stray))
    ends = near.kind if near == far else f"{near.kind} and {far.kind}"
    sizes = (
        f"inside diameter {stated(inner, 'length')}, straight shell {stated(straight, 'length')}"
    )
    whole = f"{told((low.depth + straight + high.depth), 'length')} over all"
    notes = (
        f"vessel with {ends} heads, lying {lies}: {sizes}, {whole}".replace(
            "lying upright", "upright"
        ),
    )
    return make_tank(
        name, _from_corner(solid, 0.5 * inner, lies), notes + outside_notes(outside, wall)
    )


def cone(
    diameter: float,
    far_diameter: float,
    length: float,
    lies: str = "upright",
    *,
    name: str = "cone",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A frustum of a cone with flat ends.

    ``diameter`` at the rear, right or bottom end, ``far_diameter`` at the other [m], one of which
    may be 0 for inside sizes; ``length`` between the ends. ``outside``, ``wall`` as for ``parts.box``.
    """
    inner_sizes({"greater diameter": max(diameter, far_diameter), "length": length}, outside, wall)
    if min(diameter, far_diameter) < 0.0:
        raise TankError("a diameter is negative", allowed="0 mm or more")
    radii = np.array([0.5 * diameter, 0.5 * far_diameter])
    (inner_length,) = inner_sizes({"length": length}, outside, wall)
    if outside:
        slope = (radii[1] - radii[0]) / length
        radii = radii + np.array([slope, -slope]) * wall - wall * math.hypot(1.0, slope)
        if radii.min() <= 0.0:
            raise TankError(
                "the wall leaves no room at the narrow end",
                next_step="give the inside sizes instead",
            )
    outline = [(0.0, 0.0), (radii[0], 0.0), (radii[1], inner_length), (0.0, inner_length)]
    solid = revolve(_apart(outline), chord_tolerance)
    ends = stated(2.0 * radii, "length", " and ")
    sizes = f"inside diameters {ends}, {stated(inner_length, 'length')} between them"
    tank = _from_corner(solid, float(radii.max()), lies)
    return make_tank(
        name, tank, (f"frustum of a cone, {lies}: {sizes}", *outside_notes(outside, wall))
    )


def hopper(
    length: float,
    width: float,
    bottom_length: float,
    bottom_width: float,
    height: float,
    *,
    name: str = "hopper",
    outside: bool = False,
    wall: float = 0.0,
) -> Tank:
    """A rectangular frustum: ``length`` x ``width`` at the top, the bottom sizes in its middle [m]."""
    sizes = {
        "length": length,
        "width": width,
        "bottom length": bottom_length,
        "bottom width": bottom_width,
    }
    top_l, top_w, low_l, low_w, inner_height = inner_sizes({**sizes, "height": height}, False, 0.0)
    if outside:
        (inner_height,) = inner_sizes({"height": height}, True, wall)
        ends = []
        for low, top in ((low_l, top_l), (low_w, top_w)):
            slope = 0.5 * (top - low) / height
            lean = 2.0 * wall * math.hypot(1.0, slope)
            ends.append((low + 2.0 * slope * wall - lean, top - 2.0 * slope * wall - lean))
        (low_l, top_l), (low_w, top_w) = ends
        inner_sizes({"inside bottom length": low_l, "inside bottom width": low_w}, False, 0.0)
    square = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    solid = loft([square * [low_l, low_w], square * [top_l, top_w]], [0.0, inner_height])
    corner = -solid.vertices.min(axis=0)
    upper = f"{stated((top_l, top_w), 'length')} at the top"
    lower = f"{stated((low_l, low_w), 'length')} at the bottom"
    words = f"hopper, inside {upper}, {lower}, {stated(inner_height, 'length')} high"
    return make_tank(name, solid.moved(corner), (words, *outside_notes(outside, wall)))


def revolved(
    outline: ArrayLike,
    lies: str = "upright",
    *,
    name: str = "revolved",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A tank turned about its axis.

    Parameters
    ----------
    outline : corners (N, 2) [m] of half the section, in order: distance from the axis, place along
        the axis. It touches the axis along one side, or not at all (a ring).

    Raises TankError for an outline that crosses itself or the axis, or touches the axis otherwise.
    """
    points = polygon(outline, "outline").points
    on_axis = points[:, 0] == 0.0
    neighbours = on_axis & np.roll(on_axis, -1)
    if points[:, 0].min() < 0.0 or on_axis.sum() != 2 * neighbours.sum() or neighbours.sum() > 1:
        raise TankError(
            "the outline must touch the axis along one side, or stay clear of it",
            where="outline",
            allowed="distances from the axis of 0 or more; 0 at two neighbouring corners or at none",
        )
    if outside:
        points = _inner_outline(points, wall)
    if points[:, 0].min() == 0.0:
        points = _from_axis(points)
    solid = revolve(points, chord_tolerance)
    solid = solid.moved((0.0, 0.0, -float(points[:, 1].min())))
    notes = (
        f"outline of {len(points)} corners turned about its axis, {lies}",
        *outside_notes(outside, wall),
    )
    return make_tank(name, _from_corner(solid, float(points[:, 0].max()), lies), notes)


def _inner_outline(points: np.ndarray, wall: float) -> np.ndarray:
    """A half section moved in by the wall, except along the axis."""
    inner_sizes({"outline": float(np.ptp(points, axis=0).max())}, True, wall)
    if points[:, 0].min() > 0.0:
        return inset(polygon(points), wall, "outline").points
    half = _from_axis(points)
    whole = np.vstack([half, half[::-1] * [-1.0, 1.0]])
    inner = inset(polygon(whole), wall, "outline").points[: len(half)].copy()
    inner[[0, -1], 0] = 0.0  # rounding only: the mirrored half holds them there
    return inner


def _from_axis(points: np.ndarray) -> np.ndarray:
    """The corners in order, beginning after the side on the axis."""
    on_axis = points[:, 0] == 0.0
    start = int(np.argmax(on_axis & np.roll(on_axis, -1))) + 1
    return np.asarray(np.roll(points, -start, axis=0))


def _apart(outline: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The same outline without repeated points."""
    return [point for k, point in enumerate(outline) if k == 0 or point != outline[k - 1]]


def _from_corner(solid: Solid, radius: float, lies: str) -> Solid:
    """A solid about the z axis from z = 0, laid down with its enclosing box's corner at the origin."""
    return solid.moved((radius, radius, 0.0)).lying(lies)
