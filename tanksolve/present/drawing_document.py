"""What a drawing for the welder tells beside its lines, as a document; and its liquid line."""

import math
from collections.abc import Callable, Sequence

from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.ports import Port
from tanksolve.present.document import Column, Document, Fact, Table, Verdict, say
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, mouth_cell, mouth_column
from tanksolve.present.welder import LiquidLine, Welded, listed
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.state.openings import edge_of
from tanksolve.unit_systems import METRIC, using
from tanksolve.units import limit_words

__all__ = ["drawing_document", "liquid_line"]

Point = tuple[float, float, float]


def liquid_line(
    limits: Envelope, ports: Sequence[Port], in_tank_axes: Callable[[Point], Point]
) -> LiquidLine | None:
    """The surface at the worst limit, where it stands at the edge of the port that gives out there."""
    import numpy as np

    worst = limits.worst
    port = next((port for port in ports if port.name == worst.port), None)
    if port is None or not worst.limited or not limits.ok_at_level:
        return None
    heading = math.radians(worst.heading_deg)
    attitude = Attitude.from_slope(math.radians(worst.held_to_deg), heading)
    height = float(edge_of(port, np.array([attitude.up]))[0])
    words = f"liquid at the worst limit, {limit_words(worst.held_to_deg)}, {heading_words(heading)}: {port.name}"
    return LiquidLine(in_tank_axes(attitude.up), height, in_tank_axes(port.position), words)


def drawing_document(inputs: Inputs, drawn: Welded, scale: int) -> Document:
    """The places of all ports from the walls, as they stand in the drawing."""
    all_round = not any(port.rim for port in drawn.ports)
    rows = [
        (
            *(port.name, port.kind.value, *drawn.tank.from_walls(port.position)),
            mouth_cell(port.bore, not port.rim, all_round),
        )
        for port in drawn.ports
    ]
    columns = (
        *(Column("port"), Column("kind")),
        *(
            Column(side, "length", tape=True)
            for side in ("from the rear wall", "from the right wall")
        ),
        *(Column("above the floor", "length", tape=True), mouth_column(all_round)),
    )
    with using(METRIC):
        told = list(listed(drawn))
    facts = [] if drawn.liquid is None else [Fact("blue line", drawn.liquid.words)]
    return Document(
        "drawing",
        "How is the tank drawn for the welder?",
        Verdict.TOLD,
        say(
            f"Drawn on A3 at 1 : {scale} (DXF full size, in mm): the tank's inside, from its walls"
        ),
        facts=tuple(facts),
        tables=[Table("", columns, rows)] if rows else [],
        cautions=(
            "inside sizes: plate thickness, weld gaps and bends are not in them",
            "no hot work near a tank that has held fuel, until it is certified free of vapour",
            *TANK_CAUTIONS,
        ),
        understood=inputs.facts(),
        data={"drawing": {"scale": scale, "listed": told}},
    )
