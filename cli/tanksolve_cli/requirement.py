"""The option ``--require``, shared by the commands of a designer, and what is said about it."""

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.model.tank import Tank

__all__ = [
    "Require",
    "echo_requirement",
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
