"""The lowest and highest place of a port on an upright line: the inverse of the paper calculation."""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.attitude.direction import slope_heading_deg
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.paper import PaperHeight, paper_height
from tanksolve.questions.place.points import Opening, heights_at
from tanksolve.result import Result
from tanksolve.state.one_surface import one_surface_certain
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = ["Heights", "heights"]

_HAIR = 1e-6  # of a stretch of the line: how far above the floor it is begun
_CLOSE_ENOUGH = 5e-4  # m: where walls part the liquid closer bounds cost too much


@dataclass(frozen=True, eq=False, repr=False)
class Heights(Result):
    """Lowest and highest place of a port on an upright line; z in the tank frame [m].

    Attributes
    ----------
    lowest_m, highest_m : solved; the floor or the roof at that spot is one of them.
    held_m : the bound of the one that the rule sets, on the safe side: proved, whatever the machine
        did before.
    set_by : the attitude that sets it; where the floor or the roof does, the one of least margin.
    feasible : whether the lowest is not above the highest, bound taken.
    one_surface : as of :class:`~tanksolve.questions.place.place.Place`.
    paper : the height by the paper method at that attitude, moved by cover and opening.
    """

    x_m: float
    y_m: float
    lowest_m: float
    highest_m: float
    held_m: float
    set_by: SetBy
    feasible: bool
    one_surface: bool
    paper: PaperHeight


def heights(
    tank: Tank,
    port: Port,
    fill: Fill | float,
    requirement: Requirement,
    x: float,
    y: float,
    tolerance: float = 1e-4,
) -> Heights:
    """Find the lowest and highest place of ``port`` at (x, y) [m] that meets the requirement.

    tolerance : how far the bound may lie beyond the solved height [m]; half a millimetre at least
        where walls may part the liquid, and wider where that would cost too much.
    Of several stretches of the line, with plates between, the one nearest the floor that holds
    counts, for a dry port the one nearest the roof.
    Raises PortError for a spot that is not in the tank, ValueError for a port without a rule.
    """
    opening = Opening.of(tank, port, fill)
    crossings = _crossings(tank.vertices, tank.faces, x, y)
    if not len(crossings):
        raise PortError(
            f"the spot {stated((x, y), 'length', ', ')} is not in the tank",
            next_step="measure from the rear wall and the right wall",
        )
    floor, roof = float(crossings[0]), float(crossings[-1])
    certain = one_surface_certain(tank, requirement, opening.volume)
    stretches = [(floor, roof)]
    if not certain:
        middle = np.array([[x, y, 0.5 * (a + b)] for a, b in pairwise(crossings)])
        inside = np.abs(tank.winding(middle)) > 0.5
        stretches = [ends for ends, wet in zip(pairwise(crossings), inside, strict=True) if wet]
    for stretch in reversed(stretches) if opening.dry else stretches:
        found = _on(opening, requirement, (x, y), stretch, tolerance, parted=not certain)
        if found.feasible:
            break
    by = SetBy(port.name, *slope_heading_deg(np.array(found.up)))
    slope, heading = math.radians(by.slope_deg), math.radians(by.heading_deg)
    on_paper = paper_height(tank, opening.volume, x, y, slope, heading)
    shift = float(opening.shift(np.array([found.up]))[0])
    on_paper = replace(on_paper, height_m=on_paper.height_m + shift)
    if not certain:
        on_paper = replace(on_paper, holds=False, why_not="walls part the liquid into pools")
    return Heights(
        x_m=x,
        y_m=y,
        lowest_m=found.low,
        highest_m=found.high,
        held_m=found.held,
        set_by=by,
        feasible=found.feasible,
        one_surface=certain,
        paper=on_paper,
    )


@dataclass(frozen=True)
class _Found:
    low: float
    high: float
    held: float
    feasible: bool
    up: tuple[float, float, float]


def _on(
    opening: Opening,
    requirement: Requirement,
    spot: tuple[float, float],
    stretch: tuple[float, float],
    tolerance: float,
    *,
    parted: bool,
) -> _Found:
    """Judge a stretch of the line that hangs together, from its floor to its roof [m].

    Liquid over any place of it stands as over its foot, once it stands above that place.
    """
    floor, roof = stretch
    if parted:
        foot = np.array([*spot, floor + _HAIR * (roof - floor)])
        opening, tolerance = opening.at(foot), max(tolerance, _CLOSE_ENOUGH)
    found = heights_at(opening, requirement, *spot, tolerance)
    if opening.dry:
        held = max(floor, found.bound)
        return _Found(max(floor, found.root), roof, held, held <= roof, found.up)
    held = min(roof, found.bound)
    return _Found(floor, min(roof, found.root), held, held >= floor, found.up)


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
