"""The option ``--require``, shared by the commands of a designer, and what is said about it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.pooled_check import echo_pooled

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.model.tank import Tank
    from tanksolve.questions.envelope.requirement_met import Met

__all__ = [
    "Require",
    "echo_met",
    "echo_requirement",
    "met_cautions",
    "read_requirement",
    "surface_caution",
]

Require = Annotated[
    list[str] | None,
    typer.Option(
        "--require",
        metavar="15deg|NAME",
        help="Slopes to meet, as 15deg; or a preset. More forms: tanksolve help attitude.",
    ),
]


def read_requirement(texts: list[str] | None) -> "Requirement":
    """Read all ``--require``. Raises RequirementError, also where there is none."""
    from tanksolve.project.requirements import parse_requirements

    return parse_requirements(texts or [])


def echo_requirement(requirement: "Requirement") -> None:
    """Say back what is required, and where a preset is from."""
    for words in requirement.words:
        typer.echo(f"require {words}")
    for source in requirement.source.splitlines():
        typer.echo(f"        {source}")


def echo_met(found: "Sequence[Met]", requirement: "Requirement") -> None:
    """Say of each requirement whether it is met, with its margin and where that is least."""
    from math import radians

    from tanksolve.bound_words import safe_length_words
    from tanksolve.model.attitude import uphill_words
    from tanksolve.units import slope_words

    typer.echo("")
    for one in found:
        if one.pooled is not None:
            typer.echo(f"require {one.requirement}")
            echo_pooled(one.pooled)
            continue
        if one.met:
            told = f"met, least margin {safe_length_words(one.held_margin_m, up=False)}"
        elif one.held_margin_m >= 0.0:
            told = (
                "NO: not shown; liquid may part into pools, one level alone would leave a margin of "
                + safe_length_words(one.held_margin_m, up=False)
            )
        else:
            told = f"NO: not met, short by {safe_length_words(-one.held_margin_m, up=True)}"
        typer.echo(f"require {one.requirement}")
        typer.echo(
            f"        {told}: {one.port} at "
            f"{slope_words(radians(one.slope_deg))} with uphill at {uphill_words(one.heading_deg, 1)}"
        )
    for source in requirement.source.splitlines():
        typer.echo(f"        {source}")


def met_cautions(found: "Sequence[Met]") -> tuple[str, ...]:
    """What must be said where a requirement was judged by one level that is not certain."""
    if any(one.pooled is not None for one in found):
        return (
            "--require is judged by pools at samples of the required attitudes, along the ways tried: "
            "no bound where liquid can part",
        )
    if all(one.one_surface for one in found):
        return ()
    return (
        "--require is judged by one free surface for the whole tank, which is not certain at every "
        "required attitude: where pools part, the limits above count",
    )


def surface_caution(
    tank: "Tank", requirement: "Requirement | None" = None, volume: float = 0.0
) -> tuple[str, ...]:
    """What must be said of a tank in which one free surface is not certain; nothing where it is."""
    from tanksolve.state.one_surface import one_surface_certain

    if tank.is_convex:
        return ()
    if requirement is not None and one_surface_certain(tank, requirement, volume):
        return ()
    doors = "; flaps and balance pipes are taken as standing wide open" if tank.links else ""
    return (
        "one free surface is taken for the whole tank; behind a baffle or in a sump liquid may be "
        "cut off and stand at a level of its own, and then this answer can err on the unsafe side: "
        f"try the attitudes with 'tanksolve envelope', which judges by pools{doors}",
    )
