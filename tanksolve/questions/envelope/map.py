"""Margins over pitch and roll, on a grid: what the pitch-roll picture is drawn from."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_inclinometer
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]

__all__ = ["MarginMap", "margin_map"]


@dataclass(frozen=True, eq=False)
class MarginMap:
    """Margins over pitch and roll as an inclinometer reads them.

    Attributes
    ----------
    pitch_deg, roll_deg : (P,), (R,)   nose up +, right side down +.
    margin_m : (P, R) [m]   NaN where no attitude has such a pair of readings.
    port_index : (P, R) int   index into ``ports`` of the one that sets the margin; -1 at NaN.
    ports : names.
    lead_m : (ports, P, R) [m]   by how much each port is the one that sets the margin: positive
        where it does, nought where it hands over to another, NaN as ``margin_m``.
    """

    pitch_deg: Array
    roll_deg: Array
    margin_m: Array
    port_index: NDArray[np.int64]
    ports: tuple[str, ...]
    lead_m: Array


def margin_map(conditions: Conditions, to_deg: float, steps: int = 30) -> MarginMap:
    """Margins on a grid of inclinometer readings out to ``to_deg`` both ways (2 steps + 1 square)."""
    readings = np.radians(np.linspace(-to_deg, to_deg, 2 * steps + 1))
    pitch, roll = np.meshgrid(readings, readings, indexing="ij")
    real = np.sin(pitch) ** 2 + np.sin(roll) ** 2 <= 1.0
    up = np.zeros((*pitch.shape, 3))
    up[..., 2] = 1.0
    up[real] = up_from_inclinometer(pitch[real], roll[real])
    margins = conditions.margins(up)
    margin, port = conditions.group_margins(margins)
    lead = _leads(margins, conditions.groups)
    names = tuple(p.name for p in conditions.ports)
    degrees = np.degrees(readings)
    return MarginMap(
        degrees,
        degrees,
        np.where(real, margin, np.nan),
        np.where(real, port, -1),
        names,
        np.where(real, lead, np.nan),
    )


def _leads(margins: Array, groups: Sequence[tuple[int, ...]]) -> Array:
    """By how much each port sets the margin (ports, ...) [m], from port margins (..., ports).

    A port sets it where it is the best of its group and its group is the worst of all. It leads by
    the lesser of what it has over the next best of its group and what the next worst group has
    over its own.
    """
    best = np.stack([margins[..., list(group)].max(axis=-1) for group in groups])
    out = np.full((margins.shape[-1], *margins.shape[:-1]), np.inf)
    for k, group in enumerate(groups):
        others = np.delete(best, k, axis=0).min(axis=0, initial=np.inf) - best[k]
        for port in group:
            mates = [mate for mate in group if mate != port]
            over_mates = margins[..., port] - margins[..., mates].max(axis=-1, initial=-np.inf)
            out[port] = np.minimum(out[port], np.minimum(others, over_mates))
    return out
