"""What a tank file describes, read and built."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.assemble import Parts, division
from tanksolve.geometry.compartments import Division
from tanksolve.model.attitude import mounting_rotation
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank

__all__ = ["Project"]


@dataclass(frozen=True)
class Project:
    """A tank with its ports, fill and liquid, as read from a tank file.

    Attributes
    ----------
    name : of the tank.
    tank : the wetted interior.
    ports : in the order of the file.
    fill : least and most liquid, or None where the file gives none.
    fill_unit : the unit in which the fill was written (L for a depth).
    pickup_rule : whether ``all`` pickups must be covered, or ``any`` one is enough.
    mounting : yaw, pitch and roll of the tank in the machine [rad].
    density : of the liquid [kg/m³], or None.
    liquid : what the liquid is called.
    source : the file.
    notes : what was understood, in words.
    parts : what the tank was assembled from.
    shell_is_mesh : whether the shell is a mesh, which may hold plates that nobody named.
    text : the file's own text, so that it can be saved with its comments.
    """

    name: str
    tank: Tank
    ports: tuple[Port, ...] = ()
    fill: Fill | None = None
    fill_unit: str = "L"
    pickup_rule: Literal["all", "any"] = "all"
    mounting: tuple[float, float, float] = (0.0, 0.0, 0.0)
    density: float | None = None
    liquid: str = "liquid"
    source: Path | None = None
    notes: tuple[str, ...] = ()
    parts: Parts | None = field(default=None, repr=False, metadata={"json": False})
    shell_is_mesh: bool = False
    text: str = field(default="", repr=False, metadata={"json": False})

    @property
    def rotation(self) -> NDArray[np.float64]:
        """Rotation (3, 3) from machine axes to tank axes; for :meth:`Attitude.mounted`."""
        return mounting_rotation(*self.mounting)

    def compartments(self) -> Division:
        """What the baffles divide the tank into, and the openings between; assembles the tank anew."""
        if self.parts is None:
            raise ValueError("the project was not made from parts")
        return division(self.parts)
