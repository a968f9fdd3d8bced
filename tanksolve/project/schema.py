"""The tank file, version 1, as pydantic models: what every key is and may be.

pydantic is imported here and in the modules below, and this one only when a tank file is read.
"""

import json
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from tanksolve.errors import PortError
from tanksolve.geometry.plugs import Plug
from tanksolve.model.ports import Port, PortKind
from tanksolve.project.fittings import (
    BaffleTable,
    InternalTable,
    SumpTable,
)
from tanksolve.project.inline import RULES
from tanksolve.project.patterns import FILL
from tanksolve.project.pipes import BalancePipeTable
from tanksolve.project.quantities import Angle, Density, Facing, Flow, Length, PlaceTriple, Strict
from tanksolve.project.shapes import Shape

__all__ = ["VERSION", "TankFile", "schema_json"]

VERSION = 1


class PortTable(Strict):
    """An opening in the tank."""

    name: Annotated[str, Field(description="how you call it", min_length=1)]
    kind: Annotated[
        Literal["pickup", "breather", "filler", "return", "drain", "heater", "level switch"],
        Field(description="what it is for; sets the default rule"),
    ]
    at: Annotated[
        PlaceTriple | None,
        Field(description="centre of the opening, from rear wall, right wall and floor"),
    ] = None
    plug: Annotated[
        str | None, Field(description="a plug of the mesh, whose centre, bore and facing it takes")
    ] = None
    bore: Annotated[Length | None, Field(description="inner diameter of the opening", gt=0.0)] = (
        None
    )
    facing: Annotated[Facing | None, Field(description="direction out of the opening")] = None
    length: Annotated[
        Length, Field(description="how far a strainer reaches along facing", ge=0.0)
    ] = 0.0
    cover: Annotated[
        Length | None,
        Field(description="liquid wanted over a wet port, clearance under a dry one", ge=0.0),
    ] = None
    rule: Annotated[
        Literal["wet", "dry", "none"] | None,
        Field(description="must stay wet, must stay dry, or sets no limit"),
    ] = None
    flow: Annotated[Flow | None, Field(description="what the pump draws from a pickup", ge=0.0)] = (
        None
    )

    @model_validator(mode="after")
    def _has_a_place(self) -> "PortTable":
        if (self.at is None) == (self.plug is None):
            what = (
                "the key 'at' is missing" if self.at is None else "'at' and 'plug' are both given"
            )
            context = {"what": what, "allowed": "at = ..., or plug = ...", "next": ""}
            raise PydanticCustomError("tanksolve", "{what}", context)
        return self

    def build(self, plugs: tuple[Plug, ...]) -> Port:
        """Make the port, in one of the mesh's ``plugs`` where it says so. Raises PortError."""
        at, bore, facing = self.at, self.bore, self.facing
        rim: tuple[tuple[float, float, float], ...] = ()
        if at is None:
            hole = next((plug for plug in plugs if plug.name == self.plug), None)
            if hole is None:
                known = ", ".join(plug.name for plug in plugs) or "none: nothing is plugged"
                raise PortError(f"the mesh has no plug '{self.plug}'", allowed=known)
            rim = () if bore else hole.rim
            at, bore, facing = hole.centre, bore or hole.across, facing or hole.facing
        return Port(
            self.name,
            PortKind(self.kind),
            at,
            bore=bore,
            facing=facing,
            length=self.length,
            rule=None if self.rule is None else RULES[self.rule],
            cover=self.cover,
            flow=self.flow,
            rim=rim,
        )


class BodyTable(Strict):
    """A further tank beside the first."""

    name: Annotated[str, Field(description="how you call it", min_length=1)]
    at: Annotated[
        PlaceTriple,
        Field(
            description="its rear right bottom corner, from that of the first tank; not negative"
        ),
    ]
    tank: Annotated[
        Shape | None, Field(description="its own shape and sizes; left out: the same as [tank]")
    ] = None


class LiquidTable(Strict):
    """What is in the tank."""

    name: Annotated[str, Field(description="what it is called")] = "liquid"
    density: Annotated[Density | None, Field(description="for the mass of the liquid", gt=0.0)] = (
        None
    )


class MountingTable(Strict):
    """How the tank is turned in the machine: yaw, then pitch, then roll."""

    yaw: Annotated[Angle, Field(description="tank's nose to the left +")] = 0.0
    pitch: Annotated[Angle, Field(description="tank's nose up +")] = 0.0
    roll: Annotated[Angle, Field(description="tank's right side down +")] = 0.0


class TankFile(Strict):
    """A whole tank file."""

    tanksolve_file: Annotated[Literal[1], Field(description="version of this format: 1")]
    name: Annotated[str, Field(description="what the tank is called", min_length=1)] = "tank"
    fill: Annotated[
        str | None,
        Field(
            description="a volume, a range (30 L..42 L) or a depth standing level (120 mm)",
            json_schema_extra={"pattern": FILL},
        ),
    ] = None
    pickups: Annotated[
        Literal["all", "any"],
        Field(description="whether all pickups must be covered, or any one is enough"),
    ] = "all"
    tank: Annotated[Shape, Field(description="the shell: a shape with its sizes, or a mesh")]
    body: Annotated[
        tuple[BodyTable, ...], Field(description="further tanks beside the first, such as a twin")
    ] = ()
    sump: Annotated[tuple[SumpTable, ...], Field(description="pots under the floor")] = ()
    baffle: Annotated[tuple[BaffleTable, ...], Field(description="plates in the tank")] = ()
    internal: Annotated[
        tuple[InternalTable, ...], Field(description="solid things that take room")
    ] = ()
    balance_pipe: Annotated[
        tuple[BalancePipeTable, ...], Field(description="pipes between parts of the tank")
    ] = ()
    port: Annotated[
        tuple[PortTable, ...], Field(description="openings: pickups, breathers, fillers, ...")
    ] = ()
    liquid: Annotated[LiquidTable, Field(description="what is in the tank")] = LiquidTable()
    mounting: Annotated[
        MountingTable, Field(description="how the tank is turned in the machine")
    ] = MountingTable()


def schema_json() -> str:
    """The JSON Schema of the tank file, for editors that complete and check TOML."""
    schema: dict[str, Any] = TankFile.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = f"tanksolve tank file, version {VERSION}"
    return json.dumps(schema, indent=2)
