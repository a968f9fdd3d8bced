"""Bounds over cells of attitudes against floods by hand: python -m tests.campaign_worst_state_bounds.

Each pair is a cell and an attitude in it, random or the worst that a search found: the bound of the cell
has to be at least F there, and F at the centre has to be the flood's.
"""

import argparse
import time
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.pools.links import NO_LINKS, Links
from tanksolve.kernel.pools.worst_state_bounds import need_over
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.flood_by_hand import Attitude, need_by_flood, ways_of
from tests.pool_tanks import TANKS, arrays
from tests.random_tanks import random_pair, random_tank

_TINY = 1e-7  # rad: the flood by hand looks this far beside an attitude, where no two things tie


class Tally(NamedTuple):
    """What a campaign saw."""

    pairs: int  # of a cell and an attitude in it
    by_hand: int  # further ones, flooded by hand
    violations: list[str]
    centre: float  # greatest difference of the two ways at one attitude, of the tank's volume
    excess: list[np.ndarray]  # by how much a bound is above the worst F found, of the tank's volume


NOTHING_SEEN = Tally(0, 0, [], 0.0, [])


def edges_along(places, radius, cover, v):
    """Edges (..., P) at vectors v (..., 3): balls about the places, and cover."""
    return v @ places.T + np.linalg.norm(v, axis=-1)[..., None] * (radius + cover)


def ports_of(rng, vertices, faces, count):
    """Places a little above faces that look up, with nothing close above them."""
    p, q, r = (vertices[faces[:, k]] for k in range(3))
    area = -0.5 * np.cross(q - p, r - p)[:, 2]
    floors = np.flatnonzero(area > 1e-6)
    level = Attitude(vertices, faces, np.array([0.0, 0.0, 1.0]))
    out = []
    while len(out) < count:
        f = rng.choice(floors, p=area[floors] / area[floors].sum())
        place = rng.dirichlet(np.ones(3)) @ vertices[faces[f]]
        place = place + np.array([0.0, 0.0, rng.choice([0.001, 0.01, 0.04])])
        x, y, z = level.frame @ place
        if level.hit(np.array([x, y]), z)[0] == f:
            out.append(place)
    return np.array(out)


def random_cell(rng):
    """A cell of one of the charts, 0.02 to 8 degrees wide; a third of them about aligned attitudes."""
    chart = rng.integers(0, 4)
    half = 0.5 * np.radians(np.exp(rng.uniform(np.log(0.02), np.log(8.0), 2)))
    most = np.radians(35.0 if chart == charts.INCLINOMETER else 45.0)
    middle = rng.uniform(-most, most, 2)
    if rng.random() < 0.35:
        middle = rng.choice([0.0, 0.0, np.radians(15.0), np.radians(30.0), np.arctan(0.5)], 2)
    box = np.array(
        [middle[0] - half[0], middle[0] + half[0], middle[1] - half[1], middle[1] + half[1]]
    )
    if chart == charts.SLOPE_HEADING:
        middle = rng.uniform(np.radians(0.5), np.radians(50.0)), rng.uniform(0.0, 2.0 * np.pi)
        box[:2] = max(middle[0] - half[0], 0.0), middle[0] + half[0]
        box[2:] = middle[1] - half[1], middle[1] + half[1]
        if rng.random() < 0.2:  # from level ground, a quarter or an eighth of the circle
            box[0], box[2] = 0.0, rng.integers(0, 8) * np.pi / 4.0
            box[3] = box[2] + rng.choice([np.pi / 4.0, 0.49 * np.pi])
    return charts.Cells(np.array([chart], np.int8), box[None])


def attitudes_in(rng, cell, count):
    """Up vectors (count, 3) in a cell: its corners, its rim and its inside."""
    chart, box = cell.chart, cell.box[0]
    s, t = rng.random(count), rng.random(count)
    rim = rng.random(count)
    s = np.where(rim < 0.3, np.round(s), s)
    t = np.where((rim > 0.2) & (rim < 0.5), np.round(t), t)
    a, b = box[0] + s * (box[1] - box[0]), box[2] + t * (box[3] - box[2])
    return charts.ups(np.repeat(chart, count), a, b)


def points_needs(graph, up, places, radius, cover, links, **how):
    """F of the kernel at single attitudes: cells without extent."""
    at = edges_along(places, radius, cover, up)
    return need_over(graph, up, up[:, None], places, at, at[:, None], links, **how).at_centre


def random_links(rng, vertices, faces):
    """Up to three one-way links between places above floors: flaps of two stations, pipes of three."""
    count = rng.integers(0, 4)
    rings, inside, first_station = [], [], [0]
    for ends in ports_of(rng, vertices, faces, 2 * count).reshape(count, 2, 3):
        stations = [ends[0], ends[1]]
        if rng.random() < 0.5:
            stations.insert(1, ends.mean(axis=0) + rng.choice([0.0, 0.1]) * np.eye(3)[2])
        for at in stations:
            # a disc of any facing, or four corners of a square
            turn = np.linalg.qr(rng.normal(size=(3, 3)))[0] * rng.choice([0.005, 0.02])
            if rng.random() < 0.5:
                rings.append([np.concatenate([at, turn[0], turn[1]])])
            else:
                square = [at + a * turn[0] + b * turn[1] for a in (-1, 1) for b in (-1, 1)]
                rings.append([np.concatenate([corner, np.zeros(6)]) for corner in square])
            inside.append([at + rng.uniform(0.0, 1e-3) * np.eye(3)[2] for _ in rings[-1]])
        first_station.append(len(rings))
    if count == 0:
        return NO_LINKS
    first_ring = np.cumsum([0] + [len(ring) for ring in rings])
    return Links(np.vstack(rings), np.vstack(inside), first_ring, np.array(first_station))


