"""Inside and outside sizes of a tank, checked and said in words."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.solids import Solid
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated, told

Array = NDArray[np.float64]

__all__ = ["facet_notes", "inner_sizes", "make_tank", "nominal_box", "outside_notes", "size_notes"]


def inner_sizes(sizes: dict[str, float], outside: bool, wall: float) -> tuple[float, ...]:
    """Check named sizes [m] and take the wall off both ends of each where they are outside sizes.

    Raises TankError for a size or wall that is not positive, or a wall that leaves no room.
    """
    for what, size in sizes.items():
        if not (np.isfinite(size) and size > 0.0):
            raise TankError(
                f"a {what} of {stated(size, 'length')} is not positive",
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
                f"a wall of {stated(wall, 'length')} leaves no room in a {what} of {stated(sizes[what], 'length')}"
            )
    return tuple(inner.values())


def size_notes(sizes: tuple[float, ...], outside: bool, wall: float) -> tuple[str, ...]:
    """The inside sizes (3,) [m] in words."""
    first = f"inside sizes {stated(sizes, 'length')} (length forward x width x height)"
    return (first, *outside_notes(outside, wall))


def outside_notes(outside: bool, wall: float) -> tuple[str, ...]:
    """What was taken off for the wall, in words."""
    return (
        (
            f"sizes were given over the outside; a wall of {stated(wall, 'length')} is taken off each side",
        )
        if outside
        else ()
    )


def make_tank(name: str, solid: Solid, notes: tuple[str, ...]) -> Tank:
    """Close a solid into a Tank, with what its facets do to the volume stated in words."""
    notes += facet_notes(solid)
    return Tank(name, solid.vertices, solid.faces, notes, solid.volume_error, datum=(0.0, 0.0, 0.0))


def nominal_box(tank: Tank) -> tuple[Array, Array]:
    """Rear right bottom and front left top corner (3,) [m] that places are measured from.

    The corners of round facets stand a little outside these, by as much at either end.
    """
    low = tank.corner
    return low, np.asarray(tank.upper - (low - tank.lower))


def facet_notes(solid: Solid) -> tuple[str, ...]:
    """What faceting does to the capacity and to part volumes, in words; nothing for plane walls."""
    if solid.partial_bound <= 1e-12 * solid.volume:
        return ()
    share = 100.0 * solid.partial_bound / solid.volume
    if abs(solid.volume_error) <= 1e-12 * solid.volume:
        whole = "the curved walls are facets of equal area: the capacity is exact"
    else:
        side = "more" if solid.volume_error > 0.0 else "less"
        off = told(abs(solid.volume_error), "volume", "up")
        whole = f"the facets of the curved walls hold up to {off} {side} than the curved tank"
    return (
        f"{whole}; the volume in any part of the tank is right within {share:.2g} % of the capacity",
    )
