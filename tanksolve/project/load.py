"""A tank file to a Project; every refusal names the file, the line and the key."""

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from tanksolve.errors import FileFormatError, PortError, TanksolveError
from tanksolve.gate.files import read_bytes
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.bodies import beside
from tanksolve.geometry.plugs import Plug
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.project.bounds import check_bounds, check_dots
from tanksolve.project.inline import parse_fill
from tanksolve.project.lines import Path as Place
from tanksolve.project.lines import line_numbers, line_of
from tanksolve.project.project import Project
from tanksolve.units import slope_words

if TYPE_CHECKING:
    from tanksolve.project.schema import TankFile

__all__ = [
    "load",
    "loads",
    "mounting_words",
    "of_tables",
    "parse_text",
    "read_tables",
    "read_text",
]

_Made = TypeVar("_Made")

_ADVICE = "check the name; 'tanksolve new' writes a starter file"
_LARGEST = 1_000_000  # bytes; a tank file is written by hand, a longer one is something else


def load(path: str | Path) -> Project:
    """Read a tank file, build its tank and check its ports.

    Raises
    ------
    FileFormatError : no such file, no TOML, a wrong key or value; with file, line and key.
    TankError, MeshError, PortError, FillError : a tank that cannot be built; same places.
    """
    return loads(read_text(Path(path)), Path(path))


def read_tables(path: Path) -> dict[str, Any]:
    """The tables of a tank file as they are written, unchecked. Raises FileFormatError as :func:`load`."""
    return parse_text(read_text(path), str(path))


def read_text(file: Path, what: str = "tank file", advice: str = _ADVICE) -> str:
    """The text of a tank file, or of another such file, as it is. Raises FileFormatError."""
    data = read_bytes(file, _LARGEST, what, FileFormatError, advice)
    try:
        return data.decode("utf-8-sig")  # Windows editors put a mark in front
    except UnicodeDecodeError:
        raise FileFormatError(
            "not a text file in UTF-8", where=str(file), allowed="a TOML text"
        ) from None


def loads(text: str, source: Path | None = None) -> Project:
    """Read a tank file's text; meshes are looked for beside ``source``. Raises as :func:`load`."""
    name = str(source) if source else "tank file"
    return of_tables(parse_text(text, name), line_numbers(text), text, source)


def of_tables(
    data: dict[str, Any], numbers: Mapping[Place, int], text: str = "", source: Path | None = None
) -> Project:
    """Build what the tables of a tank file describe, as :func:`read_tables` gives them.

    numbers : the line of each key in ``text``, which a variant of the file shares with it.
    Raises as :func:`load`.
    """
    from tanksolve.project.complaints import validated

    name = str(source) if source else "tank file"
    check_bounds(data, numbers, name)
    model = validated(data, numbers, name)

    def place(*path: str | int) -> str:
        line = line_of(path, numbers)
        shown = ".".join(str(part + 1) if isinstance(part, int) else part for part in path)
        return f"{name}, line {line}, {shown}" if line else f"{name}, {shown}"

    return replace(_Builder(model, place, source).project(), text=text)


def parse_text(
    text: str, name: str, what: str = "tank file", advice: str = _ADVICE
) -> dict[str, Any]:
    """The tables of a TOML text as they are written, unchecked. Raises FileFormatError."""
    if not text.strip():
        raise FileFormatError(f"the {what} is empty", where=name, next_step=advice)
    check_dots(text, name)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        reason, _, spot = message.partition(" (at ")
        where = f"{name}, {spot.rstrip(')')}" if spot else name
        advice = 'texts and quantities stand in quotes: length = "900 mm"'
        raise FileFormatError(f"not TOML: {reason}", where=where, next_step=advice) from None
    except (
        ValueError,
        RecursionError,
    ) as error:  # numbers of thousands of digits, thousands of brackets
        raise FileFormatError(
            f"not a sensible TOML text: {type(error).__name__}", where=name
        ) from None


