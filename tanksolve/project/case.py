"""From the words of the command line to a tank, its ports and its fill."""

import re
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from tanksolve.project.tank_words import TankWords, refuse_idle

if TYPE_CHECKING:
    from tanksolve.geometry.intake import Intake
    from tanksolve.model.liquid import Fill
    from tanksolve.model.ports import Port
    from tanksolve.model.tank import Tank
    from tanksolve.project.inline import ReadFill
    from tanksolve.project.project import Project
    from tanksolve.questions.level.air import RoofBay
    from tanksolve.state.conditions import Pickups

__all__ = ["TankCase", "is_mesh", "mesh_body", "mesh_chord", "read_tank_case"]


@dataclass(frozen=True)
class TankCase:
    """A tank with its ports and fill, in machine axes, ready for an analysis.

    ``wall_tank`` and ``wall_ports`` are the same in tank axes, where distances from walls are told;
    ``project`` is the tank file's, where there is one.
    """

    tank: "Tank"
    ports: "tuple[Port, ...]"
    wall_tank: "Tank"
    wall_ports: "tuple[Port, ...]"
    read_fill: "ReadFill | None"
    pickups: "Pickups"
    density: float | None
    notes: tuple[str, ...]
    project: "Project | None" = None

    @property
    def fill(self) -> "Fill":
        """The fill; raises FillError where none was given."""
        from tanksolve.errors import FillError

        if self.read_fill is None:
            raise FillError(
                "no fill is given",
                where="--fill",
                allowed="a volume 42L, a range 30L..42L, or a depth 120mm",
                next_step="add --fill, or a fill in the tank file; 'tanksolve budget' works one out",
            )
        return self.read_fill.fill

    @property
    def askew(self) -> bool:
        """Whether the tank is turned in its machine, so that tank and machine axes differ."""
        return self.project is not None and any(self.project.mounting)

    def in_tank_axes(self, point: tuple[float, float, float]) -> tuple[float, float, float]:
        """A point given in machine axes, in the tank's own axes [m]."""
        if self.project is None:
            return point
        x, y, z = (float(c) for c in self.project.rotation @ point)
        return x, y, z

    @cached_property
    def opening_faults(self) -> dict[str, str]:
        """What is wrong with the openings of ports, in words, by the port's name."""
        from tanksolve.model.sight import opening_fault

        found = ((port.name, opening_fault(self.wall_tank, port)) for port in self.wall_ports)
        return {name: fault for name, fault in found if fault is not None}

    @cached_property
    def roofs(self) -> "tuple[RoofBay, ...]":
        """Parts of the roof that shut in air on level ground, named by the bays that plates make."""
        if self.tank.is_convex:  # and a box loads nothing of pools
            return ()
        from tanksolve.questions.level.air import roof_bays

        if (
            self.askew
        ):  # level ground is the machine's, and bays are known along the tank's own walls
            return roof_bays(self.tank, self.ports)
        found = roof_bays(self.wall_tank, self.wall_ports)
        parts = None if self.project is None else self.project.parts
        if not found or self.project is None or parts is None or not parts.baffles:
            return found
        rooms = self.project.compartments().compartments
        boxes = [(room.name, room.lower_m, room.upper_m) for room in rooms]
        return roof_bays(self.wall_tank, self.wall_ports, boxes)


def read_tank_case(words: TankWords, examined: "Intake | None" = None) -> TankCase:
    """Read tank, ports and fill; options add to, and with the same name replace, a tank file's.

    ``examined`` is the mesh file where it has been read before.

    Raises TanksolveError, naming the option or the file, line and key.
    """
    from tanksolve.units import parse

    is_tank_file = words.tank is not None and words.tank.endswith(".toml")
    case = _from_file(words) if is_tank_file else _inline(words, examined)
    ports = {port.name: port for port in case.wall_ports}
    ports.update({port.name: port for port in _ports(words)})
    if words.density is not None:
        case = replace(case, density=parse(words.density, "density", "--density"))
    if words.any_pickup:
        case = replace(case, pickups="any")
    wall_ports = tuple(ports.values())
    return _filled(replace(case, ports=_mounted(case, wall_ports), wall_ports=wall_ports), words)


def _mounted(case: TankCase, ports: "tuple[Port, ...]") -> "tuple[Port, ...]":
    """Ports in machine axes, as the tank is: turned where a tank file mounts it askew."""
    from tanksolve.model.mounting import mount

    if case.project is None or not any(case.project.mounting):
        return ports
    return mount(case.wall_tank, ports, case.project.rotation)[1]


