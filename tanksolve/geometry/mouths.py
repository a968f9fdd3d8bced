"""Which faces of a metal wall are wet, and where: the mouths of its openings as loops of the mesh.

Faces that certainly look into the inside or the outside are told by the grid. What is left is
crevices, reached from one side only, which belong to that side, and passages (bores, necks, gaps),
which reach from one to the other. A passage is cut by the shortest loops of edges, and of loops of
like length by the one nearest to the inside: the inner mouth of a bore, above its rounded or
bevelled rim.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.enclosed import Enclosed, Space
from tanksolve.kernel.topology.edges import Edges
from tanksolve.kernel.topology.free_space import first_hits

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

__all__ = ["boundary_loops", "patches", "wet_faces"]

_OUTWARD = 0.1  # of a passage's width: what a mouth may be longer for each width of bore let out
_ACROSS = 2.0  # of the ball's width: what looks farther is no side of an opening that it sealed
_NO_BALL = 1e30  # stands for a width without bounds: all that looks at metal looks across less
_AGREE = 0.1  # of the places of a face that balls must rest on, net of those on its other side
_ENOUGH = 9  # places, where no ball on the other side gainsays: wide balls touch little of a nearly cubic room
_HAIR = 0.12  # cells: how far a ball's middle may be off the place that it rests on
_ISLAND = 9.0  # cells' sides: a lone patch of less area that is said to be inside is not believed
_UNITS = 2**28  # the flow is in whole numbers


def wet_faces(
    vertices: Array, faces: Ints, edges: Edges, space: Space, enclosed: Enclosed, known: Bools
) -> Bools:
    """Faces (F,) that bound the inside; the border between them and the others are the mouths.

    ``faces`` look out of the metal; ``known`` (F,) those that are inside whatever the grid tells. Raises nothing:
    what is wrong shows when the mouths are closed.
    """
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * np.linalg.norm(normal, axis=1)
    normal /= np.maximum(2.0 * area, 1e-300)[:, None]
    side = _votes(corners, normal, area, space, enclosed)
    lengths = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2).ravel()
    beyond = edges.twin // 3
    side = _without_islands(side, beyond, area, space)
    side[known] = 1
    wet = side > 0
    unknown = np.flatnonzero(side == 0)
    for patch in patches(unknown, beyond, len(faces)):
        around = beyond[(3 * patch[:, None] + np.arange(3)).ravel()]
        inner, outer = (side[around] > 0).any(), (side[around] < 0).any()
        if inner and outer:
            look = corners, normal, area, enclosed.width
            wet[_cut(patch, side, beyond, lengths, *look)] = True
        elif inner:
            wet[patch] = True
    return wet


def _votes(
    corners: Array, normal: Array, area: Array, space: Space, enclosed: Enclosed
) -> NDArray[np.int8]:
    """1 for faces that surely look inside, -1 outside, 0 where it cannot be told.

    A place of a face is told where a ball may rest on it: its middle, straight above the place, is
    where such balls may be, and the place is as near to it as any metal. Places are the middles of
    small faces and all that stand next to a cell.
    """
    small = np.flatnonzero(area < 4.0 * space.cell**2)
    over = np.flatnonzero(space.open & space.square & (space.distance < 1.75 * space.cell))
    cells = np.stack(np.unravel_index(over, space.open.shape), axis=1)
    face = np.concatenate([small, space.face.ravel()[over]])
    height = np.concatenate([np.zeros(len(small)), space.distance.ravel()[over]])
    place = np.concatenate([corners[small].mean(axis=1), space.low + space.cell * cells])
    square = np.einsum("ij,ij->i", place - corners[face, 0], normal[face]) >= 0.99 * height
    face, height, place = face[square], height[square], place[square]
    tally = np.zeros((2, len(corners)))
    votes = np.bincount(face, minlength=len(corners))
    for mine, balls in zip(tally, (enclosed.inside, enclosed.outside), strict=True):
        for middles, width in balls:
            if width:
                up, middles = 0.5 * width - height, _grown(middles)
            else:  # the cells next to the face itself; one beyond may lie behind a thin plate
                up = np.where(height > 0.0, 0.0, space.cell)
            cell = space.index(place + up[:, None] * normal[face])
            at = tuple(cell.T)
            foot = place - height[:, None] * normal[face]
            way = np.linalg.norm(space.low + space.cell * cell - foot, axis=1)
            free = way <= space.distance[at] + _HAIR * space.cell  # nothing stands in between
            np.add.at(mine, face, middles[at] & free)
    net = tally[0] - tally[1]
    told = np.abs(net) >= np.maximum(1.0, _AGREE * votes)
    told |= (tally.max(axis=0) >= _ENOUGH) & (tally.min(axis=0) == 0.0)
    return np.where(told, np.sign(net), 0).astype(np.int8)


def _grown(cells: Bools) -> Bools:
    """The cells and all that touch them."""
    from scipy import ndimage

    return np.asarray(ndimage.binary_dilation(cells, np.ones((3, 3, 3), bool)))


def patches(members: Ints, beyond: Ints, count: int) -> list[Ints]:
    """Sort faces into patches that hang together by edges among themselves."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if len(members) == 0:
        return []
    chosen = np.zeros(count, bool)
    chosen[members] = True
    half = np.flatnonzero(chosen[np.arange(len(beyond)) // 3] & chosen[beyond])
    graph = coo_array((np.ones(len(half)), (half // 3, beyond[half])), shape=(count, count))
    label = connected_components(graph, directed=False)[1][members]
    order = np.argsort(label, kind="stable")
    return np.split(members[order], np.flatnonzero(np.diff(label[order])) + 1)


def _without_islands(
    side: NDArray[np.int8], beyond: Ints, area: Array, space: Space
) -> NDArray[np.int8]:
    """Take back what is said of small patches that nothing of like mind or none surrounds."""
    out = side.copy()
    for sign in (1, -1):
        for patch in patches(np.flatnonzero(side != -sign), beyond, len(side)):
            told = patch[side[patch] == sign]
            if 0 < area[told].sum() < _ISLAND * space.cell**2:
                around = beyond[(3 * patch[:, None] + np.arange(3)).ravel()]
                if (side[around] == -sign).any():
                    out[told] = 0
    return out


def _cut(
    patch: Ints,
    side: NDArray[np.int8],
    beyond: Ints,
    lengths: Array,
    corners: Array,
    normal: Array,
    area: Array,
    width: float,
) -> Ints:
    """Faces of a passage that belong to the inside.

    The cut is as short as may be; faces of a bore, which look at a bore, are let out where that
    makes it little longer, so that a mouth is the inner one and a slanted one too. What looks at the
    inside itself, as a bevel does, is not drawn out; nor is a wall that looks across clearly more than
    the ball's ``width``, as below a lid, which of like cuts goes to the inside.
    """
    passage = _Passage(patch, side, beyond, lengths)
    seen = first_hits(corners, patch)
    start = corners[patch].mean(axis=1)
    way = np.einsum("ij,ij->i", corners[seen, 0] - start, normal[seen])
    slant = np.einsum("ij,ij->i", normal[patch], normal[seen])
    across = np.abs(way) > _ACROSS * min(width, _NO_BALL) * np.abs(slant)
    bore = np.where((seen >= 0) & ((side[seen] > 0) | across), 0.0, area[patch])
    hair = 1e-6 * passage.longest / max(float(area[patch].sum()), 1e-300)
    tie = hair * np.where((seen >= 0) & across, area[patch], 0.0)
    shortest = passage.length(passage.inner(hair * bore, tie))
    return patch[passage.inner((hair + _OUTWARD * np.pi / shortest) * bore, tie)]


class _Passage:
    """The dual graph of a passage's faces, with the inside and the outside as its ends."""

    def __init__(self, patch: Ints, side: NDArray[np.int8], beyond: Ints, lengths: Array) -> None:
        place = np.full(len(side), -1)
        place[patch] = np.arange(len(patch))
        half = (3 * patch[:, None] + np.arange(3)).ravel()
        there = beyond[half]
        self.count = len(patch)
        inner, outer = self.count, self.count + 1
        end = np.where(side[there] > 0, inner, np.where(side[there] < 0, outer, place[there]))
        self.start, self.end, self.lengths = np.repeat(np.arange(len(patch)), 3), end, lengths[half]
        self.longest = float(self.lengths.sum())

    def inner(self, price: Array, loss: Array) -> Bools:
        """Least set of faces on the inside of the cheapest cut: its length, the ``price`` (P,) of each
        face that is taken in, and the ``loss`` (P,) of each that is let out.
        """
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

        inner, outer = self.count, self.count + 1
        own = np.arange(self.count)
        within = self.end < inner
        to_in, to_out = self.end == inner, self.end == outer
        # no flow is more than what leads out of the inside; the rest is for single edges
        most = self.lengths[to_in].sum() + loss.sum() + price.sum() + self.lengths.max()
        unit = _UNITS / float(most)
        source, sink = np.full(self.count, inner), np.full(self.count, outer)
        rows = np.concatenate(
            [self.start[within], self.end[to_in], self.start[to_out], own, source]
        )
        ends = np.concatenate([self.end[within], self.start[to_in], self.end[to_out], sink, own])
        costs = np.concatenate(
            [self.lengths[within], self.lengths[to_in], self.lengths[to_out], price, loss]
        )
        whole = np.rint(unit * costs).astype(np.int64)
        # maximum_flow of SciPy 1.13 takes no others
        at = (rows.astype(np.int32), ends.astype(np.int32))
        graph = coo_array((whole, at), shape=(outer + 1, outer + 1)).tocsr()
        graph = graph.astype(np.int32)
        rest = graph - maximum_flow(graph, inner, outer).flow
        rest.data[rest.data < 0] = 0
        rest.eliminate_zeros()
        reached = np.zeros(outer + 1, bool)
        reached[breadth_first_order(rest, inner, return_predecessors=False)] = True
        dry = np.flatnonzero(~reached[: self.count])
        joined = within & ~reached[self.start] & ~reached[np.minimum(self.end, inner - 1)]
        pairs = (self.start[joined], self.end[joined])
        among = coo_array((np.ones(len(pairs[0])), pairs), shape=(self.count, self.count))
        label = connected_components(among, directed=False)[1]
        open_to = np.zeros(self.count, bool)
        open_to[label[self.start[to_out]]] = True
        reached[dry[~open_to[label[dry]]]] = True  # shut in by the inside: a crevice of it
        return reached[: self.count]

    def length(self, inner: Bools) -> float:
        """Length of a cut."""
        taken = np.append(inner, [True, False])
        return float(self.lengths[taken[self.start] != taken[self.end]].sum())


def boundary_loops(faces: Ints, edges: Edges, wet: Bools) -> list[Ints]:
    """Loops of half-edges (K,) of wet faces along their border, each walked with the wet on its left."""
    beyond = wet[edges.twin // 3]
    border = np.flatnonzero(wet[np.arange(len(edges.twin)) // 3] & ~beyond)
    pending = dict.fromkeys(border.tolist())
    loops = []
    while pending:
        ring, h = [], next(iter(pending))
        while h in pending:
            del pending[h]
            ring.append(h)
            h = 3 * (h // 3) + (h + 1) % 3
            while h not in pending and wet[edges.twin[h] // 3]:
                h = int(edges.twin[h])
                h = 3 * (h // 3) + (h + 1) % 3
        loops.append(np.asarray(ring, np.int64))
    return loops
