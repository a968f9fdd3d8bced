"""``tanksolve explain``: where the figures of a study's row come from."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer
from tanksolve_cli.tank_options import command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = "Example, after that of study: tanksolve explain sump_study 3"


def _explain(
    result: Annotated[
        Path, typer.Argument(help="The folder of a study's results, or a file in it.")
    ],
    row: Annotated[
        int | None, typer.Argument(min=1, help="Which row; else the first that was computed.")
    ] = None,
    full: Annotated[bool, typer.Option("--full", help="Tell everything.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="As JSON, in SI.")] = False,
    units: Annotated[
        str | None, typer.Option(metavar="metric|us|imperial", help="Units to answer in.")
    ] = None,
) -> None:
    """Compute a row of a study anew and trace its figures to plane, pools, volumes, port and formula."""
    from tanksolve.present.explain_document import explain_document
    from tanksolve.project.tank_words import TankWords
    from tanksolve.project.typed_units import system_of
    from tanksolve.study.explain import explain
    from tanksolve.unit_systems import using

    with busy("computing the row anew"):
        found = explain(result, None if row is None else row - 1)
    system = system_of(TankWords(tank=str(found.study.tank_source), units=units), {})
    given = {"result": str(result), "row": row}
    with using(system):
        answer(explain_document(found), Ask(as_json=as_json, full=full, system=system, given=given))


register = command("explain", _explain, _EXAMPLE)
