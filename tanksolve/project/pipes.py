"""Table of the tank file for balance pipes between parts of a tank."""

from typing import Annotated

from pydantic import Field

from tanksolve.geometry.links import BalancePipe
from tanksolve.project.quantities import Length, Places, Strict

__all__ = ["BalancePipeTable"]


class BalancePipeTable(Strict):
    """A pipe from one part of the tank to another, open both ways."""

    name: Annotated[str, Field(description="how you call it", min_length=1)]
    bore: Annotated[Length, Field(description="inner diameter", gt=0.0)]
    run: Annotated[
        Places,
        Field(
            description="centre line from mouth to mouth: two places or more, on the inside of a wall at "
            "either end"
        ),
    ]

    def build(self) -> BalancePipe:
        """Make the pipe. Raises TankError."""
        return BalancePipe(self.name, self.run, self.bore)
