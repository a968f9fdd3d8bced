"""``tanksolve repair``: a mended copy of a mesh file, with what was done and what it can change."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer
from tanksolve_cli.tank_options import command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = "Example: tanksolve repair scanned.stl mended.stl --unit mm --hole 8mm"


def _repair(
    file: Annotated[Path, typer.Argument(help="The mesh to mend; it is never written to.")],
    output: Annotated[
        Path | None, typer.Argument(help="Where the mended mesh goes (.stl, .obj, .ply).")
    ] = None,
    gap: Annotated[
        str | None,
        typer.Option(metavar="0.2mm", help="Join leaking corners up to this far apart."),
    ] = None,
    hole: Annotated[
        str | None, typer.Option(metavar="8mm", help="Close holes up to this wide.")
    ] = None,
    unit: Annotated[
        str | None,
        typer.Option(
            metavar="mm",
            help="Length unit of the file, where its format states none (.stl, .obj, .ply).",
        ),
    ] = None,
    full: Annotated[bool, typer.Option("--full", help="Tell everything.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="As JSON.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
) -> None:
    """Mend duplicate, collapsed and flipped faces, near corners and small holes; refuse the rest.

    --gap and --hole are lengths with a unit. The mended file keeps the file's own unit.
    """
    from tanksolve.errors import OutputError
    from tanksolve.files import check_new
    from tanksolve.geometry.repair import repair_mesh
    from tanksolve.present.repair_document import repair_document
    from tanksolve.unit_systems import METRIC, typed_system, using

    if output is None:
        mended = f"{file.stem}_mended{file.suffix}"
        raise OutputError(
            "no file is given for the mended mesh",
            where="repair",
            allowed="a new file (.stl, .obj, .ply): the mesh itself is never written to",
            next_step=f"write 'tanksolve repair {file} {mended}'",
        )
    if not force:
        check_new(output)
    asked = {"--gap": gap, "--hole": hole}
    system = typed_system([*filter(None, asked.values()), f"1{unit or 'mm'}"])
    with using(system), busy("mending the mesh"):
        metre = _file_unit(file, unit) if gap or hole else 1.0
        widths = {name: _width(text, name, metre) for name, text in asked.items()}
        done = repair_mesh(file, output, gap=widths["--gap"], hole=widths["--hole"])
    given = {"file": str(file), "output": str(output), "gap": gap, "hole": hole, "unit": unit}
    ask = Ask(as_json=as_json, full=full, system=system, given=given)
    with using(METRIC if as_json else system):
        answer(repair_document(done), ask, said=[output])


def _file_unit(file: Path, unit: str | None) -> float:
    """Length [m] of the file's unit. Raises QuantityError where neither format nor user states it."""
    from tanksolve.errors import QuantityError
    from tanksolve.geometry.formats import read_raw
    from tanksolve.units import parse_length

    stated = read_raw(file).unit
    if stated is not None and unit is not None and stated != unit:
        raise QuantityError(
            f"the file states its unit: {stated}", where="--unit", next_step="leave out --unit"
        )
    known = unit or stated
    if known is None:
        raise QuantityError(
            f"'{file}' does not state its length unit, so that a width cannot be told in it",
            where="--gap, --hole",
            next_step="add --unit mm, or whatever it was drawn in",
        )
    return parse_length(f"1{known}", "--unit")


def _width(text: str | None, option: str, metre: float) -> float | None:
    """A length in the file's unit, which is ``metre`` long [m]."""
    from tanksolve.errors import QuantityError
    from tanksolve.units import parse_length

    if text is None:
        return None
    length = parse_length(text, option)
    if length < 0.0:
        raise QuantityError(f"'{text}' is below nought", where=option)
    return length / metre


register = command("repair", _repair, _EXAMPLE)
