"""What the commands say of flaps and balance pipes."""

from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from tanksolve.model.tank import Tank

__all__ = ["link_keys", "print_tank_links", "wall_cautions"]

_LEVEL = (0.0, 0.0, 1.0)
_WAY = {"flap": "lets liquid through {} only", "balance pipe": "open both ways"}


def wall_cautions(tank: "Tank") -> tuple[str, ...]:
    """What must be said of a tank whose walls, flaps or pipes part its liquid; nothing of another."""
    from tanksolve.present import understood

    return understood.wall_cautions(tank)


def print_tank_links(tank: "Tank") -> None:
    """Print each flap and pipe with its way and its sill, standing level."""
    from tanksolve.units import length_words

    floor = float(tank.corner[2])
    for link in tank.links:
        sill = length_words(link.sill(_LEVEL) - floor)
        way = _WAY[link.kind].format(link.way)
        typer.echo(f"link    {link.kind}: {link.name}: {way}, from {sill} above the floor")


def link_keys(tank: "Tank") -> list[dict[str, Any]]:
    """The same for JSON."""
    floor = float(tank.corner[2])
    return [
        {
            "name": link.name,
            "kind": link.kind,
            "way": link.way,
            "sill_above_floor_m": link.sill(_LEVEL) - floor,
        }
        for link in tank.links
    ]
