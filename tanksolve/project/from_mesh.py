"""A tank file drawn up from a mesh or CAD file: what was understood, and what its owner has to settle.

What only the user can know (axes, unit, whether the mesh is liquid or metal) is asked for in one
message. What may be assumed leans to the stricter side, stands in the file with the word CHECK, and
is told.
"""

import os
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.mesh_file import read_mesh_and_plugs
from tanksolve.geometry.mesh_report import MeshReading, MeshReport, inspect_mesh
from tanksolve.geometry.plugs import Plug
from tanksolve.geometry.readings import Meaning
from tanksolve.kernel.topology.free_space import winding_numbers
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank
from tanksolve.units import volume_words

__all__ = ["Draft", "draft"]

_FILLED = 0.8  # of the capacity: a fill to start from
_UPRIGHT = 0.5  # cosine from which an opening faces up


@dataclass(frozen=True)
class Draft:
    """A tank file drawn up.

    Attributes
    ----------
    text : of the file, with comments; tank : as read; ports : one for each opening of a wall.
    assumed : what its owner has to check, in words.
    """

    text: str
    tank: Tank
    ports: tuple[Port, ...]
    assumed: tuple[str, ...]


def draft(
    mesh: Path,
    target: Path,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    meaning: Meaning | None = None,
) -> Draft:
    """Draw up the tank file ``target`` for a ``mesh`` file; writes nothing.

    Raises MeshError for a mesh that cannot be read, and, in one message, for all that neither the
    file nor the arguments state.
    """
    report = inspect_mesh(mesh, unit, forward, up, body="all")
    if meaning is None:
        meaning = _meaning(report)
    if report.missing or meaning is None or not report.usable:
        raise _questions(report, meaning, mesh)
    several = _several(report, meaning)
    tank, plugs = read_mesh_and_plugs(
        *(mesh, unit, forward, up),
        meaning=meaning,
        body="all",
        plug="all",
        cavity=1 if several and meaning == "metal" else None,
        examined=report.intake,
    )
    ports = _ports(tank, plugs)
    assumed = [f"the fill, {100 * _FILLED:.0f} % of the capacity", *([several] if several else [])]
    assumed += [
        f"that this space is the tank: {other}" for other in _reading(report, meaning).others
    ]
    assumed += [
        f"{port.name} as a {port.kind.value}"
        + ("" if plug.round else f" ({plug.shape}: its own outline counts)")
        for port, plug in zip(ports, plugs, strict=True)
    ]
    if not any(port.kind is PortKind.PICKUP for port in ports):
        assumed.append("no opening looks like a pickup: add one")
    text = _text(report, tank, ports, meaning, _from(target, mesh), several)
    return Draft(text, tank, ports, tuple(assumed))


def _meaning(report: MeshReport) -> Meaning | None:
    """What the mesh means, where that is sure: one reading, or a thin wall with open ports."""
    names = {reading.meaning: reading for reading in report.readings}
    metal = names.get("metal")
    if metal is not None and (len(names) == 1 or (metal.plugs and len(metal.volumes_m3) == 1)):
        return "metal"
    return "liquid" if list(names) == ["liquid"] else None


def _several(report: MeshReport, meaning: Meaning) -> str:
    """What is assumed where the file holds several bodies of liquid; empty where it holds one.

    Two cavities of a wall may be two tanks: the greatest is taken. Bodies drawn as liquid are one tank's.
    """
    volumes = _reading(report, meaning).volumes_m3
    if len(volumes) == 1:
        return ""
    each = ", ".join(volume_words(volume) for volume in volumes)
    if meaning == "liquid":
        return f"all {len(volumes)} bodies as one tank, {each}; body = 1, 2, ... takes one of them"
    return (
        f'the greatest of {len(volumes)} cavities, {each}; cavity = 2, ..., or "all", takes another'
    )


def _reading(report: MeshReport, meaning: Meaning) -> MeshReading:
    return next(reading for reading in report.readings if reading.meaning == meaning)


def _questions(report: MeshReport, meaning: Meaning | None, mesh: Path) -> MeshError:
    """All that has to be known, in one message, with what was seen to settle it by."""
    sides = " x ".join(f"{1000.0 * side:.4g}" for side in report.box_m)
    length = "mm" if "unit" not in report.missing else "of its units"
    wanted = [f"its {name}" for name in report.missing]
    options = [
        {"unit": "--unit mm", "forward": "--forward +x", "up": "--up +z"}[m] for m in report.missing
    ]
    seen = [f"box along its x, y, z: {sides} {length}"]
    if report.missing:
        turn = report.intake.conventions.rotation
        order = [1000.0 * report.box_m[int(np.argmax(np.abs(turn[:, k])))] for k in range(3)]
        seen = [f"box along its x, y, z: {' x '.join(f'{side:.4g}' for side in order)} {length}"]
    seen.append(report.saw)
    if report.usable and meaning is None:
        wanted.append("whether it is the liquid or the metal")
        options.append("--meaning liquid, or --meaning metal")
    if "unit" not in report.missing:
        seen += [reading.words for reading in report.readings]
    if not wanted:
        return MeshError(
            report.saw, where=str(mesh), next_step="'tanksolve inspect' tells where; mend it first"
        )
    return MeshError(
        f"the file does not say {' nor '.join(wanted)}",
        where=str(mesh),
        allowed="; ".join(seen),
        next_step=f"add {' '.join(options)}, as the drawing has it",
    )


