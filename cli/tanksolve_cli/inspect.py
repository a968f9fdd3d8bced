"""``tanksolve inspect``: what a tank file or mesh holds, before any question is asked."""

from collections import Counter
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tanksolve_cli.links import link_keys, print_tank_links
from tanksolve_cli.output import echo_case, print_json
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.geometry.compartments import Division
    from tanksolve.geometry.mesh_report import MeshReport
    from tanksolve.questions.level.air import RoofBay
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = "tanksolve inspect tank.stl --unit mm --forward +x --up +z"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "inspect", takes_tank(_inspect), _EXAMPLE)


def _inspect(
    words: TankWords,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")] = False,
) -> None:
    """Check a tank and say back what was understood: sizes, volume, ports, axes, every fault.

    A mesh that cannot be used as it is, or that leaves a choice open, ends with exit code 3.
    """
    from tanksolve_cli.case import mesh_body, mesh_chord, read_case

    report = None
    with busy("reading and checking the tank"):
        if words.tank is not None and not words.tank.endswith(".toml"):
            from tanksolve.geometry.mesh_report import inspect_mesh

            report = inspect_mesh(
                words.tank,
                words.unit,
                words.forward,
                words.up,
                body=mesh_body(words),
                chord=mesh_chord(words),
            )
        decided = report is None or (
            report.usable
            and not report.missing
            and (len(report.readings) == 1 or words.meaning or words.plug)
        )
        case = read_case(words, report.intake if report else None) if decided else None
        if case is not None:
            case.wall_tank.check_ports(case.wall_ports)
        division = _division(case) if case is not None else None
        roofs = _roofs(case, division) if case is not None else ()
    if as_json:
        result = {
            "usable": case is not None,
            "mesh": report,
            **(_tank_keys(case, division, roofs) if case else {}),
        }
        print_json("inspect", words.as_inputs(), result, ())
    else:
        if report is not None:
            _print_report(report)
        if case is not None:
            echo_case(case)
            tank = case.wall_tank
            typer.echo(f"mesh    {len(tank.faces)} faces, {len(tank.vertices)} vertices, closed")
            _print_division(case, division)
            print_tank_links(tank)
            for roof in roofs:
                typer.echo(f"WARNING {roof.words}")
    if case is None:
        raise typer.Exit(3)


def _division(case: "Case") -> "Division | None":
    """The compartments of a tank file that has baffles."""
    project = case.project
    if project is None or project.parts is None or not project.parts.baffles:
        return None
    return project.compartments()


def _roofs(case: "Case", division: "Division | None") -> "tuple[RoofBay, ...]":
    """The parts of the roof that cannot vent once the tank is filled past an edge."""
    from tanksolve.questions.level.air import roof_bays

    rooms = division.compartments if division is not None else ()
    boxes = [(room.name, room.lower_m, room.upper_m) for room in rooms]
    return roof_bays(case.wall_tank, case.wall_ports, boxes)


def _print_division(case: "Case", division: "Division | None") -> None:
    from tanksolve.units import length_words, volume_words

    if division is None:
        return
    number = {room.name: k for k, room in enumerate(division.compartments, 1)}
    for room in division.compartments:
        volume = volume_words(room.volume_m3, case.volume_unit)
        typer.echo(f"bay {number[room.name]:<4}{room.name}: {volume}")
    alike = Counter(
        f"{way.baffle}, {way.words}: {1e4 * way.area_m2:.1f} cm², {length_words(way.lowest_m)} to "
        f"{length_words(way.highest_m)} above the floor, joins bays "
        f"{' and '.join(str(number[name]) for name in way.joins)}"
        + (f"; a flap lets liquid through {way.flap} only" if way.flap else "")
        for way in division.passages
    )
    for words, count in alike.items():
        typer.echo(f"opening {f'{count} alike: ' if count > 1 else ''}{words}")


def _tank_keys(
    case: "Case", division: "Division | None", roofs: "tuple[RoofBay, ...]"
) -> dict[str, Any]:
    tank = case.wall_tank
    ports = [
        {
            "name": port.name,
            "kind": port.kind,
            "rule": port.effective_rule,
            "position_m": port.position,
            "from_rear_right_floor_m": tank.from_walls(port.position),
            "required_cover_m": port.required_cover,
        }
        for port in case.wall_ports
    ]
    return {
        "tank": tank.name,
        "capacity_m3": tank.capacity,
        "volume_error_m3": tank.volume_error,
        "lower_m": tank.lower,
        "upper_m": tank.upper,
        "faces": len(tank.faces),
        "vertices": len(tank.vertices),
        "notes": case.notes,
        "ports": ports,
        "division": division,
        "links": link_keys(tank),
        "roof_bays": roofs,
    }


def _print_report(report: "MeshReport") -> None:
    from tanksolve.geometry.findings import place_words

    typer.echo(f"file    {report.file}: {report.faces} faces, {report.vertices} vertices")
    if report.missing:
        options = " ".join(f"--{name}" for name in report.missing)
        typer.echo(
            f"missing the file does not state its {' nor its '.join(report.missing)}: add {options}"
        )
        typer.echo("        until then shown as the axes and lengths of the file itself stand:")
    for note in report.notes:
        typer.echo(f"        {note}")
    box = " x ".join(f"{1000.0 * side:.4g}" for side in report.box_m)
    shown = "mm" if "unit" not in report.missing else "of the file's units"
    typer.echo(f"box     {box} {shown} (forward x left x up)")
    for finding in report.findings:
        typer.echo(f"{'FAULT' if finding.refused else 'note':8}{finding.words}")
        for place in finding.places:
            typer.echo(f"        at {place_words(place, report.unit)}")
        if finding.advice:
            typer.echo(f"        next: {finding.advice}")
    typer.echo(f"saw     {report.saw}")
    if "unit" in report.missing:
        typer.echo("        volumes as if the file were in mm:")
    for reading in report.readings:
        typer.echo(f"        {reading.words}")
        for plug in reading.plugs:
            typer.echo(f"        plug {plug}")
