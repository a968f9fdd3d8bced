"""The tank: a closed surface that bounds the liquid, in the tank frame."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.errors import PortError, TankError
from tanksolve.kernel.capacity.tree import FaceTree, build_tree, patch_tensors
from tanksolve.kernel.capacity.whole_surface import (
    enclosed_volume,
    squared_distance,
    winding_number,
)
from tanksolve.kernel.pools.links import Links
from tanksolve.kernel.topology.convexity import is_convex, surely_convex
from tanksolve.kernel.topology.mesh_graph import MeshGraph, build_graph
from tanksolve.kernel.topology.minimum_cones import PitCones, build_cones
from tanksolve.model.link import Link, stations_of
from tanksolve.model.ports import Port
from tanksolve.unit_systems import current, stated, told

Array = NDArray[np.float64]
Faces = NDArray[np.int64]

__all__ = ["Tank"]


@dataclass(frozen=True, eq=False)
class Tank:
    """A wetted interior as a closed triangle mesh with outward faces.

    Attributes
    ----------
    name : how the user calls it.
    vertices : (N, 3) float [m], tank frame: x forward, y left, z up. Merged: no two are equal.
    faces : (F, 3) int, corners counter-clockwise seen from outside the liquid.
    notes : what was read or assumed on the way here, in words, for the user to confirm.
    volume_error : signed error of ``capacity`` from facets that stand for curves [m³]; positive
        where the mesh holds more than the curved tank; of a STEP file an estimate; None where it is
        not known.
    datum : the point that places are told from: rear wall, right wall, floor [m]; None takes the
        rear right bottom corner of the enclosing box.

    links : flaps and balance pipes; the mesh is closed at the flaps.
    taken : room that plates and internals known by themselves take from the shell and its sumps [m³].

    Nothing is repaired here: ``tanksolve.geometry`` makes meshes that pass, or refuses them.
    Raises TankError where the surface bounds no positive volume.
    """

    name: str
    vertices: Array = field(repr=False, metadata={"json": False})
    faces: Faces = field(repr=False, metadata={"json": False})
    notes: tuple[str, ...] = ()
    volume_error: float | None = 0.0
    datum: tuple[float, float, float] | None = None
    links: tuple[Link, ...] = ()
    taken: float = field(default=0.0, metadata={"json": False})

    def __post_init__(self) -> None:
        vertices = np.array(self.vertices, dtype=np.float64, order="C")
        faces = np.array(self.faces, dtype=np.int64, order="C")
        if (
            vertices.ndim != 2
            or vertices.shape[1:] != (3,)
            or faces.ndim != 2
            or faces.shape[1:] != (3,)
        ):
            raise ValueError("vertices and faces must be (N, 3) and (F, 3)")
        if faces.size and not 0 <= faces.min() <= faces.max() < len(vertices):
            raise ValueError("a face names a vertex that is not there")
        vertices.flags.writeable = False
        faces.flags.writeable = False
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)
        if not self.capacity > 0.0:
            raise TankError(
                f"the surface bounds a volume of {stated(self.capacity, 'volume')}",
                where=f"tank '{self.name}'",
                allowed="a positive volume",
                next_step="check that the faces point out of the liquid and that the tank is not flat",
            )

    @cached_property
    def capacity(self) -> float:
        """Volume that the surface bounds [m³]."""
        if len(self.faces) == 0:
            return 0.0
        return float(enclosed_volume(self.vertices, self.faces, self.centre))

    @cached_property
    def lower(self) -> Array:
        """Rear, right and bottom end of the enclosing box (3,) [m]."""
        return np.asarray(self.vertices.min(axis=0))

    @cached_property
    def upper(self) -> Array:
        """Front, left and top end of the enclosing box (3,) [m]."""
        return np.asarray(self.vertices.max(axis=0))

    @property
    def corner(self) -> Array:
        """Where rear wall, right wall and floor meet (3,) [m]: places are told from here."""
        return self.lower if self.datum is None else np.asarray(self.datum)

    @property
    def centre(self) -> Array:
        """Centre of the enclosing box (3,) [m]."""
        return 0.5 * (self.lower + self.upper)

    @cached_property
    def tree(self) -> FaceTree:
        """Bounding-volume tree over the faces, built at first use."""
        return build_tree(self.vertices, self.faces)

    @cached_property
    def wall_area(self) -> float:
        """Area of the whole surface [m²]."""
        return float(np.linalg.norm(self.graph.areas, axis=1).sum())

    @cached_property
    def graph(self) -> MeshGraph:
        """Who is next to whom on the surface, for pools; built at first use."""
        return build_graph(self.vertices, self.faces, self.tree)

    @cached_property
    def pit_cones(self) -> PitCones:
        """In which directions each vertex can be a pit or hang; built at first use."""
        return build_cones(self.graph)

    @cached_property
    def link_stations(self) -> Links:
        """The links as arrays for the kernels, built at first use."""
        return stations_of(self.links)

    @cached_property
    def pipe_stations(self) -> Links:
        """Those of the links that are open both ways."""
        return stations_of([link for link in self.links if link.kind == "balance pipe"])

    @cached_property
    def span(self) -> tuple[Array, Array]:
        """The lower and upper corner (3,) [m] of a box that holds the tank and its balance pipes."""
        rings = self.pipe_stations.rings
        reach = np.hypot(rings[:, 3:6], rings[:, 6:])
        ends = np.vstack([self.vertices, rings[:, :3] - reach, rings[:, :3] + reach])
        return ends.min(axis=0), ends.max(axis=0)

    @cached_property
    def tensors(self) -> Array:
        """Patch tensors of the tree for centroids and second moments, built at first use."""
        return np.asarray(patch_tensors(self.tree))

    @cached_property
    def is_convex(self) -> bool:
        """Whether no edge is reflex: liquid then has one pit, and one level, at any attitude."""
        return surely_convex(self.vertices, self.faces) or bool(is_convex(self.graph))

    def height_range(self, up: ArrayLike) -> tuple[Array, Array]:
        """Lowest and highest point along each of ``up`` (D, 3): two arrays (D,) [m]."""
        heights = self.vertices @ np.atleast_2d(np.asarray(up, float)).T
        return heights.min(axis=0), heights.max(axis=0)

    def winding(self, points: ArrayLike) -> Array:
        """Winding number of the surface about each of ``points`` (P, 3): 1 inside, 0 outside."""
        at = np.array(np.atleast_2d(np.asarray(points, float)))
        return np.array([winding_number(self.vertices, self.faces, point) for point in at])

    def check_ports(self, ports: Sequence[Port]) -> None:
        """Refuse ports that lie outside the tank, saying by how much they miss.

        Both ends of a strainer count. A port on the wall (within 1e-6 of the tank's size) is inside.
        Raises PortError.
        """
        names = [port.name for port in ports]
        for name in names:
            if names.count(name) > 1:
                raise PortError(
                    f"two ports are called '{name}'", next_step="give each port a name of its own"
                )
        tolerance = 1e-6 * float(np.linalg.norm(self.upper - self.lower))
        for port in ports:
            for place, point in zip(("", "its far end "), port.ends, strict=False):
                gap = self.distance_to_wall(point)
                if gap > tolerance and abs(float(self.winding(point)[0])) < 0.5:
                    raise self._outside(f"port '{port.name}'", place, point, gap)

    @property
    def has_own_origin(self) -> bool:
        """Whether places are measured from somewhere else than the rear right bottom corner."""
        return self.datum is None and float(np.abs(self.lower).max()) > 1e-9

    @property
    def origin_words(self) -> str:
        """From where places in the tank are measured, in words."""
        if self.has_own_origin:
            return (
                "places are forward, left and up from the mesh file's origin (its own x, y, z only "
                "where they point so): the rear right bottom corner of its enclosing box lies at "
                f"{stated(self.lower, 'length', ', ', solved=True)}"
            )
        return "measure from the rear wall, the right wall and the floor"

    @property
    def somewhere_low(self) -> str:
        """A round place near the middle of the floor as it is typed, for an example: ``450,150,30mm``."""
        step = 0.0127 if current().sixteenths else 0.005
        place = self.lower + (self.upper - self.lower) * (0.5, 0.5, 0.1)
        return stated(np.round(place / step) * step, "length", ",").replace(" ", "")

    def _outside(self, where: str, place: str, point: Array, gap: float) -> PortError:
        boxed = bool(np.all((self.lower <= point) & (point <= self.upper)))
        there = "in metal (a plate, a tube, a wall)" if boxed else "outside the tank"
        return PortError(
            f"{place}{stated(point, 'length', ', ')} is {there} by {told(gap, 'length')}",
            where=where,
            allowed="a point in the liquid space; the tank's enclosing box is "
            f"{stated(self.upper - self.lower, 'length', solved=True)} (length x width x height)",
            next_step="positions are in metres here: 0.2 for 200 mm"
            if float(np.abs(point).max()) > 50.0 * float(np.abs(self.upper - self.lower).max())
            else self.origin_words,
        )

    def seated(self, point: ArrayLike) -> Array:
        """The point (3,) itself, or, where it is on a wall or a hair beyond, one a hair inside.

        A drop from a point that stands outside by a rounding error would miss the tank. Remembered: a
        search asks for the same few places over and over.
        """
        key = np.asarray(point, float).tobytes()
        if key not in self._seats:
            self._seats[key] = self._seated(np.array(point, float))
        return self._seats[key].copy()

    @cached_property
    def _seats(self) -> dict[bytes, Array]:
        return {}

    def _seated(self, at: Array) -> Array:
        hair = 1e-7 * float(np.linalg.norm(self.upper - self.lower))
        gap = self.distance_to_wall(at)
        if gap > hair and self.winding(at)[0] > 0.5:
            return at
        steps = np.array([step for step in product((-1.0, 0.0, 1.0), repeat=3) if any(step)])
        for way in (*steps, *self._ways_in(at, gap + hair)):
            moved = at + 1.5 * (gap + 2.0 * hair) / float(np.linalg.norm(way)) * way
            if self.winding(moved)[0] > 0.5 and self.distance_to_wall(moved) > 0.5 * hair:
                return np.asarray(moved)
        return at

    def _ways_in(self, at: Array, reach: float) -> Iterator[Array]:
        """Inward from the faces about a place on the wall: all together, then one by one."""
        corner, out, low, high = self._face_planes
        near = np.abs(np.einsum("fi,fi->f", corner - at, out)) <= reach
        near &= np.all(low <= at + reach, axis=1) & np.all(high >= at - reach, axis=1)
        inward = -np.unique(np.round(out[near], 6), axis=0)
        if np.linalg.norm(inward.sum(axis=0)) > 1e-9:
            yield inward.sum(axis=0)
        yield from inward

    @cached_property
    def _face_planes(self) -> tuple[Array, Array, Array, Array]:
        """A corner, the normal outwards, least and greatest coordinates of each face that has an area."""
        corners = self.vertices[self.faces]
        out = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        size = np.linalg.norm(out, axis=1)
        corners, normal = corners[size > 0.0], out[size > 0.0] / size[size > 0.0, None]
        return corners[:, 0], normal, corners.min(axis=1), corners.max(axis=1)

    def distance_to_wall(self, point: ArrayLike) -> float:
        """Distance [m] from a point (3,) to the nearest place on the surface."""
        at = np.array(point, float)
        return float(np.sqrt(squared_distance(self.vertices, self.faces, at)))

    def from_walls(self, point: ArrayLike) -> tuple[float, float, float]:
        """Distances [m] of a point from the rear wall, the right wall and the floor."""
        x, y, z = (float(c) for c in np.asarray(point, float) - self.corner)
        return x, y, z
