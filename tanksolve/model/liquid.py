"""How much liquid there is, and what it weighs."""

import math
from dataclasses import dataclass

from tanksolve.errors import FillError
from tanksolve.unit_systems import stated, told

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
                f"a fill of {stated(self.least, 'volume')} is not positive", allowed="more than 0 L"
            )
        if self.least > self.most:
            raise FillError(
                f"the least fill, {stated(self.least, 'volume')}, is above "
                f"the most, {stated(self.most, 'volume')}",
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
                f"a fill of {stated(self.most, 'volume')} is more than the tank holds",
                allowed=f"up to {told(capacity, 'volume', 'down')}",
                next_step="check the fill's unit and the tank's size",
            )
