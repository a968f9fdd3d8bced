"""``tanksolve inspect``: what a tank file or mesh holds, before any question is asked."""

from typing import Annotated

import typer

from tanksolve_cli.output import busy, echo_case, print_json
from tanksolve_cli.tank_options import TankWords, takes_tank

__all__ = ["register"]

_EXAMPLE = "Example: tanksolve inspect tank.stl --unit mm --forward +x --up +z"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("inspect", epilog=_EXAMPLE)(takes_tank(_inspect))


def _inspect(
    words: TankWords,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")] = False,
) -> None:
    """Read a tank, check it, and say back what was understood: sizes, volume, ports, axes."""
    from tanksolve_cli.case import read_case

    with busy("reading and checking the tank"):
        case = read_case(words)
        case.wall_tank.check_ports(case.wall_ports)
    tank = case.wall_tank
    if as_json:
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
        result = {
            "tank": tank.name,
            "capacity_m3": tank.capacity,
            "volume_error_m3": tank.volume_error,
            "lower_m": tank.lower,
            "upper_m": tank.upper,
            "faces": len(tank.faces),
            "vertices": len(tank.vertices),
            "notes": case.notes,
            "ports": ports,
        }
        print_json("inspect", words.as_inputs(), result, ())
        return
    echo_case(case)
    typer.echo(f"mesh    {len(tank.faces)} faces, {len(tank.vertices)} vertices, closed")
    if tank.volume_error:
        typer.echo(f"        facets hold {1000 * tank.volume_error:+.3f} L against the curved tank")
