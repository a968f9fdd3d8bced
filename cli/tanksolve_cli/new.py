"""``tanksolve new``: a starter tank file, a demo tank, or the tank file for a mesh or CAD file."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from tanksolve_cli.tank_options import command

__all__ = ["register"]

_EXAMPLE = (
    "Example: tanksolve new my_tank.toml   or   tanksolve new my_tank.toml --from tank.stl "
    "--unit mm --forward +x --up +z"
)


def _new(
    file: Annotated[Path, typer.Argument(help="Where to write.")],
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
    mesh: Annotated[
        Path | None,
        typer.Option("--from", metavar="tank.step", help="A mesh or STEP file to draw it up from."),
    ] = None,
    unit: Annotated[
        str | None, typer.Option(metavar="mm", help="Length unit of that file.")
    ] = None,
    forward: Annotated[
        str | None, typer.Option(metavar="+x", help="Its axis that points forward.")
    ] = None,
    up: Annotated[str | None, typer.Option(metavar="+z", help="Its axis that points up.")] = None,
    meaning: Annotated[
        str | None,
        typer.Option(metavar="liquid|metal", help="Whether it is the liquid or the metal."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over existing files.")] = False,
) -> None:
    """Write a commented starter tank file to fill in, an example, or one drawn up from a mesh.

    From a mesh, a picture of what was understood is written beside it.
    """
    from tanksolve.files import check_new, check_text_path
    from tanksolve.project.save import write_new
    from tanksolve.unit_systems import typed_system, using

    check_text_path(file, (".toml",), "FILE")
    targets = [file, file.with_suffix(".png")] if mesh is not None else [file]
    for target in [] if force else targets:
        check_new(target)
    if mesh is not None:
        with using(typed_system([f"1{unit}"] if unit else [])):
            _from_mesh(file, mesh, unit, forward, up, meaning)
    else:
        write_new(file, "demo" if demo else template, overwrite=force)
        typer.echo(f"wrote {file}")
    typer.echo(f"next: tanksolve envelope {file}")


def _from_mesh(
    file: Path,
    mesh: Path,
    unit: str | None,
    forward: str | None,
    up: str | None,
    meaning: str | None,
) -> None:
    from tanksolve.errors import MeshError
    from tanksolve.files import write_text
    from tanksolve.present.save import own_look, save_picture
    from tanksolve.present.understood_view import understood_figure
    from tanksolve.project.from_mesh import draft
    from tanksolve_cli.waiting import busy

    picture = file.with_suffix(".png")
    meanings: dict[str | None, Literal["liquid", "metal"] | None]
    meanings = {None: None, "liquid": "liquid", "metal": "metal"}
    if meaning not in meanings:
        raise MeshError(f"'{meaning}' is not a meaning", where="--meaning", allowed="liquid, metal")
    with busy("reading and checking the mesh"):
        drawn = draft(mesh, file, unit, forward, up, meanings[meaning])
        write_text(file, drawn.text)
        with own_look():
            save_picture(understood_figure(drawn.tank, drawn.ports), picture)
    for note in drawn.tank.notes:
        typer.echo(f"        {note}")
    typer.echo(f"wrote {file}, and {picture}: is this the tank?")
    for words in drawn.assumed:
        typer.echo(f"CHECK   assumed: {words}")


register = command("new", _new, _EXAMPLE)
