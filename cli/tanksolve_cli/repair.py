"""``tanksolve repair``: a mended copy of a mesh file, with what was done and what it can change."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.output import print_json
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = "Example: tanksolve repair scanned.stl mended.stl"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("repair", epilog=_EXAMPLE)(_repair)


def _repair(
    file: Annotated[Path, typer.Argument(help="The mesh to mend; it is never written to.")],
    output: Annotated[Path, typer.Argument(help="Where the mended mesh goes (.stl, .obj, .ply).")],
    gap: Annotated[
        float | None, typer.Option(help="Join leaking corners up to this apart, in file units.")
    ] = None,
    hole: Annotated[
        float | None, typer.Option(help="Close holes up to this wide, in file units.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")] = False,
) -> None:
    """Mend duplicate, collapsed and flipped faces, near corners and small holes; refuse the rest."""
    from tanksolve.build.repair import repair_mesh

    with busy("mending the mesh"):
        done = repair_mesh(file, output, gap=gap, hole=hole)
    if as_json:
        from tanksolve.record import as_plain

        given = {"file": str(file), "output": str(output), "gap": gap, "hole": hole}
        print_json("repair", given, {**as_plain(done), "change": done.change}, ())
        return
    if not done.steps:
        typer.echo("nothing to mend: the mesh was sound")
    for step in done.steps:
        typer.echo(f"mended  {step.words}")
        for x, y, z in step.places:
            typer.echo(f"        at ({x:.6g}, {y:.6g}, {z:.6g}) in the file's units")
    typer.echo(f"volume  can have changed by {100.0 * done.change:.2g} % at most")
    typer.echo(f"wrote {output}; {file} is as it was")
