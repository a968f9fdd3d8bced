"""Tanks that stand side by side, as one shell of several bodies."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tanksolve.errors import TankError
from tanksolve.geometry.booleans import to_body
from tanksolve.geometry.solids import Solid
from tanksolve.model.tank import Tank

__all__ = ["beside"]

_CLEAR = 1e-6  # m


def beside(first: Tank, others: Sequence[tuple[str, tuple[float, float, float], Tank]]) -> Tank:
    """One tank of ``first`` and further bodies, each a name, its place [m] and its shell.

    A place is that of a body's own rear right bottom corner, from that of the first. Raises TankError
    for a place behind, right of or below the first, and for bodies that touch.
    """
    whole = first
    for name, at, body in others:
        where = f"body '{name}'"
        if min(at) < 0.0:
            raise TankError(
                "it stands behind, right of or below the first tank",
                where=where,
                allowed="places from 0 mm up",
                next_step="give the rearmost, rightmost and lowest body as [tank]",
            )
        moved = body.vertices + np.asarray(at)
        gap = to_body(Solid(whole.vertices, whole.faces)).min_gap(
            to_body(Solid(moved, body.faces)), 2.0 * _CLEAR
        )
        if gap < _CLEAR:
            raise TankError(
                "it touches or overlaps another body",
                where=where,
                next_step="leave the thickness of the walls between them",
            )
        errors = (whole.volume_error, body.volume_error)
        whole = replace(
            whole,
            vertices=np.vstack([whole.vertices, moved]),
            faces=np.vstack([whole.faces, body.faces + len(whole.vertices)]),
            notes=(*whole.notes, *(f"{where}: {note}" for note in body.notes)),
            volume_error=None if None in errors else sum(e or 0.0 for e in errors),
        )
    return whole
