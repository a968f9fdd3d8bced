"""The options that describe a tank, its ports and its fill, shared by the commands.

``answering.asks`` adds them to a command, which receives them gathered in one :class:`TankWords`.
"""

import inspect
from collections.abc import Callable, Mapping
from dataclasses import fields
from typing import Annotated, Any

import typer

from tanksolve.project.tank_words import TankWords

__all__ = [
    "OPTIONS",
    "PORT",
    "TankWords",
    "command",
    "option_name",
    "tank_command",
    "tank_parameters",
]

_TANK, _PORTS, _FILL = "The tank", "Ports (repeat for more)", "The liquid"
PORT = "NAME=X,Y,Zmm[,bore=38mm][,facing=down][,cover=50mm]"
_ELSEWHERE = "Options of tank, ports and liquid: tanksolve help tank"
_FROM = (
    " From the rear right bottom corner; in a mesh file forward, left and up from its own origin."
)
_FILE = "A tank file (.toml) or a mesh (.stl, .obj, .ply, .off, .3mf, .glb, .step)."


def _hidden(panel: str, form: str | None, told: str) -> dict[str, Any]:
    """An option of ``tanksolve help tank``; a command's own help names that page instead."""
    return {"metavar": form, "help": told, "rich_help_panel": panel, "hidden": True}


OPTIONS: Mapping[str, dict[str, Any]] = {
    "box": _hidden(_TANK, "LxWxHmm", "A box, as 900x300x300mm."),
    "cylinder": _hidden(_TANK, "DxLmm", "A cylinder: diameter x length."),
    "lies": _hidden(_TANK, "along|across|upright", "How a cylinder lies; along by default."),
    "outside": _hidden(_TANK, None, "Sizes are over the plates."),
    "wall": _hidden(_TANK, "3mm", "Plate thickness."),
    "unit": _hidden(_TANK, "mm", "Length unit of a mesh file."),
    "forward": _hidden(_TANK, "+x", "Mesh axis that points forward."),
    "up": _hidden(_TANK, "+z", "Mesh axis that points up."),
    "meaning": _hidden(_TANK, "liquid|metal", "What a mesh with a shell inside a shell bounds."),
    "body": _hidden(_TANK, "NAME|N|all", "Which body of several in a mesh."),
    "cavity": _hidden(_TANK, "N|all", "Which cavity of several in the metal."),
    "plug": _hidden(
        _TANK, "all|NAME", "Confirm the plugs over open ports of a metal wall, or name each."
    ),
    "chord": _hidden(_TANK, "0.1mm", "How closely to facet a STEP file."),
    "pickup": _hidden(_PORTS, PORT, "A pickup: must stay wet." + _FROM),
    "breather": _hidden(_PORTS, PORT, "A breather: must stay dry."),
    "filler": _hidden(_PORTS, PORT, "A filler: must stay dry."),
    "return_": _hidden(_PORTS, PORT, "A return: no limit."),
    "drain": _hidden(_PORTS, PORT, "A drain: no limit."),
    "heater": _hidden(_PORTS, PORT, "A heater: must stay wet."),
    "level_switch": _hidden(_PORTS, PORT, "A level switch: must stay wet."),
    "any_pickup": _hidden(_PORTS, None, "One covered pickup suffices."),
    "fill": _hidden(_FILL, "42L", "A volume, a range 30L..42L, or a depth 120mm standing level."),
    "density": _hidden(_FILL, "870kg/m3", "For the mass."),
    "units": {
        "metavar": "metric|us|imperial",
        "help": "Units to answer in; else the tank file's, or as typed.",
    },
}


def option_name(name: str) -> str:
    """The option of a field of :class:`TankWords`."""
    return f"--{name.rstrip('_').replace('_', '-')}"


def tank_parameters() -> list[inspect.Parameter]:
    """A parameter for each field of :class:`TankWords`, the argument first."""
    found = []
    for f in fields(TankWords):
        told: Any = typer.Argument(metavar="TANK", help=_FILE)
        if f.name != "tank":
            told = typer.Option(option_name(f.name), **OPTIONS[f.name])
        kind, default = inspect.Parameter.KEYWORD_ONLY, f.default
        annotation = Annotated[f.type, told]  # type: ignore[name-defined]
        found.append(inspect.Parameter(f.name, kind, default=default, annotation=annotation))
    return found


def command(name: str, function: Callable[..., None], epilog: str) -> Callable[[typer.Typer], None]:
    """What adds a command to a program, its help ending in ``epilog``."""

    def register(app: typer.Typer) -> None:
        app.command(name, epilog=epilog)(function)

    return register


def tank_command(
    name: str, function: Callable[..., None], example: str
) -> Callable[[typer.Typer], None]:
    """The same with an example, and where the options of tank, ports and liquid are told."""
    return command(name, function, f"Example: {example}\n\n{_ELSEWHERE}")
