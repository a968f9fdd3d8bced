"""``tanksolve drawing``: the tank to weld from, dimensioned from its walls."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.present.welder import LiquidLine
    from tanksolve.questions.place.place import Place
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve drawing --box 900x300x300mm --fill 42L "
    "--pickup suction=450,150,40mm,bore=38mm,facing=down --require 15deg -o tank.dxf"
)


@asks()
def _drawing(
    ask: Ask,
    words: TankWords,
    require: Require = None,
    port: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Whose zone is drawn; the one that gives out first."),
    ] = None,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The file to write (.svg, .pdf, .dxf).")
    ] = Path("drawing.svg"),
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
) -> None:
    """Draw floor plan, side and front elevation, dimensioned from the walls, to weld from."""
    from datetime import date

    import numpy as np

    from tanksolve.files import check_new
    from tanksolve.present.drawing_document import drawing_document
    from tanksolve.present.drawn import check_drawn_path, save_sheets
    from tanksolve.present.welder import Welded, drawing_sheet, full_size
    from tanksolve_cli.case import read_case

    check_drawn_path(output, "a drawing", (".svg", ".pdf", ".dxf"))
    if not force:
        check_new(output)
    requirement = read_requirement(require) if require else None
    with busy("reading the tank and drawing it"):
        case = read_case(words)
        line, first = _worst(case)
        found = _zone(case, requirement, port or first)
        zone = None
        if found is not None and found.zone is not None and found.recommended_point_m is not None:
            place = case.in_tank_axes(found.recommended_point_m)
            corners = np.array([case.in_tank_axes(tuple(v)) for v in found.zone.vertices.tolist()])
            zone = (corners, found.zone.faces, place, found.port)
        parts = None if case.project is None else case.project.parts
        drawn = Welded(case.wall_tank, case.wall_ports, parts, zone, line)
        sheet, scale = drawing_sheet(drawn, date.today())
    if output.suffix.lower() == ".dxf":
        sheet = full_size(sheet, scale)
    written = save_sheets([sheet], output)
    answer(drawing_document(case.inputs, drawn, scale), ask, written)


def _worst(case: "Case") -> "tuple[LiquidLine | None, str | None]":
    """The surface at the worst limit, and the port that sets it; nothing without fill or ruled ports."""
    from tanksolve.errors import TanksolveError
    from tanksolve.present.drawing_document import liquid_line
    from tanksolve.questions.envelope.envelope import envelope

    try:
        limits = envelope(case.tank, case.ports, case.fill, pickups=case.pickups)
    except TanksolveError:
        return None, None
    return liquid_line(limits, case.ports, case.in_tank_axes), limits.worst.port


def _zone(case: "Case", requirement: "Requirement | None", name: str | None) -> "Place | None":
    """Where a port may sit; nothing where nothing is required or no port is meant."""
    from tanksolve.errors import PortError
    from tanksolve.questions.place.place import place

    if requirement is None or name is None:
        return None
    port = next((port for port in case.ports if port.name == name), None)
    if port is None:
        names = ", ".join(port.name for port in case.ports)
        raise PortError(f"no port is called '{name}'", where="--port", allowed=names)
    return place(case.tank, port, case.fill, requirement)


register = tank_command("drawing", _drawing, _EXAMPLE)
