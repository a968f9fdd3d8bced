"""How much liquid there is, and what it weighs."""

import math
from dataclasses import dataclass

from tanksolve.errors import FillError

__all__ = ["Fill"]


@dataclass(frozen=True)
class Fill:
    """The least and the most liquid that the tank will hold in use [m³].

    Ports that must stay wet are judged at ``least``, ports that must stay dry at ``most``.
    Raises FillError for a volume that is not positive, or least above most.
    """

    least: float
    most: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.least) and math.isfinite(self.most)):
            raise FillError("a fill is not a finite number")
        if self.least <= 0.0:
            raise FillError(
                f"a fill of {1000 * self.least:g} L is not positive", allowed="more than 0 L"
            )
        if self.least > self.most:
            raise FillError(
                f"the least fill, {1000 * self.least:g} L, is above the most, {1000 * self.most:g} L",
                next_step="write the smaller first, as in 30L..42L",
            )

    @classmethod
    def of(cls, fill: "Fill | float") -> "Fill":
        """Take a Fill as it is, a number [m³] as both least and most. Raises FillError."""
        if isinstance(fill, str):
            raise FillError(
                f"a fill of {fill!r} is a text",
                allowed="a volume in m³, or a Fill",
                next_step=f"tanksolve.units.parse_volume({fill!r}) reads it",
            )
        return fill if isinstance(fill, Fill) else cls(float(fill), float(fill))

    def check(self, capacity: float) -> None:
        """Refuse a fill above the tank's capacity [m³]. Raises FillError."""
        if self.most > capacity * (1.0 + 1e-12):
            raise FillError(
                f"a fill of {1000 * self.most:.3f} L is more than the tank holds",
                allowed=f"up to {1000 * capacity:.3f} L",
                next_step="check the fill's unit and the tank's size",
            )
