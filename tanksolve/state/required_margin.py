"""The least margin of a tank's ports over a whole requirement, at a given fill."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.requirement import Requirement
from tanksolve.state.conditions import Conditions
from tanksolve.state.worst_case import Worst, worst_case

Array = NDArray[np.float64]

__all__ = ["least_margin", "margin_loss"]


def margin_loss(conditions: Conditions, up: Array, hulls: Array | None = None) -> Array:
    """The tank's margin with its sign turned (D,) [m] at ``up`` (D, 3), one free surface taken.

    hulls : (D, J, 3) where the value must be at least the loss all over each hull.
    """
    if hulls is not None:
        return np.asarray(-conditions.group_margins(conditions.margins_within(up, hulls))[0])
    return np.asarray(-conditions.group_margins(conditions.margins(up[:, None, :]))[0][:, 0])


def least_margin(conditions: Conditions, requirement: Requirement, tolerance: float) -> Worst:
    """Worst loss of margin over a requirement [m]: solved at ``up``, and bounded.

    tolerance : how far the bound may lie beyond the value [m].
    """

    def loss(up: Array, hulls: Array | None = None) -> Array:
        return margin_loss(conditions, up, hulls)

    return worst_case(requirement, loss, loss, tolerance)
