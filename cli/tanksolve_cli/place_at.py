"""``tanksolve place --at``: the lowest and highest place of a port at one spot."""

from typing import TYPE_CHECKING

import typer

from tanksolve_cli.links import wall_cautions
from tanksolve_cli.output import echo_case, echo_cautions, print_json
from tanksolve_cli.requirement import echo_requirement

if TYPE_CHECKING:
    from tanksolve.model.ports import Port
    from tanksolve.model.requirement import Requirement
    from tanksolve.questions.place.heights import Heights
    from tanksolve_cli.case import Case

__all__ = ["at_spot"]


def at_spot(
    case: "Case",
    port: "Port",
    requirement: "Requirement",
    at: str,
    inputs: dict[str, object],
    cautions: tuple[str, ...],
    as_json: bool,
) -> None:
    """Answer ``place --at``: the lowest and highest place at one spot."""
    from tanksolve.project.limits import parse_spot
    from tanksolve.questions.place.heights import heights
    from tanksolve.record import as_plain

    x, y = parse_spot(at)
    spot = float(case.tank.corner[0]) + x, float(case.tank.corner[1]) + y
    result = heights(case.tank, port, case.fill, requirement, *spot)
    cautions = (*(() if result.one_surface else wall_cautions(case.tank)), *cautions)
    if as_json:
        print_json("place", {**inputs, "at": at}, {"port": port.name, **as_plain(result)}, cautions)
    else:
        echo_case(case)
        echo_requirement(requirement)
        _print_heights(result, port, case)
        echo_cautions(cautions)
    if not result.feasible:
        raise typer.Exit(3)


def _print_heights(result: "Heights", port: "Port", case: "Case") -> None:
    from math import radians

    from tanksolve.model.attitude import uphill_words
    from tanksolve.model.ports import Rule
    from tanksolve.units import length_words, slope_words

    def height(z: float) -> str:
        return length_words(z - float(case.tank.corner[2]))

    dry = port.effective_rule is Rule.DRY
    typer.echo(f"placing {port.name} ({port.kind}, {port.effective_rule}): {port.cover_words}")
    typer.echo("")
    if not result.feasible:
        typer.echo("NO: no height at this spot meets the requirement")
    by = result.set_by
    sure = f"bound {height(result.held_m)}"
    if not result.one_surface:
        sure = f"{sure}, whatever the machine did before"
    typer.echo(
        f"{'lowest' if dry else 'highest'} {height(result.lowest_m if dry else result.highest_m)} above "
        f"the floor ({sure}), set at {slope_words(radians(by.slope_deg))} with "
        f"uphill at {uphill_words(by.heading_deg, 1)}; "
        f"{'highest' if dry else 'lowest'} {height(result.highest_m if dry else result.lowest_m)}, the "
        f"{'roof' if dry else 'floor'}"
    )
    paper = result.paper
    typer.echo(
        f"the paper method (level turned about its middle) gives {height(paper.height_m)}: "
        + ("it holds here" if paper.holds else f"it is not right here: {paper.why_not}")
    )
