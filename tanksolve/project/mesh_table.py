"""The table of the tank file whose shell is a mesh file."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from tanksolve.errors import TankError
from tanksolve.geometry.plugs import Plug
from tanksolve.model.tank import Tank
from tanksolve.project.quantities import Length, Strict
from tanksolve.unit_systems import stated

__all__ = ["Mesh"]


class Mesh(Strict):
    """A mesh file."""

    shape: Annotated[Literal["mesh"], Field(description="a mesh file")]
    file: Annotated[str, Field(description="path of the mesh, from the tank file's folder")]
    unit: Annotated[
        str | None, Field(description="length unit of the mesh, where its format states none")
    ] = None
    forward: Annotated[
        str | None, Field(description="mesh axis that points forward: +x, -x, +y, ...")
    ] = None
    up: Annotated[str | None, Field(description="mesh axis that points up")] = None
    meaning: Annotated[
        Literal["liquid", "metal"] | None,
        Field(description="whether the mesh bounds the liquid or is the metal"),
    ] = None
    body: Annotated[
        int | str | None,
        Field(description="which of several bodies: its name, its number from 1, or all"),
    ] = None
    cavity: Annotated[
        int | Literal["all"] | None,
        Field(description="which of several cavities in the metal, from 1, or all"),
    ] = None
    plug: Annotated[
        Literal["all"] | tuple[str, ...] | None,
        Field(
            description="closes the open ports of a wall: all, or a name for each, the largest first"
        ),
    ] = None
    seal: Annotated[
        Length | None,
        Field(description="for metal: the widest opening that is closed; else proposed", gt=0.0),
    ] = None
    inside: Annotated[
        tuple[Length, Length, Length] | None,
        Field(
            description="for metal: a point of the space that is meant, forward, left and up from the "
            "mesh's own origin; else the greatest"
        ),
    ] = None
    chord_tolerance: Annotated[
        Length | None, Field(description="for STEP: how far facets may stray from a curve", gt=0.0)
    ] = None
    measured_from: Annotated[
        Literal["origin", "corner"],
        Field(
            description="where places are measured from: the mesh's own origin, or the rear right "
            "bottom corner of its enclosing box"
        ),
    ] = "origin"

    def build(self, name: str, folder: Path) -> tuple[Tank, tuple[Plug, ...]]:
        """Read the mesh, and the plugs over its ports. Raises MeshError, or QuantityError for its unit."""
        from tanksolve.geometry.mesh_file import read_mesh_and_plugs

        tank, plugs = read_mesh_and_plugs(
            folder / self.file,
            self.unit,
            self.forward,
            self.up,
            meaning=self.meaning,
            body=self.body,
            cavity=self.cavity,
            plug=self.plug,
            chord=self.chord_tolerance,
            seal=self.seal,
            inside=self.inside,
        )
        tank = replace(tank, name=name)
        return (tank, plugs) if self.measured_from == "origin" else _from_corner(tank, plugs)

    def check_parts(self) -> None:
        """Refuse sumps, baffles and internals measured from a mesh's own origin. Raises TankError."""
        if self.measured_from == "origin":
            raise TankError(
                "sumps, baffles and internals are measured from the corner of the tank, this mesh from its origin",
                next_step='set measured_from = "corner"; it holds for the ports too',
            )


def _from_corner(tank: Tank, plugs: tuple[Plug, ...]) -> tuple[Tank, tuple[Plug, ...]]:
    """Move everything so that the rear right bottom corner of the enclosing box is the origin."""
    corner = tank.lower
    note = (
        "positions are measured from the rear right bottom corner of the enclosing box; "
        f"the mesh's own origin is at {stated(-corner, 'length', ', ', solved=True)}"
    )
    moved = replace(
        tank, vertices=tank.vertices - corner, notes=(*tank.notes, note), datum=(0.0, 0.0, 0.0)
    )
    centres = [tuple((np.asarray(plug.centre) - corner).tolist()) for plug in plugs]
    return moved, tuple(replace(plug, centre=at) for plug, at in zip(plugs, centres, strict=True))
