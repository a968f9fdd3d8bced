"""A tank with its ports and fill, read from the words of the command line, and told back as understood."""

from dataclasses import fields
from typing import TYPE_CHECKING

from tanksolve.project.case import TankCase, mesh_body, mesh_chord, read_tank_case

if TYPE_CHECKING:
    from tanksolve.geometry.intake import Intake
    from tanksolve.present.understood import Inputs
    from tanksolve.project.tank_words import TankWords

__all__ = ["Case", "mesh_body", "mesh_chord", "read_case"]


class Case(TankCase):
    """What was read, which can be told back in a document."""

    @property
    def inputs(self) -> "Inputs":
        """What was understood, for a document."""
        from tanksolve.present.understood import Inputs

        return Inputs(
            self.wall_tank,
            self.wall_ports,
            None if self.read_fill is None else self.read_fill.fill,
            "" if self.read_fill is None else self.read_fill.words,
            self.notes,
            self.opening_faults,
            self.roofs,
        )


def read_case(
    words: "TankWords", examined: "Intake | None" = None, *, limits: bool = False
) -> Case:
    """Read tank, ports and fill; see :func:`tanksolve.project.case.read_tank_case`.

    limits : whether limits will be searched, so that a first run may well compile in two processes.
    """
    case = read_tank_case(words, examined)
    if limits and not case.tank.is_convex:
        from tanksolve.kernel.pools import ahead

        ahead.start(case.tank.graph, case.tank.link_stations)
    return Case(*(getattr(case, f.name) for f in fields(case)))
