"""What the commands say of flaps and balance pipes."""

from typing import TYPE_CHECKING, Any

import typer

from tanksolve_cli.output import CAUTIONS

if TYPE_CHECKING:
    from tanksolve.model.tank import Tank

__all__ = ["cautions_with_links", "link_cautions", "link_keys", "print_tank_links"]

_LEVEL = (0.0, 0.0, 1.0)
_WAY = {"flap": "lets liquid through {} only", "balance pipe": "open both ways"}


def cautions_with_links(tank: "Tank", one_level: bool) -> tuple[str, ...]:
    """The usual cautions, and before them what an answer leaves out of flaps and pipes."""
    if tank.links and one_level:
        said = (
            "one level: flaps and balance pipes are taken as standing wide open; what a flap holds back "
            "and what stands below a pipe's sill is not regarded, and either may err on the unsafe side"
        )
        return (said, *CAUTIONS)
    return (*link_cautions(tank), *CAUTIONS)


def link_cautions(tank: "Tank") -> tuple[str, ...]:
    """What an answer by pools leaves out of flaps and pipes."""
    kinds = {link.kind for link in tank.links}
    words = []
    if "flap" in kinds:
        words.append(
            "flaps are taken as tight, and as open at the slightest difference of level: one that leaks "
            "or sticks does not hold or fill what is told here"
        )
    if "balance pipe" in kinds:
        words.append("balance pipes have all the time they need, and draw over no rise as a siphon")
    return tuple(words)


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
