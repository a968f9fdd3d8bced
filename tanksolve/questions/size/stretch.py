"""A tank stretched along its axes, its ports moved along with it."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.model.link import mapped
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Dimension = Literal["length", "width", "height", "scale"]

__all__ = ["DIMENSIONS", "Dimension", "stretched"]

DIMENSIONS: dict[str, tuple[int, ...]] = {
    "length": (0,),
    "width": (1,),
    "height": (2,),
    "scale": (0, 1, 2),
}
_MIDDLE = 0.01  # of the size: this close to the middle a port is in the middle
_SEATED = 1e-6  # of the tank's size, as for ports on a wall in Tank.check_ports


def stretched(
    tank: Tank, ports: Sequence[Port], dimension: Dimension, factor: float
) -> tuple[Tank, tuple[Port, ...]]:
    """The tank stretched about its rear right bottom corner, its ports moved along with it.

    Each port keeps its distance from the nearer of the two walls along an axis that is stretched;
    one that stands in the middle (within 1 % of the size) stays in the middle. A port that sits on
    something inside the enclosing box (the mouth of a tube, a sloping roof) moves with that.
    Raises TankError for a factor that is not positive.
    """
    if not (math.isfinite(factor) and factor > 0.0):
        raise TankError(f"a factor of {factor:g} makes no tank", allowed="more than 0")
    stretch = np.ones(3)
    stretch[list(DIMENSIONS[dimension])] = factor
    vertices = tank.lower + (tank.vertices - tank.lower) * stretch
    moved = []
    for port in ports:
        x, y, z = (float(c) for c in _place(tank, np.array(port.position), dimension, stretch))
        corners = [np.add(port.position, corner) for corner in port.rim]
        moved_corners = [_place(tank, corner, dimension, stretch) - (x, y, z) for corner in corners]
        rim = tuple((float(a), float(b), float(c)) for a, b, c in moved_corners)
        moved.append(replace(port, position=(x, y, z), rim=rim))
    links = tuple(mapped(link, np.diag(stretch), tank.lower) for link in tank.links)
    return replace(tank, vertices=vertices, links=links), tuple(moved)


def _place(tank: Tank, place: Array, dimension: Dimension, stretch: Array) -> Array:
    """Where a port at ``place`` (3,) is in the stretched tank."""
    if _sits_inside(tank, place):
        return np.asarray(tank.lower + (place - tank.lower) * stretch)
    moved = place.copy()
    for axis in DIMENSIONS[dimension]:
        factor, size = stretch[axis], float(tank.upper[axis] - tank.lower[axis])
        behind, ahead = place[axis] - tank.lower[axis], tank.upper[axis] - place[axis]
        if abs(behind - ahead) <= 2.0 * _MIDDLE * size:
            moved[axis] = tank.lower[axis] + behind * factor
        elif ahead < behind:
            moved[axis] += size * (factor - 1.0)
    return moved


def _sits_inside(tank: Tank, place: Array) -> bool:
    """Whether a place (3,) is on a wall or part that is not on the enclosing box."""
    near = _SEATED * float(np.linalg.norm(tank.upper - tank.lower))
    on_box = np.abs(place - tank.lower).min() <= near or np.abs(tank.upper - place).min() <= near
    return not on_box and tank.distance_to_wall(place) <= near
