"""Whether one free surface is certain at every required attitude, so that one level is right."""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import hull_slack
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.topology.one_surface import one_plane_over
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["one_surface_certain", "one_surface_over"]

_SMALLEST = math.radians(0.1)  # a cell of attitudes that is not proved at this size is given up
_HAIR = 1e-7  # rad: at the very symmetric attitudes of a symmetric tank two pits tie
_CHORD_HAIR = 1e-5  # the same for cells that may be single attitudes


def one_surface_over(tank: Tank, volume: Array | float, up: Array, hulls: Array) -> Bools:
    """Whether ``volume`` [m³], one or (D,), or more has one surface all over each hull about ``up``: (D,).

    up : (D, 3); hulls : (D, J, 3). Whatever happened before; False proves nothing.
    """
    chord = np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1) + _CHORD_HAIR
    centre = np.array([[*tank.centre, 0.0, 0.0, 1.0, 0.0, 0.0]])
    low = levels(tank.tree, up, volume)[0]
    for dry in (False, True):
        low -= hull_slack(*tank.span, centre, up, hulls, dry=dry)
    return one_plane_over(tank.graph, tank.pit_cones, up, chord, low, tank.pipe_stations)


def one_surface_certain(tank: Tank, requirement: Requirement, volume: float) -> bool:
    """Whether liquid of ``volume`` [m³] or more has one surface at all required attitudes.

    True is proved, whatever happened before (docs/theory/pooled_envelope.md); False proves nothing.
    More liquid covers what less covers, so proof for a volume is proof for all above it.
    """
    volume = min(volume, tank.capacity * (1.0 - 1e-9))
    if tank.is_convex:
        return True
    if volume <= 0.0:
        return False
    cells = requirement.cells()
    while len(cells.box):
        wider = cells.box.copy()
        wider[:, 3] += _HAIR
        cells = cells._replace(box=wider)
        up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
        open_ = np.logical_not(one_surface_over(tank, volume, up, hulls))
        chord = np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1)
        if (open_ & (chord < _SMALLEST)).any():
            return False
        cells = attitude_cells.halves(cells.at(open_))
    return True