def links_at(links, up):
    """In-mouth, out-mouth and sill [m] of each link at an attitude."""
    spread = np.hypot(links.rings[:, 3:6] @ up, links.rings[:, 6:9] @ up)
    low = links.rings[:, :3] @ up - spread
    out = []
    for a, b in pairwise(links.first_station):
        rows = [np.arange(links.first_ring[s], links.first_ring[s + 1]) for s in range(a, b)]
        row = [r[np.argmin(low[r])] for r in rows]
        out.append((links.inside[row[0]], links.inside[row[-1]], max(low[row])))
    return out


def attack(rng, vertices, faces, cells, looks, slow, tally):
    """Some cells of one tank, each port of three by itself and all as one."""
    graph, near = build_graph(vertices, faces), ways_of(faces, len(vertices))
    places, links = ports_of(rng, vertices, faces, 3), random_links(rng, vertices, faces)
    pairs, by_hand, bad, centre, excess = tally
    for _ in range(cells):
        cell = random_cell(rng)
        up, points = charts.centres(cell), charts.hulls(cell)
        radius, cover = rng.choice([0.0, 0.01, 0.03]), rng.choice([0.0, 0.01, 0.1])
        size = edges_along(places, radius, cover, up)
        v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
        at = edges_along(places, radius, cover, v)
        one = need_over(graph, up, points, places, size, at, links)
        both = need_over(graph, up, points, places, size, at, links, any_suffices=True)
        bound = np.append(one.over_cell[0], both.over_cell[0])
        inside = attitudes_in(rng, cell, looks)
        found = np.hstack(
            [
                points_needs(graph, inside, places, radius, cover, links),
                points_needs(graph, inside, places, radius, cover, links, any_suffices=True),
            ]
        )
        looked = np.concatenate([found.argmax(axis=0), rng.integers(0, looks, slow)])
        middle = inside.mean(axis=0)
        for k in list(dict.fromkeys(looked.tolist()))[:slow]:
            # a hair towards the middle: still inside, and nothing is edge-on or level to rounding
            u = inside[k] + _TINY * (middle - inside[k]) + 1e-9 * rng.normal(size=3)
            u /= np.linalg.norm(u)
            flat = Attitude(vertices, faces, u)
            edge = edges_along(places, radius, cover, u)
            through = links_at(links, u)
            floods = [
                need_by_flood(flat, near, [p], [e], through)
                for p, e in zip(places, edge, strict=True)
            ]
            floods.append(need_by_flood(flat, near, places, edge, through))
            for port, held in enumerate(floods):
                by_hand += 1
                if held > bound[port] + 1e-7 * graph.capacity:
                    bad.append(f"port {port} of {cell.box}: {held} by hand above {bound[port]}")
            centre = max(centre, *(np.abs(found[k] - floods) / graph.capacity))
        over = found > bound
        pairs += found.size
        if over.any():
            bad.append(f"{cell.chart}, {cell.box}: {found[over].max()} above {bound}")
        excess.append((bound - found.max(axis=0)) / graph.capacity)
    return Tally(pairs, by_hand, bad, centre, excess)


def campaign(seed, seconds, cells=6, looks=40, slow=6):
    """Attack until the processor time is up, compiling not counted."""
    rng, tanks = np.random.default_rng(seed), 0
    attack(rng, *random_tank(rng), 1, looks, slow, NOTHING_SEEN)
    tally, start = NOTHING_SEEN._replace(violations=[], excess=[]), time.process_time()
    while time.process_time() - start < seconds:
        kind = tanks % 8
        if kind in (3, 7):
            vertices, faces = arrays(TANKS[rng.choice(list(TANKS))]())
        else:
            vertices, faces = random_pair(rng) if kind == 5 else random_tank(rng)
        if len(faces) < 1500:
            tally = attack(rng, vertices, faces, cells, looks, slow, tally)
            tanks += 1
    return tanks, tally


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=120.0)
    given = parser.parse_args()
    tanks, tally = campaign(given.seed, given.seconds)
    median, most = np.quantile(np.concatenate(tally.excess), (0.5, 0.9))
    print(f"{tanks} tanks, {len(tally.excess)} cells, {tally.pairs} pairs, {tally.by_hand} by hand")
    print(f"{len(tally.violations)} violated")
    print(f"F of the kernel and by hand differ by {tally.centre:.1e} of the tank at most")
    print(f"bound above the worst found: median {median:.2e}, 90 % {most:.2e} of the tank")
    for line in tally.violations[:20]:
        print(line)
