"""Links between pools that the mesh does not show: flaps in baffles, pipes between bodies of liquid.

A link leads one way, along a run of *stations*, each the outline of the opening there. Liquid gets
through where it stands above the *sill*, the greatest of the stations' lowest points: a pipe that
rises on its way must be risen over, since no siphon is taken for granted. A way back is a second
link.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "NO_LINKS",
    "Links",
    "lowest_point",
    "mouth_below",
    "shifted",
    "sill_height",
    "where_any",
]


class Links(NamedTuple):
    """K one-way links; their stations, and the outlines of these, lie side by side.

    Attributes
    ----------
    rings : (R, 9) float [m]   rows of the outlines: the centre and two half axes of an ellipse; a corner
        of a polygon has half axes of 0.
    inside : (R, 3) float [m]   each centre moved by a hair into the liquid that its mouth opens to;
        read at the first and the last station of a link only.
    first_ring : (S + 1,) int   the rows of station s are ``first_ring[s]:first_ring[s + 1]``.
    first_station : (K + 1,) int   likewise the stations of link k, from where it lets in to where
        it lets out.
    """

    rings: Array
    inside: Array
    first_ring: Ints
    first_station: Ints


NO_LINKS = Links(np.empty((0, 9)), np.empty((0, 3)), np.zeros(1, np.int64), np.zeros(1, np.int64))


def shifted(links: Links, origin: Array) -> Links:
    """The same links with places from ``origin`` (3,) [m]."""
    rings = links.rings.copy()
    rings[:, :3] -= origin
    return Links(rings, links.inside - origin, links.first_ring, links.first_station)


def where_any(links: Links, origin: Array) -> Links | None:
    """The links as :func:`shifted`; None where there are none.

    What a kernel does for links alone it asks for with ``is None``: the compiler then leaves it out, a
    seventh of a first run.
    """
    return shifted(links, origin) if len(links.first_station) > 1 else None


@compiled_inner
def _lowest(links: Links, station: int, up: Array) -> tuple[float, int]:
    """Height of a station's lowest place along ``up`` (3,), and its row."""
    height, row = np.inf, -1
    for r in range(links.first_ring[station], links.first_ring[station + 1]):
        ring = links.rings[r]
        first = up[0] * ring[3] + up[1] * ring[4] + up[2] * ring[5]
        second = up[0] * ring[6] + up[1] * ring[7] + up[2] * ring[8]
        low = up[0] * ring[0] + up[1] * ring[1] + up[2] * ring[2]
        low -= np.sqrt(first * first + second * second)
        if low < height:
            height, row = low, r
    return height, row


@compiled_inner
def sill_height(links: Links, link: int, up: Array) -> float:
    """Height [m] along ``up`` (3,) that liquid must stand above to get through."""
    sill = -np.inf
    for station in range(links.first_station[link], links.first_station[link + 1]):
        sill = max(sill, _lowest(links, station, up)[0])
    return sill


@compiled_inner
def mouth_below(links: Links, station: int, up: Array) -> Array:
    """A place (3,) in the liquid space just inside a mouth: at its lowest corner, or an ellipse's centre."""
    place: Array = links.inside[_lowest(links, station, up)[1]].copy()
    return place


@compiled_inner
def lowest_point(links: Links, station: int, up: Array) -> Array:
    """The place (3,) of a station's outline that is lowest along ``up`` (3,)."""
    ring = links.rings[_lowest(links, station, up)[1]]
    first = up[0] * ring[3] + up[1] * ring[4] + up[2] * ring[5]
    second = up[0] * ring[6] + up[1] * ring[7] + up[2] * ring[8]
    long = np.sqrt(first * first + second * second)
    point: Array = ring[:3].copy()
    if long > 0.0:
        for k in range(3):
            point[k] -= (first * ring[3 + k] + second * ring[6 + k]) / long
    return point
