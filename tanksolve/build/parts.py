"""Parametric tanks: one function per shape, sizes in metres, ready to be solved.

The origin of every tank made here is the rear right bottom inner corner of its enclosing box:
x forward, y to the left, z up, so that every position in the tank is positive.
"""

import numpy as np
from numpy.typing import ArrayLike

from tanksolve.build.profile import CHORD_TOLERANCE, Profile, circle, inset, polygon
from tanksolve.build.solids import Solid, cuboid, prism
from tanksolve.errors import TankError
from tanksolve.model.tank import Tank

__all__ = ["box", "cylinder", "extrusion"]


def box(
    length: float,
    width: float,
    height: float,
    *,
    name: str = "box",
    outside: bool = False,
    wall: float = 0.0,
) -> Tank:
    """A rectangular tank.

    Parameters
    ----------
    length, width, height : sizes along x, y, z [m]; inside sizes unless ``outside``.
    outside : the sizes are taken over the plates, each ``wall`` [m] thick.

    Raises TankError for sizes that are not positive, or a wall that leaves no room.
    """
    sizes = inner_sizes({"length": length, "width": width, "height": height}, outside, wall)
    solid = cuboid((0.0, 0.0, 0.0), sizes)
    return make_tank(name, solid, size_notes(sizes, outside, wall))


def cylinder(
    diameter: float,
    length: float,
    lies: str = "along",
    *,
    name: str = "cylinder",
    outside: bool = False,
    wall: float = 0.0,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A round tank with flat ends.

    Parameters
    ----------
    diameter, length : [m]; length is between the ends, the height of an upright cylinder.
    lies : ``along`` the machine, ``across`` it, or ``upright``.
    outside, wall : as for :func:`box`.
    chord_tolerance : how far the facets may stray from the round wall [m].

    Raises TankError for sizes that are not positive, or an unknown way of lying.
    """
    across, inner_length = inner_sizes({"diameter": diameter, "length": length}, outside, wall)
    profile = circle(0.5 * across, chord_tolerance).moved(0.5 * across, 0.5 * across)
    solid = prism(profile, inner_length, lies)
    stands = "standing upright" if lies == "upright" else f"lying {lies}"
    sizes = (
        f"inside diameter {1000 * across:g} mm, between the flat ends {1000 * inner_length:g} mm"
    )
    notes = (f"round tank {stands}, {sizes}",)
    return make_tank(name, solid, notes + outside_notes(outside, wall))


def extrusion(
    profile: ArrayLike | Profile,
    length: float,
    along: str = "along",
    *,
    name: str = "extrusion",
    outside: bool = False,
    wall: float = 0.0,
) -> Tank:
    """A tank of constant section.

    Parameters
    ----------
    profile : corners of the section (N, 2) [m] in order, either way round. Lying ``along`` they
        are (left, up); lying ``across`` (forward, up); ``upright`` (forward, left).
    length : between the flat ends [m].
    along : direction of the axis: ``along`` the machine, ``across`` it, or ``upright``.
    outside, wall : as for :func:`box`.

    Raises TankError for an outline that crosses itself or encloses nothing.
    """
    section = profile if isinstance(profile, Profile) else polygon(profile)
    (inner_length,) = inner_sizes({"length": length}, outside, wall)
    if outside:
        section = inset(section, wall)
    lower = section.points.min(axis=0)
    solid = prism(section.moved(-lower[0], -lower[1]), inner_length, along)
    notes = (
        f"constant section of {len(section.points)} corners, {1000 * inner_length:g} mm long inside, {along}",
    )
    return make_tank(name, solid, notes + outside_notes(outside, wall))


def inner_sizes(sizes: dict[str, float], outside: bool, wall: float) -> tuple[float, ...]:
    """Check named sizes [m] and take the wall off both ends of each where they are outside sizes.

    Raises TankError for a size or wall that is not positive, or a wall that leaves no room.
    """
    for what, size in sizes.items():
        if not (np.isfinite(size) and size > 0.0):
            raise TankError(
                f"a {what} of {1000 * size:g} mm is not positive",
                next_step="give the size with its unit",
            )
    if not outside:
        return tuple(sizes.values())
    if not wall > 0.0:
        raise TankError(
            "outside sizes are given without the thickness of the wall",
            allowed="a wall above 0 mm",
            next_step="give the wall, as in --wall 3mm, or inside sizes",
        )
    inner = {what: size - 2.0 * wall for what, size in sizes.items()}
    for what, size in inner.items():
        if size <= 0.0:
            raise TankError(
                f"a wall of {1000 * wall:g} mm leaves no room in a {what} of {1000 * sizes[what]:g} mm"
            )
    return tuple(inner.values())


def size_notes(sizes: tuple[float, ...], outside: bool, wall: float) -> tuple[str, ...]:
    """The inside sizes (3,) [m] in words."""
    length, width, height = (1000.0 * s for s in sizes)
    first = f"inside sizes {length:g} x {width:g} x {height:g} mm (length forward x width x height)"
    return (first, *outside_notes(outside, wall))


def outside_notes(outside: bool, wall: float) -> tuple[str, ...]:
    """What was taken off for the wall, in words."""
    return (
        (f"sizes were given over the outside; a wall of {1000 * wall:g} mm is taken off each side",)
        if outside
        else ()
    )


def make_tank(name: str, solid: Solid, notes: tuple[str, ...]) -> Tank:
    """Close a solid into a Tank, with what its facets do to the volume stated in words."""
    notes += facet_notes(solid)
    return Tank(name, solid.vertices, solid.faces, notes, solid.volume_error, datum=(0.0, 0.0, 0.0))


def facet_notes(solid: Solid) -> tuple[str, ...]:
    """What faceting does to the capacity and to part volumes, in words; nothing for plane walls."""
    if solid.partial_bound <= 1e-12 * solid.volume:
        return ()
    share = 100.0 * solid.partial_bound / solid.volume
    if abs(solid.volume_error) <= 1e-12 * solid.volume:
        whole = "the curved walls are facets of equal area: the capacity is exact"
    else:
        side = "more" if solid.volume_error > 0.0 else "less"
        litres = 1000.0 * abs(solid.volume_error)
        whole = f"the facets of the curved walls hold {litres:.3g} L {side} than the curved tank"
    return (
        f"{whole}; the volume in any part of the tank is right within {share:.2g} % of the capacity",
    )
