"""Where a pump's flow asks for more liquid over a pickup than limits were found with."""

from collections.abc import Iterator, Sequence

import numpy as np

from tanksolve.model.ports import Port, PortKind
from tanksolve.present.document import Quantity, Said, say
from tanksolve.unit_systems import told

__all__ = ["cover_cautions", "cover_option"]

_HAIR = 1e-6  # m: what is typed as told is kept


def cover_option(metres: float) -> str:
    """A cover [m] as it is typed in a port, rounded up: ``cover=141mm``."""
    return "cover=" + told(metres, "rough length", "up").replace(" ", "")


def cover_cautions(ports: Sequence[Port]) -> Iterator[Said]:
    """Pickups that draw a flow at which ANSI/HI 9.8 advises more cover than is asked for.

    A strainer is entered all round; one whose bore is not known is passed by. Of a mouth that is not round the
    most counts that is advised of the circle round it and of that of its area, through which liquid is faster.
    """
    from tanksolve.pump.cover import Mouth, cover_advice  # late: most answers have no flow

    for port in ports:
        if port.kind is not PortKind.PICKUP or not port.flow or not port.bore:
            continue
        advised = 0.0
        for bore in {port.bore, _bore_of_its_area(port)}:
            screen = (Mouth.STRAINER, bore, port.length) if port.length else ()
            advised = max(advised, cover_advice(port.flow, bore, *screen).vortex_formula_m)
        if advised <= port.required_cover + _HAIR:
            continue
        yield say(
            "{port}: at {flow} ANSI/HI 9.8 (derived for water) advises {advised} over the mouth against a vortex "
            "that draws air, {cover} is asked for here: "
            + cover_option(advised)
            + " in the port asks for it",
            port=port.name,
            flow=Quantity(port.flow, "flow"),
            advised=Quantity(advised, "length", "up"),
            cover=Quantity(port.required_cover, "length"),
        )


def _bore_of_its_area(port: Port) -> float:
    """Diameter [m] of the circle of a mouth's area, seen along its facing; its bore where it is round."""
    if not port.rim:
        return port.bore or 0.0
    outline = port.outline
    vector = np.cross(outline, np.roll(outline, -1, axis=0)).sum(axis=0)
    return float(np.sqrt(2.0 * np.linalg.norm(vector) / np.pi))
