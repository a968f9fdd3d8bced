"""How an answer was judged: by one surface that is certain, by pools, or by one level asked for."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.links import wall_cautions
from tanksolve_cli.requirement import surface_caution

if TYPE_CHECKING:
    from tanksolve.model.tank import Tank
    from tanksolve.state.one_surface import JudgedBy

__all__ = ["OneLevel", "judged_cautions"]

OneLevel = Annotated[
    bool, typer.Option("--one-level", help="Take one level through the whole tank, pools or not.")
]


def judged_cautions(judged_by: "JudgedBy", tank: "Tank") -> tuple[str, ...]:
    """What must be said of an answer by one level, or by pools, where one surface is not certain."""
    if judged_by == "one surface":
        return ()
    if judged_by == "one level":
        return surface_caution(tank)
    return (
        "judged by pools at samples of the required attitudes, along the ways tried, from the tank as "
        "filled: no bound between them where liquid can part",
        "a pickup may be held here by liquid that walls keep around it: that lasts only until it is "
        "pumped out",
        *wall_cautions(tank)[1:],
    )
