"""Tables of the tank file for what is welded in: sumps, baffles, internals."""

from typing import Annotated, Literal

from pydantic import Field

from tanksolve.geometry import baffles, internals, sumps
from tanksolve.geometry.profile import CHORD_TOLERANCE
from tanksolve.model.tank import Tank
from tanksolve.project.quantities import Angle, Length, PlacePair, PlaceTriple, Strict

__all__ = ["BaffleTable", "InternalTable", "SumpTable"]

_EDGES = ("bottom", "top", "left", "right", "front", "rear")
_CORNER = rf"^\s*(?:{'|'.join(_EDGES)})\s+(?:{'|'.join(_EDGES)})\s*$"
Name = Annotated[str, Field(description="how you call it", min_length=1)]
Direction = Literal["along", "across", "upright"]
Facets = Annotated[
    Length, Field(description="how far the facets may stray from a round wall", gt=0.0)
]


class BoxSump(Strict):
    """A rectangular pot under the floor."""

    shape: Annotated[Literal["box"], Field(description="a rectangular pot")]
    name: Name = "sump"
    at: Annotated[
        PlacePair, Field(description="centre, from the rear wall and from the right wall")
    ]
    length: Annotated[Length, Field(description="size forward at the rim")]
    width: Annotated[Length, Field(description="size across at the rim")]
    depth: Annotated[
        Length, Field(description="below the lowest point of the floor inside the rim")
    ]
    bottom_length: Annotated[Length | None, Field(description="size forward at the bottom")] = None
    bottom_width: Annotated[Length | None, Field(description="size across at the bottom")] = None

    def build(self) -> sumps.Sump:
        """Make the sump. Raises TankError."""
        return sumps.box_sump(
            self.name,
            self.at,
            self.length,
            self.width,
            self.depth,
            bottom_length=self.bottom_length,
            bottom_width=self.bottom_width,
        )


class RoundSump(Strict):
    """A round pot under the floor: a cylinder or a cone."""

    shape: Annotated[
        Literal["cylinder", "cone"], Field(description="a round pot, straight or narrowing")
    ]
    name: Name = "sump"
    at: Annotated[
        PlacePair, Field(description="centre, from the rear wall and from the right wall")
    ]
    diameter: Annotated[Length, Field(description="at the rim")]
    depth: Annotated[
        Length, Field(description="below the lowest point of the floor inside the rim")
    ]
    bottom_diameter: Annotated[
        Length | None, Field(description="at the bottom of a cone; a point where not given", ge=0.0)
    ] = None
    chord_tolerance: Facets = CHORD_TOLERANCE

    def build(self) -> sumps.Sump:
        """Make the sump. Raises TankError."""
        bottom = self.bottom_diameter
        if self.shape == "cone":
            bottom = 0.0 if bottom is None else bottom
        return sumps.round_sump(
            self.name,
            self.at,
            self.diameter,
            self.depth,
            bottom_diameter=bottom,
            chord_tolerance=self.chord_tolerance,
        )


SumpTable = Annotated[BoxSump | RoundSump, Field(discriminator="shape")]


Way = Literal["forward", "rearward", "left", "right", "up", "down"]


class Opening(Strict):
    """What every opening in a plate may have."""

    flap: Annotated[
        Way | None,
        Field(
            description="the only way that a flap over it lets liquid through; left out: no flap"
        ),
    ] = None


class Hole(Opening):
    """A round hole in a plate."""

    diameter: Annotated[Length, Field(description="of the hole")]
    at: Annotated[PlacePair, Field(description="centre on the plate")]


class Slot(Opening):
    """A rectangular hole in a plate."""

    width: Annotated[Length, Field(description="size along the plate")]
    height: Annotated[Length, Field(description="size up the plate (leftward on a flat one)")]
    at: Annotated[PlacePair, Field(description="centre on the plate")]
    corner_radius: Annotated[Length, Field(description="of its corners")] = 0.0


class Notch(Opening):
    """A rectangle cut in from an edge of a plate."""

    edge: Annotated[
        str,
        Field(
            description="bottom, top, left, right, front or rear",
            json_schema_extra={"enum": list(_EDGES)},
        ),
    ]
    at: Annotated[Length, Field(description="middle of the notch along that edge")]
    width: Annotated[Length, Field(description="size along the edge")]
    depth: Annotated[Length, Field(description="size into the plate")]


class CornerClip(Opening):
    """A corner of a plate cut off at 45 degrees."""

    corner: Annotated[
        str,
        Field(
            description="such as bottom right, top left; bottom front for a plate along",
            json_schema_extra={"pattern": _CORNER},
        ),
    ]
    size: Annotated[Length, Field(description="along both edges")]


