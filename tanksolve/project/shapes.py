"""Tables of the tank file that give the shell: one per shape, with the key ``shape``."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from tanksolve.errors import TankError
from tanksolve.geometry import parts, sections, vessels
from tanksolve.geometry.heads import Head
from tanksolve.geometry.plugs import Plug
from tanksolve.geometry.profile import CHORD_TOLERANCE
from tanksolve.model.tank import Tank
from tanksolve.project.mesh_table import Mesh
from tanksolve.project.quantities import Length, Points, Strict
from tanksolve.unit_systems import stated

__all__ = ["Shape"]

Direction = Literal["along", "across", "upright"]
Lies = Annotated[
    Direction, Field(description="direction of the axis: along the machine, across it, upright")
]
SectionWidth = Annotated[
    Length, Field(description="of the section: across (along), forward (across), forward (upright)")
]
SectionHeight = Annotated[
    Length, Field(description="of the section: up (along), up (across), across (upright)")
]
AxisLength = Annotated[Length, Field(description="along the axis, between the flat ends")]


class Sized(Strict):
    """What every parametric shape has."""

    make: ClassVar[Callable[..., Tank]]
    sizes: Annotated[
        Literal["inside", "outside"],
        Field(description="whether sizes are taken inside or over the plates"),
    ] = "inside"
    wall: Annotated[
        Length | None, Field(description="thickness of the plates; needed for outside sizes")
    ] = None

    def options(self) -> dict[str, Any]:
        """What the maker takes: the keys of the table, less those that are read here."""
        return {key: value for key, value in self if key not in ("shape", "sizes", "wall")}

    def build(self, name: str, folder: Path) -> tuple[Tank, tuple[Plug, ...]]:
        """Make the shell; nothing is plugged. Raises TankError."""
        outside = self.sizes == "outside"
        if self.wall is not None and not outside:
            raise TankError(
                f"a wall of {stated(self.wall, 'length')} with sizes taken inside takes nothing off",
                where="tank.wall",
                allowed='sizes = "outside" with a wall, or inside sizes without one',
                next_step='write sizes = "outside" under [tank], or leave out wall',
            )
        tank = type(self).make(**self.options(), name=name, outside=outside, wall=self.wall or 0.0)
        return tank, ()

    def check_parts(self) -> None:
        """Parts are measured from the corner that every parametric shape starts at."""


class Curved(Sized):
    """What every shape with bent walls has."""

    chord_tolerance: Annotated[
        Length, Field(description="how far the facets may stray from a curved wall", gt=0.0)
    ] = CHORD_TOLERANCE


class Box(Curved):
    """A rectangular tank."""

    make = staticmethod(parts.box)
    shape: Annotated[Literal["box"], Field(description="a rectangular tank")]
    length: Annotated[Length, Field(description="size forward")]
    width: Annotated[Length, Field(description="size across, right to left")]
    height: Annotated[Length, Field(description="size upward")]
    corner_radius: Annotated[Length, Field(description="of four bent edges", ge=0.0)] = 0.0
    rounded: Annotated[Direction, Field(description="which way the bent edges run")] = "along"


class ShapedFloor(Sized):
    """A box with a sloped or stepped floor."""

    make = staticmethod(sections.shaped_floor)
    shape: Annotated[
        Literal["shaped_floor"], Field(description="a box with a sloped or stepped floor")
    ]
    length: Annotated[Length, Field(description="size forward")]
    width: Annotated[Length, Field(description="size across")]
    height: Annotated[Length, Field(description="size upward, from the lowest line of the floor")]
    floor: Annotated[
        Points,
        Field(
            description="the floor from the rear wall to the front wall: distance from the rear "
            "wall, height"
        ),
    ]


class Wedge(Sized):
    """A level floor under a sloping roof."""

    make = staticmethod(sections.wedge)
    shape: Annotated[Literal["wedge"], Field(description="a level floor under a sloping roof")]
    length: Annotated[Length, Field(description="size forward")]
    width: Annotated[Length, Field(description="size across")]
    rear_height: Annotated[Length, Field(description="at the rear wall")]
    front_height: Annotated[Length, Field(description="at the front wall")]


class Cylinder(Curved):
    """A round tank with flat ends."""

    make = staticmethod(parts.cylinder)
    shape: Annotated[Literal["cylinder"], Field(description="a round tank with flat ends")]
    diameter: Annotated[Length, Field(description="diameter")]
    length: Annotated[
        Length, Field(description="between the flat ends; the height of an upright one")
    ]
    lies: Lies = "along"


class HeadTable(Strict):
    """One end of a vessel."""

    kind: Annotated[
        Literal["flat", "spherical", "hemispherical", "conical", "ellipsoidal", "torispherical"],
        Field(description="its form"),
    ]
    depth: Annotated[
        Length | None,
        Field(description="how far it bulges; a quarter of the diameter if ellipsoidal (2:1)"),
    ] = None
    crown_radius: Annotated[
        Length | None, Field(description="of a torispherical head; the diameter if not given")
    ] = None
    knuckle_radius: Annotated[
        Length | None, Field(description="of a torispherical head; 6 % of the diameter")
    ] = None

    def build(self) -> Head:
        """Make the head. Raises TankError."""
        return Head(self.kind, self.depth, self.crown_radius, self.knuckle_radius)


class Vessel(Curved):
    """A round tank with dished ends."""

    make = staticmethod(vessels.vessel)
    shape: Annotated[Literal["vessel"], Field(description="a round tank with dished ends")]
    diameter: Annotated[Length, Field(description="of the shell")]
    length: Annotated[Length, Field(description="of the straight shell, between the heads")]
    lies: Lies = "along"
    head: Annotated[HeadTable, Field(description="at the rear, right or bottom end")]
    far_head: Annotated[
        HeadTable | None, Field(description="at the front, left or top end; like head")
    ] = None

    def options(self) -> dict[str, Any]:
        """The heads made, the rest as it is."""
        far = None if self.far_head is None else self.far_head.build()
        return {**super().options(), "head": self.head.build(), "far_head": far}


class Cone(Curved):
    """A frustum of a cone."""

    make = staticmethod(vessels.cone)
    shape: Annotated[Literal["cone"], Field(description="a frustum of a cone, flat ends")]
    diameter: Annotated[Length, Field(description="at the rear, right or bottom end")]
    far_diameter: Annotated[Length, Field(description="at the front, left or top end")]
    length: Annotated[Length, Field(description="between the flat ends")]
    lies: Lies = "upright"


class Hopper(Sized):
    """A rectangular frustum."""

    make = staticmethod(vessels.hopper)
    shape: Annotated[Literal["hopper"], Field(description="a rectangular frustum")]
    length: Annotated[Length, Field(description="size forward at the top")]
    width: Annotated[Length, Field(description="size across at the top")]
    bottom_length: Annotated[Length, Field(description="size forward at the bottom")]
    bottom_width: Annotated[Length, Field(description="size across at the bottom")]
    height: Annotated[Length, Field(description="size upward")]


class Obround(Curved):
    """Two half circles and the straight sides between them."""

    make = staticmethod(sections.obround)
    shape: Annotated[Literal["obround"], Field(description="half circles and straight sides")]
    width: SectionWidth
    height: SectionHeight
    length: AxisLength
    lies: Lies = "along"


class Elliptical(Curved):
    """An elliptical section."""

    make = staticmethod(sections.elliptical)
    shape: Annotated[Literal["elliptical"], Field(description="an elliptical section")]
    width: SectionWidth
    height: SectionHeight
    length: AxisLength
    lies: Lies = "along"


class DSection(Curved):
    """Three flat sides and a half circle."""

    make = staticmethod(sections.d_section)
    shape: Annotated[Literal["d_section"], Field(description="three flat sides and a half circle")]
    width: SectionWidth
    height: SectionHeight
    length: AxisLength
    lies: Lies = "along"
    round_side: Annotated[
        Literal["top", "bottom", "left", "right"],
        Field(description="where the half circle is; left is the far side of the width"),
    ] = "top"


class TSection(Sized):
    """A bar on a stem."""

    make = staticmethod(sections.t_section)
    shape: Annotated[Literal["t_section"], Field(description="a bar on a stem")]
    width: SectionWidth
    height: SectionHeight
    stem_width: Annotated[Length, Field(description="of the stem")]
    stem_height: Annotated[Length, Field(description="of the stem, below the bar")]
    length: AxisLength
    lies: Lies = "along"


class Saddle(Curved):
    """Two lobes over a tunnel."""

    make = staticmethod(sections.saddle)
    shape: Annotated[Literal["saddle"], Field(description="two lobes over a tunnel")]
    width: SectionWidth
    height: SectionHeight
    tunnel_width: Annotated[Length, Field(description="of the tunnel in the middle")]
    tunnel_height: Annotated[Length, Field(description="from the bottom of the lobes to its top")]
    tunnel: Annotated[Literal["round", "square"], Field(description="its top")] = "round"
    length: AxisLength
    lies: Lies = "along"


class Extrusion(Sized):
    """Any constant section."""

    make = staticmethod(parts.extrusion)
    shape: Annotated[Literal["extrusion"], Field(description="any constant section")]
    profile: Annotated[
        Points,
        Field(
            description="corners in order: (left, up) along, (forward, up) across, "
            "(forward, left) upright"
        ),
    ]
    length: AxisLength
    along: Lies = "along"


class Revolved(Curved):
    """Any outline turned about an axis."""

    make = staticmethod(vessels.revolved)
    shape: Annotated[Literal["revolved"], Field(description="any outline turned about an axis")]
    outline: Annotated[
        Points,
        Field(description="corners of half the section: distance from the axis, place along it"),
    ]
    lies: Lies = "upright"


Shape = Annotated[
    Box
    | ShapedFloor
    | Wedge
    | Cylinder
    | Vessel
    | Cone
    | Hopper
    | Obround
    | Elliptical
    | DSection
    | TSection
    | Saddle
    | Extrusion
    | Revolved
    | Mesh,
    Field(discriminator="shape"),
]