def _inline(words: TankWords, examined: "Intake | None") -> TankCase:
    from tanksolve.errors import TankError

    if words.tank and re.fullmatch(r"[\d.]+[a-z]*(x[\d.]+[a-z]*)+", words.tank):
        raise TankError(
            f"'{words.tank}' is a size and not a file",
            next_step=f"write --box {words.tank}, or --cylinder for diameter x length",
        )
    if words.tank is None and not (words.box or words.cylinder):
        raise TankError(
            "no tank is given",
            allowed="a tank file or mesh, --box 900x300x300mm, or --cylinder 450x1200mm",
            next_step="add --box 900x300x300mm with your own sizes, inside; or write a tank file with "
            "'tanksolve new tank.toml' and name it",
        )
    refuse_idle(words)
    if (words.wall is not None) != words.outside:
        raise TankError(
            "--outside and --wall go together: sizes over the plates, and their thickness",
            allowed="--outside --wall 3mm, or neither for inside sizes",
        )
    if words.tank is not None:
        tank = _from_mesh(words, examined)
    else:
        from tanksolve.project.inline import parse_tank

        tank = parse_tank(
            box_text=words.box,
            cylinder_text=words.cylinder,
            lies=words.lies or "along",
            outside=words.outside,
            wall=words.wall,
        )
    return TankCase(tank, (), tank, (), None, "all", None, tank.notes)


def _from_mesh(words: TankWords, examined: "Intake | None") -> "Tank":
    from tanksolve.errors import MeshError
    from tanksolve.geometry.mesh_file import read_mesh

    meanings: dict[str | None, Literal["liquid", "metal"] | None]
    meanings = {None: None, "liquid": "liquid", "metal": "metal"}
    if words.meaning not in meanings:
        raise MeshError(
            f"'{words.meaning}' is not a meaning", where="--meaning", allowed="liquid, metal"
        )
    return read_mesh(
        Path(str(words.tank)),
        words.unit,
        words.forward,
        words.up,
        meaning=meanings[words.meaning],
        body=mesh_body(words),
        cavity=_cavity(words.cavity),
        plug="all" if words.plug == ["all"] else words.plug,
        chord=mesh_chord(words),
        examined=examined,
    )


def is_mesh(case: TankCase, words: TankWords) -> bool:
    """Whether the tank's shell came from a mesh, which may hold plates that nobody named."""
    if case.project is not None:
        return case.project.shell_is_mesh
    return words.tank is not None


def mesh_body(words: TankWords) -> int | str | None:
    """The body chosen: its number, its name, ``all``, or None."""
    return int(words.body) if words.body is not None and words.body.isdigit() else words.body


def mesh_chord(words: TankWords) -> float | None:
    """The chord tolerance for a STEP file [m], or None."""
    from tanksolve.units import parse_length

    return None if words.chord is None else parse_length(words.chord, "--chord")


def _cavity(text: str | None) -> int | Literal["all"] | None:
    from tanksolve.errors import MeshError

    if text is None or text == "all":
        return "all" if text else None
    if not text.isdigit():
        raise MeshError(
            f"'{text}' is not a cavity", where="--cavity", allowed="a number from 1, or all"
        )
    return int(text)


def _from_file(words: TankWords) -> TankCase:
    from tanksolve.model.mounting import mount
    from tanksolve.project.inline import ReadFill, fill_words
    from tanksolve.project.load import load

    refuse_idle(words)
    project = load(Path(str(words.tank)))
    tank, ports = project.tank, project.ports
    if any(project.mounting):
        tank, ports = mount(tank, ports, project.rotation)
    read_fill = None
    if project.fill is not None:
        words_of_fill = fill_words(project.fill)
        read_fill = ReadFill(project.fill, project.fill_unit, words_of_fill)
    return TankCase(
        tank,
        ports,
        project.tank,
        project.ports,
        read_fill,
        project.pickup_rule,
        project.density,
        tuple(note for note in project.notes if read_fill is None or note != read_fill.words),
        project,
    )


def _ports(words: TankWords) -> "list[Port]":
    from tanksolve.errors import PortError
    from tanksolve.model.ports import PortKind
    from tanksolve.project.inline import parse_port

    given = {
        PortKind.PICKUP: words.pickup,
        PortKind.BREATHER: words.breather,
        PortKind.FILLER: words.filler,
        PortKind.RETURN: words.return_,
        PortKind.DRAIN: words.drain,
        PortKind.HEATER: words.heater,
        PortKind.LEVEL_SWITCH: words.level_switch,
    }
    ports = [parse_port(kind, text) for kind, texts in given.items() for text in texts or ()]
    names = [port.name for port in ports]
    for name in names:
        if names.count(name) > 1:
            raise PortError(
                f"two ports are called '{name}'",
                where="--pickup, --breather, ...",
                next_step="give each port a name of its own",
            )
    return ports


def _filled(case: TankCase, words: TankWords) -> TankCase:
    if words.fill is None:
        return case
    from tanksolve.project.inline import parse_fill

    return replace(case, read_fill=parse_fill(words.fill, case.tank, ports=case.ports))
