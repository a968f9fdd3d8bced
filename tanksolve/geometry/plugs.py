"""Plugs of a tank's open ports, in the tank frame, and the ports that they become."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.caps import Opening
from tanksolve.geometry.intake import Conventions
from tanksolve.geometry.outline import outline_corners
from tanksolve.model.ports import FACINGS, Port, PortKind
from tanksolve.unit_systems import told

Array = NDArray[np.float64]

__all__ = ["Plug", "plugs_of"]

_SQUARE_ON = 0.999  # cosine from which a direction goes by its name
_UPRIGHT = 0.5  # cosine from which liquid that leaves over a sill rises along its facing, at slopes below 60°
_HAIR = 1e-5  # of the reach of an opening
_AS_A_CIRCLE = 1.006  # of the circle of the same area: from 24 sides a rim is taken as that circle


@dataclass(frozen=True)
class Plug:
    """A flat cap over an open port.

    Attributes
    ----------
    name : as the user calls it, else ``opening 1``, ``opening 2``, ... the greatest first.
    centre : [m], tank frame; bore : diameter [m] of the circle of the opening's area, or of the circle
        round it where it is not ``round``.
    facing : unit vector out of the tank; gap : width [m] of a gap that runs all round, else 0.
    rim : corners of its outline, from the centre [m]; empty where it is the circle of its bore.

    ``bore`` is for words about its shape: a port of it asks for liquid by ``across``.
    """

    name: str
    centre: tuple[float, float, float]
    bore: float
    facing: tuple[float, float, float]
    round: bool = True
    gap: float = 0.0
    rim: tuple[tuple[float, float, float], ...] = ()

    @property
    def shape(self) -> str:
        """Its size, and what it is where it is no round hole."""
        size = told(self.bore, "length")
        if self.gap:
            return f"a gap {told(self.gap, 'length')} wide all round, {size} across"
        return f"bore {size}" if self.round else f"not round, {size} across at its widest"

    @property
    def across(self) -> float:
        """Diameter [m] of the circle round its outline, as ``Port.bore`` of one; its bore where it has none.

        A hole of few sides is a circle in words, of the same area: its corners lie farther out.
        """
        if not self.rim:
            return self.bore
        reach = 2.0 * float(np.linalg.norm(self.rim, axis=1).max())
        return reach if self.round else max(reach, self.bore)

    @property
    def words(self) -> str:
        """Name, place, size and facing for people."""
        return (
            f"{self.name}: {self.shape} at "
            f"({', '.join(told(c, 'length') for c in self.centre)}), "
            f"facing {_facing_words(self.facing)}"
        )

    def port(self, kind: PortKind) -> Port:
        """Make the opening a port of the given kind: centre, ``across``, facing and outline are the hole's."""
        return Port(
            self.name, kind, self.centre, bore=self.across, facing=self.facing, rim=self.rim
        )


def plugs_of(
    openings: Sequence[Opening], conventions: Conventions, names: Sequence[str] = ()
) -> tuple[Plug, ...]:
    """Turn openings (the file's frame) into plugs (the tank's), with the user's names if given."""
    plugs = []
    for k, opening in enumerate(openings):
        centre = conventions.to_tank(np.asarray([opening.centre]))[0].tolist()
        facing = (conventions.rotation @ np.asarray(opening.facing)).tolist()
        corners = _outline(opening, conventions)
        if opening.sill and facing[2] > _UPRIGHT:
            reach = opening.reach * conventions.scale
            corners = _before_the_sill(corners, np.asarray(centre), np.asarray(facing), reach)
        elif opening.across is not None:
            corners = np.vstack([corners, _outline(opening.across, conventions)])
            centre, facing = _lower_side(
                centre, facing, conventions.to_tank(np.asarray([opening.across.centre]))[0]
            )
        rim = corners - np.asarray(centre)
        plain = opening.round and opening.reach <= _AS_A_CIRCLE * 0.5 * opening.bore
        plugs.append(
            Plug(
                names[k] if names else f"opening {k + 1}",
                (centre[0], centre[1], centre[2]),
                opening.bore * conventions.scale,
                (facing[0], facing[1], facing[2]),
                opening.round,
                opening.gap * conventions.scale,
                () if plain else tuple((x, y, z) for x, y, z in rim.tolist()),
            )
        )
    return tuple(plugs)


def _outline(opening: Opening, conventions: Conventions) -> Array:
    """Corners of its outline (K, 3) [m]: found in the tank's frame, so that how the file lies does not matter."""
    facing = conventions.rotation @ np.asarray(opening.facing)
    return outline_corners(conventions.to_tank(np.asarray(opening.rim)), facing)


def _before_the_sill(corners: Array, centre: Array, facing: Array, reach: float) -> Array:
    """Corners a hair inside and twice as far below, where what is over the sill has not run out yet.

    Straight below a corner itself the gap falls away outwards, in which no liquid stands that is still the tank's.
    """
    inwards = centre - corners
    inwards /= np.linalg.norm(inwards, axis=1)[:, None]
    return np.asarray(corners + _HAIR * reach * (inwards - 2.0 * facing))


def _lower_side(
    centre: list[float], facing: list[float], other: Array
) -> tuple[list[float], list[float]]:
    """Of the two sides of a gap all round the lower one, which liquid reaches first, facing the other."""
    across = np.asarray(centre) - other
    low = centre if across[2] <= 0.0 else other.tolist()
    upwards = float(np.dot(across if low is not centre else -across, facing))
    return low, facing if upwards >= 0.0 else [-c for c in facing]


def _facing_words(facing: tuple[float, float, float]) -> str:
    for name, axis in FACINGS.items():
        if float(np.dot(facing, axis)) > _SQUARE_ON:
            return name
    x, y, z = facing
    return f"({x:.2f} forward, {y:.2f} left, {z:.2f} up)"
