"""Attitudes that liquid feels in a machine that brakes, speeds up or corners on a slope.

In tank axes the liquid stands as if up were ``g u0 + a`` (docs/conventions.md), with u0 of the
ground and ``a`` in the tank's floor plane. In projected slopes, x/z and y/z, that is u0's own plus
``a / (g u0_z)``. docs/theory/marks.md
"""

import itertools
import math
from collections.abc import Iterator

import numpy as np

from tanksolve.errors import RequirementError
from tanksolve.kernel.attitude.cells import PROJECTED, SLOPE_HEADING
from tanksolve.kernel.attitude.direction import projected_from_up, up_with_acceleration
from tanksolve.model.attitude import GRAVITY
from tanksolve.model.requirement import Patch, Requirement

__all__ = ["moving"]

Range = tuple[float, float]
_QUARTER = 0.5 * math.pi


def moving(
    ground: Requirement, brake: float = 0.0, accelerate: float = 0.0, corner: float = 0.0
) -> Requirement:
    """``ground`` with every acceleration up to these [m/s²] on it, in the worst combination.

    Accelerations act along the tank's floor: braking backwards, speeding up forwards, cornering
    to both sides. Quasi-static, as :meth:`Requirement.accelerations`.
    Every heading up to a slope and single attitudes are exact. A box in pitch and roll becomes the
    smallest box of projected angles that holds it, which errs on the safe side.

    Raises RequirementError for a negative acceleration, or an attitude felt past 89 degrees.
    """
    named = {"braking": brake, "speeding up": accelerate, "cornering": corner}
    said = ", ".join(f"{what} {size / GRAVITY:.3g} g" for what, size in named.items() if size)
    if min(named.values()) < 0.0:
        raise RequirementError("an acceleration cannot be negative", where=said)
    if not said:
        return ground
    along, across = (-brake, accelerate), (-corner, corner)
    patches: list[Patch] = []
    for patch in ground.patches:
        words = f"{patch.words}, with every combination of {said}"
        if patch.chart == SLOPE_HEADING and patch.a[0] < patch.a[1]:
            if patch.a[0] != 0.0 or patch.b[1] - patch.b[0] < math.tau:
                raise ValueError(
                    "a slope with accelerations must begin at nought, on every heading"
                )
            patches += _every_heading(patch.a[1], along, across, words)
        else:
            patches.append(_box(patch, along, across, words))
    return Requirement(tuple(patches), ground.source)


def _every_heading(slope: float, along: Range, across: Range, words: str) -> Iterator[Patch]:
    """A disc of projected slopes moved all over a rectangle: its rounded corners, and the rest.

    At a lesser slope both disc and rectangle are smaller, and lie inside.
    """
    reach = math.tan(slope)
    x, y = ([a / (GRAVITY * math.cos(slope)) for a in ends] for ends in (along, across))
    grown = [(ends[0] - reach, ends[1] + reach) for ends in (x, y)]
    for px, py in ((grown[0], y), (x, grown[1])):
        a, b = ((math.atan(ends[0]), math.atan(ends[1])) for ends in (px, py))
        yield Patch(PROJECTED, a, b, words)
    around = ((x[1], y[1]), (x[0], y[1]), (x[0], y[0]), (x[1], y[0]))
    for k, about in enumerate(around):
        yield Patch(
            SLOPE_HEADING, (0.0, slope), (k * _QUARTER, (k + 1) * _QUARTER), words, shift=about
        )


def _box(patch: Patch, along: Range, across: Range, words: str) -> Patch:
    """The smallest box of projected angles around a box of angles with accelerations.

    Each projected angle is greatest and least at a corner, as the box holds level ground.
    """
    corners = np.array(list(itertools.product(patch.a, patch.b)))
    felt = [
        up_with_acceleration(patch.ups(*corners.T), (ahead, aside, 0.0), GRAVITY)
        for ahead, aside in itertools.product(along, across)
    ]
    pitch, roll = projected_from_up(np.vstack(felt))
    a, b = ((float(angle.min()), float(angle.max())) for angle in (pitch, roll))
    return Patch(PROJECTED, a, b, words)