def _ports(tank: Tank, plugs: tuple[Plug, ...]) -> tuple[Port, ...]:
    """A port for each opening, of the kind that asks the most of it where it is: wet low, dry high."""
    middle = 0.5 * float(tank.lower[2] + tank.upper[2])
    ports = []
    for k, plug in enumerate(plugs, 1):
        if plug.facing[2] > _UPRIGHT and plug.centre[2] > middle:
            kind = PortKind.FILLER
        elif plug.centre[2] < middle:
            kind = PortKind.PICKUP
        else:
            kind = PortKind.BREATHER
        ports.append(replace(plug, name=f"opening {k}").port(kind))
    return tuple(ports)


def _from(target: Path, mesh: Path) -> str:
    return Path(os.path.relpath(mesh.resolve(), target.resolve().parent)).as_posix()


def _text(
    report: MeshReport,
    tank: Tank,
    ports: tuple[Port, ...],
    meaning: Meaning,
    file: str,
    several: str,
) -> str:
    """The tank file in words; everything that a person has to look at bears CHECK."""
    conventions = report.intake.conventions
    axes = [
        f"{'+' if row[k] > 0 else '-'}{'xyz'[k]}"
        for row in conventions.rotation
        for k in [int(np.argmax(np.abs(row)))]
    ]
    lines = [
        f"# Drawn up from {Path(file).name}. Look at what bears CHECK, then: tanksolve envelope FILE",
        "#",
        *(f"# {note}" for note in tank.notes),
        *(f"# {reading.words}" for reading in report.readings),
        "",
        "tanksolve_file = 1",
        f"name = {_quoted(tank.name)}",
        f'fill = "{1000.0 * _FILLED * tank.capacity:.4g} L"  # CHECK: {100 * _FILLED:.0f} % of the '
        f"capacity, {volume_words(tank.capacity)}",
        'pickups = "all"  # "any": one covered pickup is enough',
        "",
        "[tank]",
        *(
            f"# CHECK that this space is the tank: {other}"
            for other in _reading(report, meaning).others
        ),
        'shape = "mesh"',
        f"file = {_quoted(file)}",
        f'unit = "{conventions.unit}"',
        f'forward = "{axes[0]}"  # CHECK: the axis of the file that points forward on the machine',
        f'up = "{axes[2]}"',
        f'meaning = "{meaning}"',
    ]
    if meaning == "metal" and ports:
        lines.append(f"plug = [{', '.join(_quoted(port.name) for port in ports)}]")
    check = f"  # CHECK: {several}" if several else ""
    if len(report.intake.shells) > 1 or report.intake.united is not None:
        lines.append(f'body = "all"{check if meaning == "liquid" else ""}')
    if several and meaning == "metal":
        lines.append(f"cavity = 1{check}")
    for port in ports:
        x, y, z = (1000.0 * c for c in port.position)
        lines += [
            "",
            "[[port]]",
            f"name = {_quoted(port.name)}",
            f'kind = "{port.kind.value}"  # CHECK: pickup, return, breather, filler, drain, heater, ...',
            f"plug = {_quoted(port.name)}  # {'across its outline' if port.rim else 'bore'} "
            f"{1000.0 * (port.bore or 0.0):.1f} mm at "
            f"({x:.1f}, {y:.1f}, {z:.1f}) mm",
        ]
    if not any(port.kind is PortKind.PICKUP for port in ports):
        x, y, z = 1000.0 * _low_place(tank)
        lines += [
            "",
            "[[port]]  # CHECK: no opening looks like a pickup; put it where it is",
            'name = "suction"',
            'kind = "pickup"',
            f'at = "{x:.1f}, {y:.1f}, {z:.1f} mm"',
            'bore = "38 mm"',
            'facing = "down"',
        ]
    return "\n".join(lines) + "\n"


def _low_place(tank: Tank) -> NDArray[np.float64]:
    """A place (3,) [m] in the liquid, low, near the middle, and with room for a tube where there is any."""
    low, size = tank.lower, tank.upper - tank.lower
    share = np.linspace(0.02, 0.98, 25)
    plan = np.stack(np.meshgrid(share, share, indexing="ij"), axis=-1).reshape(-1, 2)
    plan = plan[np.argsort(np.linalg.norm((plan - 0.5) * size[:2], axis=1), kind="stable")]
    around = 0.025 * np.array([(0, 0, 0), (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0)])
    corners = tank.vertices[tank.faces]
    for height in (min(0.04, 0.3 * size[2]), 0.3 * size[2], 0.6 * size[2]):
        places = np.column_stack([low[:2] + plan * size[:2], np.full(len(plan), low[2] + height)])
        for near in (around, around[:1]):
            points = (places[:, None] + near).reshape(-1, 3)
            wet = (winding_numbers(corners, points) > 0.5).reshape(len(places), -1).all(axis=1)
            if wet.any():
                return np.asarray(places[int(np.argmax(wet))])
    return np.asarray(0.5 * (tank.lower + tank.upper))


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