class _Builder:
    """Builds the parts of a validated file, telling each error where the part stands."""

    def __init__(self, model: "TankFile", place: Callable[..., str], source: Path | None) -> None:
        self.model = model
        self.place = place
        self.source = source

    def project(self) -> Project:
        """Everything that the file describes."""
        model = self.model
        shell, plugs = self._shell()
        parts, tank = self._tank(shell)
        project = Project(
            name=model.name,
            tank=tank,
            parts=parts,
            shell_is_mesh=model.tank.shape == "mesh",
            ports=self._ports(tank, plugs),
            pickup_rule=model.pickups,
            mounting=(model.mounting.yaw, model.mounting.pitch, model.mounting.roll),
            density=model.liquid.density,
            liquid=model.liquid.name,
            source=self.source,
        )
        notes = (*tank.notes, *mounting_words(*project.mounting))
        if model.pickups == "any":
            notes += ("any one covered pickup is enough",)
        if model.fill is None:
            return replace(project, notes=notes)
        level = project.rotation @ np.array([0.0, 0.0, 1.0])
        read = parse_fill(model.fill, tank, level, self.place("fill"), project.ports)
        return replace(project, fill=read.fill, fill_unit=read.unit, notes=(*notes, read.words))

    def _shell(self) -> tuple[Tank, tuple[Plug, ...]]:
        folder = self.source.parent if self.source else Path()
        first, plugs = self._at(lambda: self.model.tank.build(self.model.name, folder), "tank")
        shell = first
        for k, one in enumerate(self.model.body):
            shape = one.tank or self.model.tank
            other, _ = self._at(partial(shape.build, one.name, folder), "body", k)
            place = [(one.name, one.at, other)]
            shell = self._at(partial(beside, shell, place), "body", k)
        return shell, plugs

    def _tank(self, shell: Tank) -> tuple[Parts, Tank]:
        model = self.model
        parts = Parts(
            shell,
            tuple(self._at(one.build, "sump", k) for k, one in enumerate(model.sump)),
            tuple(self._at(one.build, "baffle", k) for k, one in enumerate(model.baffle)),
            tuple(
                self._at(partial(one.build, shell), "internal", k)
                for k, one in enumerate(model.internal)
            ),
            tuple(
                self._at(one.build, "balance_pipe", k) for k, one in enumerate(model.balance_pipe)
            ),
            1 + len(model.body),
        )
        try:
            if model.sump or model.baffle or model.internal or model.body or model.balance_pipe:
                model.tank.check_parts()
            return parts, build(parts)
        except TanksolveError as error:
            raise error.at(self.place(*self._blamed(error))) from None

    def _blamed(self, error: TanksolveError) -> tuple[str | int, ...]:
        """The table of the part that an error of assembling names; the shell's where it names none."""
        for kind in ("sump", "baffle", "internal", "balance_pipe"):
            for k, one in enumerate(getattr(self.model, kind)):
                if error.where == f"{kind.replace('_', ' ')} '{one.name}'":
                    return kind, k
        return ("tank",)

    def _ports(self, tank: Tank, plugs: tuple[Plug, ...]) -> tuple[Port, ...]:
        ports: list[Port] = []
        for k, table in enumerate(self.model.port):
            port = self._at(partial(table.build, plugs), "port", k)
            if port.name in [other.name for other in ports]:
                raise PortError(
                    f"two ports are called '{port.name}'",
                    where=self.place("port", k, "name"),
                    next_step="give each port a name of its own",
                )
            self._at(partial(tank.check_ports, [port]), "port", k, "at")
            ports.append(port)
        return tuple(ports)

    def _at(self, make: Callable[[], _Made], *path: str | int) -> _Made:
        try:
            return make()
        except TanksolveError as error:
            raise error.at(self.place(*path)) from None


def mounting_words(yaw: float, pitch: float, roll: float) -> tuple[str, ...]:
    """How the tank sits in the machine, in words; none where it sits straight. Angles in rad."""
    said = [
        (
            yaw,
            ("nose turned to the left", "nose turned to the right"),
            f"{math.degrees(abs(yaw)):.1f}°",
        ),
        (pitch, ("nose up", "nose down"), slope_words(abs(pitch))),
        (roll, ("right side down", "left side down"), slope_words(abs(roll))),
    ]
    words = [f"{sides[angle < 0.0]} by {size}" for angle, sides, size in said if angle]
    return (f"the tank sits in the machine with its {', then its '.join(words)}",) if words else ()
