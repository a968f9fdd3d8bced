"""The lowest and highest place of a port on an upright line: the inverse of the paper calculation."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.geometry.booleans import mesh_of
from tanksolve.geometry.zone import room_body
from tanksolve.kernel.attitude.direction import slope_heading_deg
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.paper import PaperHeight, paper_height
from tanksolve.questions.place.compartments import cutter_for
from tanksolve.questions.place.points import Opening, heights_at
from tanksolve.questions.place.pools import judged
from tanksolve.state.one_surface import JudgedBy, judged_by
from tanksolve.state.ways import Start

Array = NDArray[np.float64]

__all__ = ["Heights", "heights"]

_AROUND = 1e-3  # m: half the width of the column of the tank that is cut by the pools


@dataclass(frozen=True)
class Heights:
    """Lowest and highest place of a port on an upright line; z in the tank frame [m].

    Attributes
    ----------
    lowest_m, highest_m : solved; the floor or the roof at that spot is one of them.
    held_m : the bound of the one that the rule sets, on the safe side; with pools, which give no
        bound, the height found, a tolerance inside.
    set_by : the attitude that sets it; where the floor or the roof does, the one of least margin.
    path : with pools, the way that leads there.
    feasible : whether the lowest is not above the highest, bound taken.
    judged_by : as of :class:`~tanksolve.questions.place.place.Place`.
    attitudes : with pools, required attitudes judged, each way counted.
    paper : the height by the paper method at that attitude, moved by cover and opening.
    """

    x_m: float
    y_m: float
    lowest_m: float
    highest_m: float
    held_m: float
    set_by: SetBy
    path: str | None
    feasible: bool
    judged_by: JudgedBy
    attitudes: int
    paper: PaperHeight


def heights(
    tank: Tank,
    port: Port,
    fill: Fill | float,
    requirement: Requirement,
    x: float,
    y: float,
    tolerance: float = 1e-4,
    *,
    ports: Sequence[Port] = (),
    one_level: bool = False,
) -> Heights:
    """Find the lowest and highest place of ``port`` at (x, y) [m] that meets the requirement.

    tolerance : how far the bound may lie beyond the solved height [m].
    ports, one_level : as for :func:`~tanksolve.questions.place.place.place`.
    Raises PortError for a spot that is not in the tank, ValueError for a port without a rule.
    """
    opening = Opening.of(tank, port, fill)
    crossings = _crossings(tank.vertices, tank.faces, x, y)
    if not len(crossings):
        raise PortError(
            f"the spot {1000 * x:.1f}, {1000 * y:.1f} mm is not in the tank",
            next_step="measure from the rear wall and the right wall",
        )
    floor, roof = float(crossings[0]), float(crossings[-1])
    by = judged_by(tank, requirement, opening.volume, one_level=one_level)
    if by == "pools":
        start = Start.of(tank, ports, without=port.name)
        found = _by_pools(port.name, opening, requirement, start, (x, y), (floor, roof), tolerance)
    else:
        found = _by_one_level(port.name, opening, requirement, (x, y), (floor, roof), tolerance)
    slope, heading = math.radians(found.set_by.slope_deg), math.radians(found.set_by.heading_deg)
    on_paper = paper_height(tank, opening.volume, x, y, slope, heading)
    shift = float(opening.shift(np.array([found.up]))[0])
    on_paper = replace(on_paper, height_m=on_paper.height_m + shift)
    if by == "pools":
        on_paper = replace(on_paper, holds=False, why_not="walls part the liquid into pools")
    return Heights(
        x_m=x,
        y_m=y,
        lowest_m=found.low,
        highest_m=found.high,
        held_m=found.held,
        set_by=found.set_by,
        path=found.set_by.path,
        feasible=found.feasible,
        judged_by=by,
        attitudes=found.attitudes,
        paper=on_paper,
    )


@dataclass(frozen=True)
class _Found:
    low: float
    high: float
    held: float
    feasible: bool
    up: tuple[float, float, float]
    set_by: SetBy
    attitudes: int = 0


def _by_one_level(
    name: str,
    opening: Opening,
    requirement: Requirement,
    spot: tuple[float, float],
    ends: tuple[float, float],
    tolerance: float,
) -> _Found:
    floor, roof = ends
    found = heights_at(opening, requirement, *spot, tolerance)
    by = SetBy(name, *slope_heading_deg(np.array(found.up)))
    if opening.dry:
        held = max(floor, found.bound)
        return _Found(max(floor, found.root), roof, held, held <= roof, found.up, by)
    held = min(roof, found.bound)
    return _Found(floor, min(roof, found.root), held, held >= floor, found.up, by)


def _by_pools(
    name: str,
    opening: Opening,
    requirement: Requirement,
    start: Start,
    spot: tuple[float, float],
    ends: tuple[float, float],
    tolerance: float,
) -> _Found:
    """A thin column about the line is cut by the pools; of several stretches of it the one nearest
    the floor counts, for a dry port the one nearest the roof.
    """
    states = judged(opening, requirement, start, []).states
    box = np.array([[*spot, ends[0]], [*spot, ends[1]]])
    box += np.array([[-_AROUND, -_AROUND, -1.0], [_AROUND, _AROUND, 1.0]])
    stretches: list[tuple[float, float]] = []
    column = room_body(opening.tank, within=(box[0], box[1]))
    for piece in cutter_for(opening, states, tolerance).pieces(column):
        z = _crossings(*mesh_of(piece.body), *spot)
        stretches += [(float(a), float(b)) for a, b in zip(z[::2], z[1::2], strict=False)]
    low, high = (max if opening.dry else min)(stretches, default=ends)
    end = low if opening.dry else high
    place = np.array([*spot, end if stretches else ends[1 if opening.dry else 0]])
    check = judged(opening, requirement, start, [place])
    up = check.at.up[0]
    by = SetBy(name, *slope_heading_deg(up), check.way[0])
    if not stretches:  # how far beyond the floor or the roof it would have to be
        short = float(check.worst[0]) / float(up[2])
        low, high = (ends[1] - short, ends[1]) if opening.dry else (ends[0], ends[0] + short)
        end = low if opening.dry else high
    point = (float(up[0]), float(up[1]), float(up[2]))
    return _Found(low, high, end, bool(stretches), point, by, check.attitudes)


def _crossings(vertices: Array, faces: NDArray[np.int64], x: float, y: float) -> Array:
    """Where the upright line through (x, y) [m] goes through a closed mesh: z, ascending."""
    corners = vertices[faces]
    a, b, c = (corners[:, k, :2] - [x, y] for k in range(3))

    def cross(p: Array, q: Array) -> Array:
        return np.asarray(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])

    areas = np.stack([cross(b, c), cross(c, a), cross(a, b)], axis=1)
    total = areas.sum(axis=1)
    close = 1e-12 * float(np.ptp(vertices)) ** 2
    inside = (areas >= -close).all(axis=1) | (areas <= close).all(axis=1)
    inside &= np.abs(total) > close
    z = np.sort((areas[inside] / total[inside, None] * corners[inside, :, 2]).sum(axis=1))
    apart = np.diff(z, prepend=-np.inf) > 1e-9 * float(np.ptp(vertices))
    return np.asarray(z[apart])