class BaffleTable(Strict):
    """A plate in the tank."""

    name: Name
    stands: Annotated[
        Literal["across", "along", "flat"], Field(description="which way the plate stands")
    ]
    at: Annotated[
        Length,
        Field(
            description="near face from the rear wall (across), right wall (along) or floor (flat)"
        ),
    ]
    thickness: Annotated[Length, Field(description="of the plate; it lies on the far side of at")]
    lean: Annotated[
        Angle, Field(description="top forward (across), to the left (along); front up (flat)")
    ] = 0.0
    turn: Annotated[
        Angle, Field(description="left end forward (across), front end to the left (along)")
    ] = 0.0
    top_gap: Annotated[Length | None, Field(description="clear of the roof by this much")] = None
    bottom_gap: Annotated[Length | None, Field(description="clear of the floor by this much")] = (
        None
    )
    left_gap: Annotated[Length | None, Field(description="clear of the left wall by this much")] = (
        None
    )
    right_gap: Annotated[
        Length | None, Field(description="clear of the right wall by this much")
    ] = None
    front_gap: Annotated[
        Length | None, Field(description="clear of the front wall by this much")
    ] = None
    rear_gap: Annotated[Length | None, Field(description="clear of the rear wall by this much")] = (
        None
    )
    hole: Annotated[tuple[Hole, ...], Field(description="round holes")] = ()
    slot: Annotated[tuple[Slot, ...], Field(description="rectangular holes")] = ()
    notch: Annotated[tuple[Notch, ...], Field(description="notches in an edge")] = ()
    clip: Annotated[tuple[CornerClip, ...], Field(description="corners cut off")] = ()
    chord_tolerance: Facets = CHORD_TOLERANCE

    def build(self) -> baffles.Baffle:
        """Make the baffle. Raises TankError."""
        gaps = {
            edge: getattr(self, f"{edge}_gap")
            for edge in ("top", "bottom", "left", "right", "front", "rear")
        }
        cuts = [baffles.hole(one.diameter, one.at, flap=one.flap or "") for one in self.hole]
        cuts += [
            baffles.slot(one.width, one.height, one.at, one.corner_radius, flap=one.flap or "")
            for one in self.slot
        ]
        cuts += [
            baffles.notch(one.edge, one.at, one.width, one.depth, flap=one.flap or "")
            for one in self.notch
        ]
        cuts += [baffles.clip(one.corner, one.size, flap=one.flap or "") for one in self.clip]
        return baffles.Baffle(
            self.name,
            self.stands,
            self.at,
            self.thickness,
            self.lean,
            self.turn,
            tuple(cuts),
            {edge: gap for edge, gap in gaps.items() if gap is not None},
            self.chord_tolerance,
        )


class Block(Strict):
    """A rectangular block in the tank."""

    shape: Annotated[Literal["block"], Field(description="a rectangular block")]
    name: Name
    corner: Annotated[PlaceTriple, Field(description="its rear right bottom corner")]
    length: Annotated[Length, Field(description="size forward")]
    width: Annotated[Length, Field(description="size across")]
    height: Annotated[Length, Field(description="size upward")]

    def build(self, shell: Tank) -> internals.Internal:
        """Make the displacer. Raises TankError."""
        return internals.block(self.name, self.corner, self.length, self.width, self.height)


class Rod(Strict):
    """A round block, such as a pump body."""

    shape: Annotated[Literal["rod"], Field(description="a round block, such as a pump body")]
    name: Name
    at: Annotated[PlaceTriple, Field(description="centre of its rear, right or bottom end")]
    diameter: Annotated[Length, Field(description="over the outside")]
    length: Annotated[Length, Field(description="along its axis")]
    lies: Annotated[Direction, Field(description="direction of its axis")] = "upright"
    chord_tolerance: Facets = CHORD_TOLERANCE

    def build(self, shell: Tank) -> internals.Internal:
        """Make the displacer. Raises TankError."""
        sizes = (self.diameter, self.length, self.lies)
        return internals.rod(self.name, self.at, *sizes, chord_tolerance=self.chord_tolerance)


class Tube(Strict):
    """A closed tube from wall to wall."""

    shape: Annotated[Literal["tube"], Field(description="a closed tube from wall to wall")]
    name: Name
    at: Annotated[
        PlacePair, Field(description="where its axis runs, from the two walls (floor) beside it")
    ]
    diameter: Annotated[Length, Field(description="over the outside")]
    lies: Annotated[Direction, Field(description="direction of its axis")] = "upright"
    chord_tolerance: Facets = CHORD_TOLERANCE

    def build(self, shell: Tank) -> internals.Internal:
        """Make the displacer. Raises TankError."""
        return internals.tube(
            self.name, self.at, self.diameter, self.lies, chord_tolerance=self.chord_tolerance
        )


class DropTube(Strict):
    """A pipe that comes down through the roof."""

    shape: Annotated[
        Literal["drop_tube"], Field(description="a pipe that comes down through the roof")
    ]
    name: Name
    at: Annotated[
        PlacePair, Field(description="its axis, from the rear wall and from the right wall")
    ]
    diameter: Annotated[Length, Field(description="over the outside")]
    mouth: Annotated[Length, Field(description="height of its lower end above the floor")]
    chord_tolerance: Facets = CHORD_TOLERANCE

    def build(self, shell: Tank) -> internals.Internal:
        """Make the displacer. Raises TankError."""
        sizes = (self.diameter, self.mouth)
        return internals.drop_tube(self.name, self.at, *sizes, chord_tolerance=self.chord_tolerance)


class Rib(Strict):
    """A flat bar on edge on a wall."""

    shape: Annotated[
        Literal["rib"], Field(description="a flat bar on edge, welded to a plane wall")
    ]
    name: Name
    on: Annotated[
        Literal["floor", "roof", "right", "left", "rear", "front"], Field(description="the wall")
    ]
    runs: Annotated[Direction, Field(description="direction of the bar")]
    at: Annotated[
        Length, Field(description="its near side, from the rear wall, right wall or floor")
    ]
    height: Annotated[Length, Field(description="how far it stands into the tank")]
    thickness: Annotated[Length, Field(description="of the bar")]
    start: Annotated[
        Length | None, Field(description="where it begins, from the wall that the run starts at")
    ] = None
    stop: Annotated[Length | None, Field(description="where it ends, from the same wall")] = None

    def build(self, shell: Tank) -> internals.Internal:
        """Make the displacer. Raises TankError."""
        place = (self.on, self.runs, self.at, self.height, self.thickness)
        return internals.rib(self.name, *place, shell, start=self.start, stop=self.stop)


InternalTable = Annotated[Block | Rod | Tube | DropTube | Rib, Field(discriminator="shape")]
