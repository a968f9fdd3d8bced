"""Where a port may sit in a tank whose walls part the liquid: a zone for each compartment.

The liquid is settled along ways to a sample of the required attitudes, the tank is cut state by
state and pool by pool (``build.pooled_zone``), and the best places of what is left are held
against the liquid settled at other attitudes. All of it is sampled: there is no bound.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.booleans import Body, intersection, mesh_of, union
from tanksolve.geometry.pooled_zone import Cutter, Piece, cutter
from tanksolve.geometry.zone import region_of
from tanksolve.kernel.attitude.direction import slope_heading_deg
from tanksolve.kernel.attitude.halfspaces import Optimum
from tanksolve.kernel.pools.pool_lookup import States
from tanksolve.model.requirement import Requirement
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.place.points import Opening
from tanksolve.questions.place.pools import (
    Judged,
    half_spaces_of,
    joined_states,
    judged,
)
from tanksolve.questions.place.zone_parts import Places, Spot, ZonePart, as_point
from tanksolve.state.required_ways import CONFIRM, FINE
from tanksolve.state.ways import Start

Array = NDArray[np.float64]

__all__ = ["cutter_for", "pooled_places"]

_ROUNDS = 8
_TRIED = 30  # places judged where there is no zone


def pooled_places(
    name: str,
    opening: Opening,
    requirement: Requirement,
    start: Start,
    anywhere: Body,
    off_floor: Body,
    shrink: float,
) -> Places:
    """Find the zone of each compartment.

    name : the port's; anywhere : the room that it may have; off_floor : what of that is off floor
    and walls; shrink : how far inside its half-spaces the zone is kept [m].
    """
    found = judged(opening, requirement, start, [], FINE)
    states, attitudes, confirmed = found.states, found.attitudes, 0
    kept: list[_Part] = []
    for turn in range(_ROUNDS):
        cuts = cutter_for(opening, states, shrink)
        pieces = cuts.pieces(anywhere)
        hoped = [_chosen(cuts, piece, off_floor) for piece in pieces]
        if not pieces:
            break
        fresh = CONFIRM._replace(shift=(CONFIRM.shift + 0.35 * turn) % 1.0)
        places = [spot.place for spots in hoped for spot in spots]
        check = judged(opening, requirement, start, places, fresh)
        confirmed = check.attitudes
        told = iter(_spots(name, [spot for spots in hoped for spot in spots], check))
        parts = [
            _Part(piece, [next(told) for _ in spots])
            for piece, spots in zip(pieces, hoped, strict=True)
        ]
        kept = [part for part in parts if part.best.margin >= 0.0]
        margins = np.array([spot.margin for spots in hoped for spot in spots])
        if not (check.worst < margins - shrink).any():
            break
        states, attitudes = joined_states([states, check.states]), attitudes + confirmed
    if not kept:
        return _least_bad(name, opening, requirement, start, (anywhere, off_floor), found)
    return _answer(kept, attitudes, confirmed)


@dataclass(eq=False)
class _Part:
    """A piece, its best place and, where there is one, the best off floor and walls, as judged."""

    piece: Piece
    spots: list[Spot]

    @property
    def best(self) -> Spot:
        return self.spots[0]

    @property
    def advised(self) -> Spot | None:
        return self.spots[1] if len(self.spots) > 1 else None


def cutter_for(opening: Opening, states: States, shrink: float) -> Cutter:
    """What cuts a room to the places in which the opening keeps its rule in all states."""
    normals, offsets = half_spaces_of(opening, states.up, states.level)
    return cutter(opening.tank, states, normals, offsets, shrink, dry=opening.dry)


def _chosen(cuts: Cutter, piece: Piece, off_floor: Body) -> list[Optimum]:
    """The best place of a piece, then the best one of it that is off floor and walls, if any."""
    bodies = (piece.body, intersection(piece.body, off_floor))
    return [spot for spot in (cuts.best(piece, body) for body in bodies) if spot is not None]


def _spots(name: str, hoped: list[Optimum], check: Judged) -> list[Spot]:
    """Places with the lesser of the margin hoped for and the one found at other attitudes."""
    return [
        Spot(
            as_point(hope.place),
            min(hope.margin, float(check.worst[t])),
            SetBy(name, *slope_heading_deg(check.at.up[t]), check.way[t]),
        )
        for t, hope in enumerate(hoped)
    ]


def _answer(kept: list[_Part], attitudes: int, confirmed: int) -> Places:
    """Parts in the order of their recommended places; one that has none comes last."""

    def rank(part: _Part) -> tuple[float, float]:
        return -(part.advised.margin if part.advised else -np.inf), -part.best.margin

    kept = sorted(kept, key=rank)
    regions = [region_of(part.piece.body) for part in kept]
    parts = [
        ZonePart.of(count, region, part.best, part.advised)
        for count, (part, region) in enumerate(zip(kept, regions, strict=True), 1)
        if region is not None
    ]
    return Places(
        parts=tuple(parts),
        best=max((part.best for part in kept), key=lambda spot: spot.margin),
        recommended=kept[0].advised,
        region=region_of(union([part.piece.body for part in kept])),
        evaluations=attitudes + confirmed,
        attitudes=attitudes,
        confirmed=confirmed,
    )


def _least_bad(
    name: str,
    opening: Opening,
    requirement: Requirement,
    start: Start,
    rooms: tuple[Body, Body],
    found: Judged,
) -> Places:
    """No zone: the best of the most promising places on the walls of either room."""
    spots: list[Spot | None] = []
    attitudes = found.attitudes
    for room in rooms:
        hoped = _promising(opening, found.states, room)
        if not hoped:
            spots.append(None)
            continue
        check = judged(opening, requirement, start, [spot.place for spot in hoped], FINE)
        attitudes += check.attitudes
        spots.append(_spots(name, hoped, check)[int(np.argmax(check.worst))])
    if spots[0] is None:
        raise ValueError("there is no room to try a place in")
    return Places((), spots[0], spots[1], None, attitudes, attitudes)


def _promising(opening: Opening, states: States, room: Body) -> list[Optimum]:
    """Places in a body's faces that the highest pools would suit best, and how well."""
    if room.volume() <= 0.0:
        return []
    normals, offsets = half_spaces_of(opening, states.up, states.level[:, :1])
    vertices, faces = mesh_of(room)
    places = vertices[faces].mean(axis=1)
    hope = np.full(len(places), np.inf)
    for normal, offset in zip(normals[:, 0], offsets[:, 0], strict=True):
        hope = np.minimum(hope, offset - places @ normal)
    best = np.argsort(-hope, kind="stable")[:_TRIED]
    return [Optimum(places[k], float(hope[k])) for k in best]
