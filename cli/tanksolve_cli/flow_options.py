"""Options of the return flow: what the pump draws, and what the liquid goes through on its way back."""

from typing import Annotated

import typer

__all__ = ["Discharge", "OpeningArea", "PumpFlow"]

_RUNNING = "The pump running"
PumpFlow = Annotated[
    list[str] | None,
    typer.Option(
        metavar="[PICKUP=]60L/min",
        help="What the pump draws and the return gives back; of several pickups or returns by name.",
        rich_help_panel=_RUNNING,
    ),
]
Discharge = Annotated[
    str,
    typer.Option(
        "--discharge-coefficient",
        metavar="0.61",
        help="Of the openings in plates: 0.61 for sharp edges (from memory); cold oil passes less.",
        rich_help_panel=_RUNNING,
    ),
]
OpeningArea = Annotated[
    list[str] | None,
    typer.Option(
        metavar="20cm2|none",
        help="A mesh's opening between return and pickup; repeat for plates one after the other.",
        rich_help_panel=_RUNNING,
    ),
]
