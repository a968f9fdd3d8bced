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

__all__ = ["one_surface_certain"]

_SMALLEST = math.radians(0.1)  # a cell of attitudes that is not proved at this size is given up
_HAIR = 1e-7  # rad: at the very symmetric attitudes of a symmetric tank two pits tie


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
    centre = np.array([[*tank.centre, 0.0, 0.0, 1.0, 0.0, 0.0]])
    while len(cells.box):
        wider = cells.box.copy()
        wider[:, 3] += _HAIR
        cells = cells._replace(box=wider)
        up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
        chord = np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1)
        slack = sum(hull_slack(*tank.span, centre, up, hulls, dry=dry) for dry in (False, True))
        low = levels(tank.tree, up, volume)[0] - slack
        open_ = np.logical_not(
            one_plane_over(tank.graph, tank.pit_cones, up, chord, low, tank.pipe_stations)
        )
        if (open_ & (chord < _SMALLEST)).any():
            return False
        cells = attitude_cells.halves(cells.at(open_))
    return True
