"""The table of the tank file whose shell is a mesh file."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from tanksolve.errors import TankError
from tanksolve.model.tank import Tank
from tanksolve.project.quantities import Strict

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
        int | Literal["all"] | None,
        Field(description="which body of a file with several, as inspect numbers them; or all"),
    ] = None
    measured_from: Annotated[
        Literal["origin", "corner"],
        Field(
            description="where ports are measured from: the mesh's origin, or its rear right bottom corner"
        ),
    ] = "origin"

    def build(self, name: str, folder: Path) -> Tank:
        """Read the mesh. Raises MeshError, or QuantityError for its unit."""
        from tanksolve.build.mesh_file import read_mesh

        tank = read_mesh(
            folder / self.file,
            self.unit,
            self.forward,
            self.up,
            meaning=self.meaning,
            body=self.body,
        )
        if self.measured_from == "origin":
            return replace(tank, name=name)
        x, y, z = (0.0 - round(1000.0 * float(c), 1) for c in tank.lower)
        note = (
            "positions are measured from the rear right bottom corner of the enclosing box; "
            f"the mesh's own origin is at ({x:.1f}, {y:.1f}, {z:.1f}) mm"
        )
        return replace(
            tank,
            name=name,
            vertices=tank.vertices - tank.lower,
            notes=(*tank.notes, note),
            datum=(0.0, 0.0, 0.0),
        )

    def check_parts(self) -> None:
        """Refuse sumps, baffles and internals measured from a mesh's own origin. Raises TankError."""
        if self.measured_from == "origin":
            raise TankError(
                "sumps, baffles and internals are measured from the corner of the tank, this mesh from its origin",
                next_step='set measured_from = "corner"; it holds for the ports too',
            )
