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
# of the size: an opening that ends this close to both walls is as long as the tank
_OPEN_TOP = 0.05
_SEATED = 1e-6  # of the tank's size, as for ports on a wall in Tank.check_ports


def stretched(
    tank: Tank, ports: Sequence[Port], dimension: Dimension, factor: float
) -> tuple[Tank, tuple[Port, ...]]:
    """The tank stretched about its rear right bottom corner, its ports moved along with it.

    Each port keeps its distance from the nearer of the two walls along an axis that is stretched;
    one that stands in the middle (within 1 % of the size) stays in the middle. A port that sits on
    something inside the enclosing box (the mouth of a tube, a sloping roof) moves with that.
    The outline of an opening keeps its size, as its bore does, along an axis on which it is a hatch; where it
    is the open top of the tank, or sits in a wall aslant, it is stretched with the tank.
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
        port_there = replace(port, position=(x, y, z))
        moved.append(_outlined(tank, port, port_there, stretch) if port.rim else port_there)
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


def _outlined(tank: Tank, port: Port, moved: Port, stretch: Array) -> Port:
    """``moved`` with the outline of ``port``, as wide as it is in the stretched tank, and the circle round it."""
    rim = np.array(port.rim)
    size = tank.upper - tank.lower
    behind = rim.min(axis=0) + port.position - tank.lower
    ahead = tank.upper - port.position - rim.max(axis=0)
    with_tank = (behind <= _OPEN_TOP * size) & (ahead <= _OPEN_TOP * size)
    aslant = bool(np.ptp(rim, axis=0).min() > _SEATED * float(np.linalg.norm(size)))
    if aslant and _sits_inside(tank, np.array(port.position)):
        with_tank[:] = True  # or it would not lie in the wall any more
    wide = rim * np.where(with_tank, stretch, _fits(tank, port, moved, stretch))
    before, now = (float(np.linalg.norm(corners, axis=1).max()) for corners in (rim, wide))
    corners = tuple((a, b, c) for a, b, c in wide.tolist())
    return replace(moved, rim=corners, bore=(port.bore or 0.0) * now / before)


def _fits(tank: Tank, port: Port, moved: Port, stretch: Array) -> Array:
    """By how much an outline is narrowed along each axis (3,) so that walls hold it: 1 where there is room."""
    rim, upper = np.array(port.rim), tank.lower + (tank.upper - tank.lower) * stretch
    fits = np.ones(3)
    for reach, was, room in (
        (-rim.min(axis=0), port.position - tank.lower, moved.position - tank.lower),
        (rim.max(axis=0), tank.upper - port.position, upper - moved.position),
    ):
        room = np.maximum(room, 0.0) + np.maximum(reach - was, 0.0)  # as far out as it was
        fits = np.where(
            reach > room, np.minimum(fits, room / np.where(reach > 0.0, reach, 1.0)), fits
        )
    return fits


def _sits_inside(tank: Tank, place: Array) -> bool:
    """Whether a place (3,) is on a wall or part that is not on the enclosing box."""
    near = _SEATED * float(np.linalg.norm(tank.upper - tank.lower))
    on_box = np.abs(place - tank.lower).min() <= near or np.abs(tank.upper - place).min() <= near
    return not on_box and tank.distance_to_wall(place) <= near
