"""How a tank was filled: where a route of the machine begins."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["Start"]


class Start(NamedTuple):
    """How a tank was filled: places (S, 3) [m] it was poured in at, none for all bays at one level."""

    poured_at: list[Array]
    words: str

    @classmethod
    def of(cls, tank: Tank, ports: Sequence[Port]) -> "Start":
        """At the first filler; without one all bays stand at one level."""
        for port in ports:
            if port.kind is PortKind.FILLER:
                return cls([tank.seated(port.position)], f"poured in at '{port.name}'")
        return cls([], "all bays at one level, standing level")
