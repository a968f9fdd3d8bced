"""Tables of the tank file that give the shell: one per shape, with the key ``shape``."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from tanksolve.build import parts
from tanksolve.build.profile import CHORD_TOLERANCE
from tanksolve.errors import TankError
from tanksolve.model.tank import Tank
from tanksolve.project.quantities import Length, Points, Strict

__all__ = ["Shape"]


class _Sized(Strict):
    """What every parametric shape has."""

    sizes: Annotated[
        Literal["inside", "outside"],
        Field(description="whether sizes are taken inside or over the plates"),
    ] = "inside"
    wall: Annotated[
        Length | None, Field(description="thickness of the plates; needed for outside sizes")
    ] = None

    def build(self, name: str, folder: Path) -> Tank:
        """Make the shell. Raises TankError."""
        options = {key: value for key, value in self if key not in ("shape", "sizes", "wall")}
        made: Tank = getattr(parts, self.shape)(  # type: ignore[attr-defined]
            **options, name=name, outside=self.sizes == "outside", wall=self.wall or 0.0
        )
        return made

    def check_parts(self) -> None:
        """Parts are measured from the corner that every parametric shape starts at."""


class _Curved(_Sized):
    chord_tolerance: Annotated[
        Length, Field(description="how far the facets may stray from a curved wall", gt=0.0)
    ] = CHORD_TOLERANCE


Direction = Literal["along", "across", "upright"]
Lies = Annotated[
    Direction, Field(description="direction of the axis: along the machine, across it, or upright")
]


class Box(_Sized):
    """A rectangular tank."""

    shape: Annotated[Literal["box"], Field(description="a rectangular tank")]
    length: Annotated[Length, Field(description="size forward")]
    width: Annotated[Length, Field(description="size across, right to left")]
    height: Annotated[Length, Field(description="size upward")]


class Cylinder(_Curved):
    """A round tank with flat ends."""

    shape: Annotated[Literal["cylinder"], Field(description="a round tank with flat ends")]
    diameter: Annotated[Length, Field(description="diameter")]
    length: Annotated[
        Length, Field(description="between the flat ends; the height of an upright one")
    ]
    lies: Lies = "along"


class Extrusion(_Sized):
    """Any constant section."""

    shape: Annotated[Literal["extrusion"], Field(description="any constant section")]
    profile: Annotated[
        Points,
        Field(
            description="corners in order: (left, up) along, (forward, up) across, (forward, left) upright"
        ),
    ]
    length: Annotated[Length, Field(description="between the flat ends")]
    along: Lies = "along"


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
    measured_from: Annotated[
        Literal["origin", "corner"],
        Field(
            description="where ports are measured from: the mesh's origin, or its rear right bottom corner"
        ),
    ] = "origin"

    def build(self, name: str, folder: Path) -> Tank:
        """Read the mesh. Raises MeshError, or QuantityError for its unit."""
        from tanksolve.build.mesh_file import read_mesh

        tank = read_mesh(folder / self.file, self.unit, self.forward, self.up, meaning=self.meaning)
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


Shape = Annotated[Box | Cylinder | Extrusion | Mesh, Field(discriminator="shape")]
