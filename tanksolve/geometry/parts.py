"""Parametric tanks: one function per shape, sizes in metres, ready to be solved.

The origin of every tank made here is the rear right bottom inner corner of its enclosing box:
x forward, y to the left, z up, so that every position in the tank is positive.
"""

from numpy.typing import ArrayLike

from tanksolve.geometry.profile import (
    CHORD_TOLERANCE,
    Profile,
    circle,
    inset,
    polygon,
    rounded_rectangle,
)
from tanksolve.geometry.sizes import inner_sizes, make_tank, outside_notes, size_notes
from tanksolve.geometry.solids import axis_of, cuboid, prism
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

__all__ = ["box", "cylinder", "extrusion"]


def box(
    length: float,
    width: float,
    height: float,
    *,
    name: str = "box",
    outside: bool = False,
    wall: float = 0.0,
    corner_radius: float = 0.0,
    rounded: str = "along",
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Tank:
    """A rectangular tank.

    Parameters
    ----------
    length, width, height : sizes along x, y, z [m]; inside sizes unless ``outside``.
    outside : the sizes are taken over the plates, each ``wall`` [m] thick.
    corner_radius : of the four bent edges that run ``rounded`` (along, across or upright) [m];
        over the outside where the sizes are.
    chord_tolerance : how far the facets may stray from the bends [m].

    Raises TankError for sizes that are not positive, or a wall that leaves no room.
    """
    sizes = inner_sizes({"length": length, "width": width, "height": height}, outside, wall)
    notes = size_notes(sizes, outside, wall)
    if corner_radius == 0.0:
        return make_tank(name, cuboid((0.0, 0.0, 0.0), sizes), notes)
    radius = max(0.0, corner_radius - wall) if outside else corner_radius
    axis = axis_of(rounded)
    across = [size for k, size in enumerate(sizes) if k != axis]
    section = rounded_rectangle(across[0], across[1], radius, chord_tolerance)
    notes += (f"edges {rounded} bent to an inside radius of {stated(radius, 'length')}",)
    return make_tank(name, prism(section, sizes[axis], rounded), notes)


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
    sizes = f"inside diameter {stated(across, 'length')}, between the flat ends {stated(inner_length, 'length')}"
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
        f"constant section of {len(section.points)} corners, "
        f"{stated(inner_length, 'length')} long inside, {along}",
    )
    return make_tank(name, solid, notes + outside_notes(outside, wall))
