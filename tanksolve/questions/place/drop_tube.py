"""A drop tube: straight in from a wall, then down (or up) to the opening."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Wall = Literal["rear", "front", "right", "left", "top"]

__all__ = ["DropTube", "TubeLimits", "Wall"]

_INWARD: dict[str, tuple[int, int]] = {
    "rear": (0, 1), "front": (0, -1), "right": (1, 1), "left": (1, -1), "top": (2, -1),
}  # fmt: skip


@dataclass(frozen=True)
class TubeLimits:
    """From where a tube comes and how far it may reach [m].

    Attributes
    ----------
    wall : rear, front, right, left or top.
    height : of the hole in a side wall, above the floor; not used for the top.
    run : how far in from the wall, at most.
    drop : how far below the hole (from the top: below the roof), at most.

    Raises PortError for an unknown wall, or a reach that is not positive.
    """

    wall: Wall
    height: float = 0.0
    run: float = 0.0
    drop: float = 0.0

    def __post_init__(self) -> None:
        if self.wall not in _INWARD:
            raise PortError(f"'{self.wall}' is no wall", allowed=", ".join(_INWARD))
        if self.drop < 0.0 or (self.wall != "top" and not self.run > 0.0):
            raise PortError(
                "a tube that reaches nowhere",
                allowed="a run above 0 from a side wall, a drop of 0 or more",
            )

    def box(self, tank: Tank) -> tuple[Array, Array]:
        """Corners of the box that the opening can be in."""
        lower, upper = tank.lower.copy(), tank.upper.copy()
        axis, inward = _INWARD[self.wall]
        if self.wall == "top":
            lower[2] = max(float(lower[2]), float(upper[2]) - self.drop)
            return lower, upper
        hole = float(tank.corner[2]) + self.height
        lower[2], upper[2] = max(float(lower[2]), hole - self.drop), min(float(upper[2]), hole)
        if inward > 0:
            upper[axis] = min(float(upper[axis]), float(lower[axis]) + self.run)
        else:
            lower[axis] = max(float(lower[axis]), float(upper[axis]) - self.run)
        return lower, upper


@dataclass(frozen=True)
class DropTube:
    """A proposal: where the tube leaves the tank, how far it runs in, and how far it drops [m].

    Attributes
    ----------
    leaves_m : place of the hole, tank frame.
    run_m, drop_m : straight in from the wall, then down to the opening.
    clear : whether the tube's centre line stays inside the liquid space.
    """

    wall: Wall
    leaves_m: tuple[float, float, float]
    run_m: float
    drop_m: float
    clear: bool

    @classmethod
    def to(cls, tank: Tank, place: Array, limits: TubeLimits | None) -> "DropTube":
        """The tube to ``place`` (3,); through the top, straight down, where nothing is said."""
        wall: Wall = limits.wall if limits else "top"
        axis, inward = _INWARD[wall]
        hole = place.copy()
        hole[axis] = tank.lower[axis] if inward > 0 else tank.upper[axis]
        if limits is not None and wall != "top":
            hole[2] = tank.corner[2] + limits.height
        knee = np.array([place[0], place[1], hole[2]])
        run = 0.0 if wall == "top" else float(abs(place[axis] - hole[axis]))
        share = np.linspace(0.01, 1.0, 25)[:-1, None]
        line = np.vstack([hole + share * (knee - hole), knee + share * (place - knee)])
        line = line[np.linalg.norm(line - hole, axis=1) > 1e-6]
        clear = bool((np.abs(tank.winding(line)) > 0.5).all()) if len(line) else True
        x, y, z = (float(c) for c in hole)
        return cls(wall, (x, y, z), run, float(hole[2] - place[2]), clear)
