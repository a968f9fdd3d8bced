"""Whether one free surface is certain at every required attitude, so that one level is right."""

import math
from typing import Literal

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

JudgedBy = Literal["one surface", "pools", "one level"]

__all__ = ["CertainAttitudes", "JudgedBy", "judged_by", "one_surface_certain"]

_SMALLEST = math.radians(0.1)  # a cell of attitudes that is not proved at this size is given up
_HAIR = 1e-7  # rad: at the very symmetric attitudes of a symmetric tank two pits tie


def judged_by(tank: Tank, requirement: Requirement, volume: float, *, one_level: bool) -> JudgedBy:
    """How liquid of ``volume`` [m³] or more is judged: by pools wherever one surface is not certain."""
    if tank.is_convex or one_surface_certain(tank, requirement, volume):
        return "one surface"
    return "one level" if one_level else "pools"


def one_surface_certain(tank: Tank, requirement: Requirement, volume: float) -> bool:
    """Whether liquid of ``volume`` [m³] or more has one surface at all required attitudes.

    True is proved, whatever happened before (docs/theory/pooled_envelope.md); False proves nothing.
    More liquid covers what less covers, so proof for a volume is proof for all above it.
    """
    volume = min(volume, tank.capacity * (1.0 - 1e-9))
    if volume <= 0.0:
        return False
    cells = requirement.cells()
    while len(cells.box):
        wider = cells.box.copy()
        wider[:, 3] += _HAIR
        cells = cells._replace(box=wider)
        proved, chord = _proved(tank, cells, volume)
        if (~proved & (chord < _SMALLEST)).any():
            return False
        cells = attitude_cells.halves(cells.at(~proved))
    return True


def _proved(tank: Tank, cells: attitude_cells.Cells, volume: float) -> tuple[Bools, Array]:
    """Whether one surface is certain all over each of C cells, and the chord around each one's middle."""
    up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
    chord = np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1)
    centre = np.array([[*tank.centre, 0.0, 0.0, 1.0, 0.0, 0.0]])
    slack = sum(hull_slack(*tank.span, centre, up, hulls, dry=dry) for dry in (False, True))
    low = levels(tank.tree, up, volume)[0] - slack
    return one_plane_over(tank.graph, tank.pit_cones, up, chord, low, tank.pipe_stations), chord


class CertainAttitudes:
    """Where liquid of ``volume`` [m³] or more has one surface, whatever happened before.

    Attitudes lie in cells of ``STEP`` by ``STEP`` of the two projected angles; a cell is proved when one of
    its attitudes is first asked for.
    """

    STEP = math.radians(0.25)

    def __init__(self, tank: Tank, volume: float) -> None:
        self.tank = tank
        self.volume = min(volume, tank.capacity * (1.0 - 1e-9))
        self.everywhere = tank.is_convex
        side = math.ceil(math.pi / self.STEP)
        self._found = np.full((side, side), -1, np.int8)

    def at(self, up: Array, volume: Array | None = None) -> Bools:
        """Whether it is certain at each of ``up`` (N, 3): (N,). False proves nothing.

        volume : (N,) [m³], another at each attitude, which is then looked at by itself.
        """
        if self.everywhere:
            return np.ones(len(up), bool)
        if volume is not None:
            most = self.tank.capacity * (1.0 - 1e-9)
            hair = _HAIR * float((self.tank.upper - self.tank.lower).max())
            low = levels(self.tank.tree, up, np.minimum(volume, most))[0] - 2.0 * hair
            chord = np.full(len(up), _HAIR)
            graph, cones = self.tank.graph, self.tank.pit_cones
            return one_plane_over(graph, cones, up, chord, low, self.tank.pipe_stations)
        found = np.zeros(len(up), bool)
        if self.volume <= 0.0:
            return found
        above = np.flatnonzero(up[:, 2] > 1e-6)
        z = up[above, 2]
        across = [
            np.floor((np.arctan2(up[above, k], z) + 0.5 * math.pi) / self.STEP).astype(int)
            for k in (0, 1)
        ]
        missing = np.unique(np.stack(across)[:, self._found[*across] < 0], axis=1)
        if missing.size:
            corner = missing.T * self.STEP - 0.5 * math.pi
            ends = np.stack([corner, corner + self.STEP], axis=2).reshape(-1, 4)
            ends = np.clip(ends, -0.5 * math.pi + _HAIR, 0.5 * math.pi - _HAIR)
            chart = np.full(len(ends), attitude_cells.PROJECTED, np.int8)
            self._found[*missing] = _proved(
                self.tank, attitude_cells.Cells(chart, ends), self.volume
            )[0]
        found[above] = self._found[*across] > 0
        return found
