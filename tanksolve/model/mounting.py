"""A tank fixed askew in its machine, seen in the machine's axes."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.link import mapped
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank

__all__ = ["mount"]


def mount(
    tank: Tank, ports: Sequence[Port], rotation: NDArray[np.float64]
) -> tuple[Tank, tuple[Port, ...]]:
    """Turn a tank and its ports from tank axes into machine axes.

    rotation : (3, 3) from :func:`tanksolve.model.attitude.mounting_rotation`, machine axes to
    tank axes. Attitudes of the machine then apply to the result as they are. Its walls stand askew,
    so that places are told from the rear, right and lowest end of its enclosing box.
    """
    back = np.asarray(rotation, float).T
    links = tuple(mapped(link, back) for link in tank.links)
    turned = replace(tank, vertices=tank.vertices @ back.T, datum=None, links=links)
    return turned, tuple(_turn(port, back) for port in ports)


def _turn(port: Port, back: NDArray[np.float64]) -> Port:
    x, y, z = (float(c) for c in back @ np.asarray(port.position))
    if port.facing is None:
        return replace(port, position=(x, y, z))
    i, j, k = (float(c) for c in back @ np.asarray(port.facing))
    rim = tuple((a, b, c) for a, b, c in (np.array(port.rim).reshape(-1, 3) @ back.T).tolist())
    return replace(port, position=(x, y, z), facing=(i, j, k), rim=rim)
