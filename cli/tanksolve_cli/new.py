"""``tanksolve new``: a starter tank file, or a demo tank."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["register"]

_EXAMPLE = "Example: tanksolve new my_tank.toml   or   tanksolve new demo.toml --demo"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("new", epilog=_EXAMPLE)(_new)


def _new(
    file: Annotated[Path, typer.Argument(help="Where to write; never over an existing file.")],
    demo: Annotated[
        bool, typer.Option("--demo", help="The demo tank: baffles, a sump, two pickups.")
    ] = False,
    template: Annotated[
        str,
        typer.Option(
            help="What to write: starter, demo, collector (a bay with one-way flaps), twin (two tanks "
            "and a balance pipe)."
        ),
    ] = "starter",
) -> None:
    """Write a commented starter tank file to fill in, or an example."""
    from tanksolve.files import check_text_path
    from tanksolve.project.save import write_new

    check_text_path(file, (".toml",), "FILE")
    write_new(file, "demo" if demo else template)
    typer.echo(f"wrote {file}")
    typer.echo(f"next: tanksolve envelope {file}")
