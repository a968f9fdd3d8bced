"""The options that describe a tank, its ports and its fill, shared by the commands.

``answering.asks`` adds them to a command, which receives them gathered in one :class:`TankWords`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Annotated, Any

import typer

from tanksolve.unit_systems import UnitSystem

__all__ = ["TankWords", "register_command", "system_of"]

_TANK, _PORTS, _FILL = "The tank", "Ports (repeat for more)", "The liquid"
_PORT = "NAME=X,Y,Zmm[,bore=38mm][,facing=down][,cover=50mm]"


_ELSEWHERE = "Options of tank, ports and liquid: tanksolve help tank"
_FROM = (
    " From the rear right bottom corner; in a mesh file forward, left and up from its own origin."
)


def _port(what: str) -> Any:
    return typer.Option(metavar=_PORT, help=what, rich_help_panel=_PORTS, hidden=True)


@dataclass(frozen=True)
class TankWords:
    """What the user wrote about the tank, not yet read."""

    tank: Annotated[
        str | None,
        typer.Argument(
            metavar="[TANK]",
            help="A tank file (.toml) or a mesh (.stl, .obj, .ply, .off, .3mf, .glb, .step).",
        ),
    ] = None
    box: Annotated[
        str | None,
        typer.Option(
            metavar="LxWxHmm", help="A box, as 900x300x300mm.", rich_help_panel=_TANK, hidden=True
        ),
    ] = None
    cylinder: Annotated[
        str | None,
        typer.Option(
            metavar="DxLmm",
            help="A cylinder: diameter x length.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    lies: Annotated[
        str | None,
        typer.Option(
            metavar="along|across|upright",
            help="How a cylinder lies; along by default.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    outside: Annotated[
        bool,
        typer.Option(
            "--outside", help="Sizes are over the plates.", rich_help_panel=_TANK, hidden=True
        ),
    ] = False
    wall: Annotated[
        str | None,
        typer.Option(metavar="3mm", help="Plate thickness.", rich_help_panel=_TANK, hidden=True),
    ] = None
    unit: Annotated[
        str | None,
        typer.Option(
            metavar="mm", help="Length unit of a mesh file.", rich_help_panel=_TANK, hidden=True
        ),
    ] = None
    forward: Annotated[
        str | None,
        typer.Option(
            metavar="+x", help="Mesh axis that points forward.", rich_help_panel=_TANK, hidden=True
        ),
    ] = None
    up: Annotated[
        str | None,
        typer.Option(
            metavar="+z", help="Mesh axis that points up.", rich_help_panel=_TANK, hidden=True
        ),
    ] = None
    meaning: Annotated[
        str | None,
        typer.Option(
            metavar="liquid|metal",
            help="What a mesh with a shell inside a shell bounds.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    body: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|N|all",
            help="Which body of several in a mesh.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    cavity: Annotated[
        str | None,
        typer.Option(
            metavar="N|all",
            help="Which cavity of several in the metal.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    plug: Annotated[
        list[str] | None,
        typer.Option(
            metavar="all|NAME",
            help="Confirm the plugs over open ports of a metal wall, or name each.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    chord: Annotated[
        str | None,
        typer.Option(
            metavar="0.1mm",
            help="How closely to facet a STEP file.",
            rich_help_panel=_TANK,
            hidden=True,
        ),
    ] = None
    pickup: Annotated[list[str] | None, _port("A pickup: must stay wet." + _FROM)] = None
    breather: Annotated[list[str] | None, _port("A breather: must stay dry.")] = None
    filler: Annotated[list[str] | None, _port("A filler: must stay dry.")] = None
    return_: Annotated[
        list[str] | None,
        typer.Option(
            "--return",
            metavar=_PORT,
            help="A return: no limit.",
            rich_help_panel=_PORTS,
            hidden=True,
        ),
    ] = None
    drain: Annotated[list[str] | None, _port("A drain: no limit.")] = None
    heater: Annotated[list[str] | None, _port("A heater: must stay wet.")] = None
    level_switch: Annotated[list[str] | None, _port("A level switch: must stay wet.")] = None
    any_pickup: Annotated[
        bool,
        typer.Option(
            "--any-pickup", help="One covered pickup suffices.", rich_help_panel=_PORTS, hidden=True
        ),
    ] = False
    fill: Annotated[
        str | None,
        typer.Option(
            metavar="42L",
            help="A volume, a range 30L..42L, or a depth 120mm standing level.",
            rich_help_panel=_FILL,
            hidden=True,
        ),
    ] = None
    density: Annotated[
        str | None,
        typer.Option(metavar="870kg/m3", help="For the mass.", rich_help_panel=_FILL, hidden=True),
    ] = None

    units: Annotated[
        str | None,
        typer.Option(metavar="metric|us|imperial", help="Units to answer in; else as typed."),
    ] = None

    @property
    def has_tank(self) -> bool:
        """Whether a tank was described."""
        return bool(self.tank or self.box or self.cylinder)

    def as_inputs(self) -> dict[str, Any]:
        """What was given, for the JSON's ``inputs``; options left alone are not listed."""
        given = {f.name.rstrip("_"): getattr(self, f.name) for f in fields(self)}
        return {name: value for name, value in given.items() if value not in (None, [], False)}


def register_command(
    app: typer.Typer, name: str, command: Callable[..., None], example: str
) -> None:
    """Add a command, with an example and where the options of tank, ports and liquid are told."""
    app.command(name, epilog=f"Example: {example}\n\n{_ELSEWHERE}")(command)


def system_of(words: TankWords, own: Mapping[str, Any]) -> UnitSystem:
    """The units to answer in: those asked for, else those typed, else those of the tank file.

    Raises QuantityError for a system that is not known.
    """
    from tanksolve.errors import QuantityError
    from tanksolve.unit_systems import SYSTEMS, typed_system

    if words.units is not None:
        if words.units not in SYSTEMS:
            raise QuantityError(
                f"'{words.units}' is no system of units",
                where="--units",
                allowed=", ".join(SYSTEMS),
            )
        return SYSTEMS[words.units]
    file = words.tank if words.tank and words.tank.endswith(".toml") else None
    sizes = [words.box, words.cylinder, f"1{words.unit}" if words.unit else None]
    given = [getattr(words, f.name) for f in fields(words) if f.name not in ("tank", "unit")]
    typed = [*_texts(sizes), *_texts(given), *_texts(list(own.values()))]
    return typed_system([*(_texts(_contents(file)) if file else ()), *typed])


def _contents(file: str) -> object:
    """What a tank file holds; nothing where it cannot be read, which is told where it is read."""
    from pathlib import Path

    from tanksolve.errors import FileFormatError
    from tanksolve.project.load import read_tables

    try:
        return read_tables(Path(file))
    except FileFormatError:
        return None


def _texts(value: object) -> list[str]:
    """All texts in a value as it was given: an option's, or the tables of a file."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        value = list(value.values())
    return [text for item in value for text in _texts(item)] if isinstance(value, list) else []
