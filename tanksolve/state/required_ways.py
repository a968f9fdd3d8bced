"""Ways from level ground through the attitudes that a requirement asks for, as sets of samples.

Where walls part the liquid, what stands where depends on how the machine got there. So each sample
is reached in several ways, as in :mod:`tanksolve.state.ways`: straight from level ground; by
pitch first and by roll first; and on a turn, once round on a slope (every heading), or once round
the rim of the pitches and rolls required, each way.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.cells import SLOPE_HEADING
from tanksolve.model.requirement import Patch, Requirement
from tanksolve.state.ways import PITCH_FIRST, ROLL_FIRST, STRAIGHT, TURNS, half_way

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["COARSE", "CONFIRM", "FINE", "Fineness", "Ways", "required_ways"]

_LEVEL = np.array([0.0, 0.0, 1.0])
_TURN_STEP = math.radians(5.0)
_INWARD = 1e-9  # an attitude this close to a required one, seen from level ground, is required


class Fineness(NamedTuple):
    """How densely a requirement is sampled.

    rim : steps along its rim [rad]; stops : on the way straight to a point of the rim; turns :
    shares of the slope, or of the pitches and rolls, at which to turn once round; shift : of the
    rim's samples, in steps, so that two sets have few in common.
    """

    rim: float
    stops: int
    turns: tuple[float, ...]
    shift: float = 0.0


COARSE = Fineness(math.radians(15.0), 4, (0.5, 1.0))
FINE = Fineness(math.radians(5.0), 8, (0.2, 0.4, 0.6, 0.8, 1.0))
# between the samples of FINE, to try what was found at those
CONFIRM = Fineness(math.radians(10.0), 6, (0.3, 0.5, 0.7, 0.95), shift=0.25)


class Ways(NamedTuple):
    """Ways of equal length: their names (H,), up vectors (H, P, 3), which are required (H, P)."""

    names: tuple[str, ...]
    paths: Array
    required: Bools


def required_ways(requirement: Requirement, fineness: Fineness = COARSE) -> list[Ways]:
    """Ways to a sample of the required attitudes; each begins on level ground, as filled."""
    found = []
    for patch in requirement.patches:
        rim, required = _loop(patch, 1.0, fineness.rim, fineness.shift)
        found += _tilts(requirement, rim[required], fineness.stops)
        found += _turns(patch, fineness.turns)
    return found


def _loop(patch: Patch, share: float, step: float, shift: float = 0.0) -> tuple[Array, Bools]:
    """Once round, uphill wandering to the left: up vectors (N, 3), and which are required.

    Every heading on ``share`` of the slope, the headings required among them; or the rim of the
    range of pitch and roll shrunk to ``share``, from nose up over right side down.
    """
    if patch.chart == SLOPE_HEADING:
        slope = patch.a[0] + share * (patch.a[1] - patch.a[0])
        ends = [b % math.tau for b in patch.b] if patch.b[1] - patch.b[0] < math.tau - 1e-9 else []
        even = np.arange(0.0, math.tau - 1e-9, step) + shift * step
        heading = np.unique(np.concatenate([even, ends]))
        beyond = np.mod(heading - patch.b[0], math.tau)
        required = beyond <= patch.b[1] - patch.b[0] + 1e-12
        return patch.ups(np.full(len(heading), slope), heading), required
    (a0, a1), (b0, b1) = patch.a, patch.b
    corners = share * np.array([[a1, 0.5 * (b0 + b1)], [a1, b1], [a0, b1], [a0, b0], [a1, b0]])
    parts = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = max(1, math.ceil(float(np.abs(end - start).max()) / step))
        parts.append(start + (end - start) * ((np.arange(count) + shift) / count)[:, None])
    rim = np.vstack([corners, *parts]) if shift else np.vstack(parts)
    rim = rim[np.sort(np.unique(np.round(rim, 12), axis=0, return_index=True)[1])]
    return patch.ups(rim[:, 0], rim[:, 1]), np.ones(len(rim), bool)


def _required(requirement: Requirement, paths: Array) -> Bools:
    """Which attitudes (H, P, 3) are required, rounding at the rim left out of account."""
    flat = paths.reshape(-1, 3)
    inward = flat + _INWARD * _LEVEL
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    return np.asarray(requirement.holds(flat) | requirement.holds(inward)).reshape(paths.shape[:2])


def _tilts(requirement: Requirement, ends: Array, stops: int) -> list[Ways]:
    """Ways that end at each of ``ends`` (H, 3): straight, pitch first, roll first."""
    angle = np.arccos(np.clip(ends[:, 2], -1.0, 1.0))[:, None]
    share = np.linspace(0.0, 1.0, stops + 1)[None, :]
    flat = np.sin(share * angle)[..., None] * _unit(ends[:, :2])[:, None]
    straight = np.concatenate([flat, np.cos(share * angle)[..., None]], axis=2)
    straight[:, -1] = ends
    level = np.broadcast_to(_LEVEL, ends.shape)
    turned = [
        np.stack([level, half_way(name, ends), ends], axis=1) for name in (PITCH_FIRST, ROLL_FIRST)
    ]
    names = (PITCH_FIRST,) * len(ends) + (ROLL_FIRST,) * len(ends)
    found = []
    for name, paths in (((STRAIGHT,) * len(ends), straight), (names, np.concatenate(turned))):
        required = _required(requirement, paths)
        required[:, -1] = True
        found.append(Ways(name, paths, required))
    return found


def _unit(flat: Array) -> Array:
    size = np.linalg.norm(flat, axis=1, keepdims=True)
    return np.asarray(flat / np.where(size > 0.0, size, 1.0))


def _turns(patch: Patch, shares: tuple[float, ...]) -> list[Ways]:
    """Once round at each share, to the left and to the right, after the way straight to the nose-up side."""
    lines: dict[int, list[tuple[str, Array, Bools]]] = {}
    for share in shares:
        rim, required = _loop(patch, share, _TURN_STEP)
        if np.allclose(rim, _LEVEL):
            continue
        for name, order in zip(TURNS, (1, -1), strict=True):
            path = np.vstack([_LEVEL, rim[:1], rim[1:][::order], rim[:1]])
            kept = np.concatenate([[False], required[:1], required[1:][::order], required[:1]])
            lines.setdefault(len(path), []).append((name, path, kept))
    return [
        Ways(names, np.stack(paths), np.stack(kept))
        for names, paths, kept in (zip(*group, strict=True) for group in lines.values())
    ]
