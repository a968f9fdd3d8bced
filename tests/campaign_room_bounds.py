"""Lower bounds of rooms over cells against floods by hand: python -m tests.campaign_room_bounds."""

import argparse
import time

import numpy as np

from tanksolve.kernel.attitude import cells as charts
from tanksolve.kernel.pools.room_bounds import room_over
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.campaign_worst_state_bounds import (
    NOTHING_SEEN,
    Tally,
    attitudes_in,
    links_at,
    random_cell,
    random_links,
)
from tests.flood_by_hand import Attitude, room_by_flood, ways_of
from tests.pool_tanks import TANKS, arrays
from tests.random_tanks import random_tank

_TINY = 1e-7  # rad, as in the campaign of wet ports


def places_of(rng, vertices, faces, count):
    """Places in the liquid space at any height, not within a millimetre of a floor."""
    p, q, r = (vertices[faces[:, k]] for k in range(3))
    area = np.maximum(-0.5 * np.cross(q - p, r - p)[:, 2], 0.0)
    level = Attitude(vertices, faces, np.array([0.0, 0.0, 1.0]))
    out = []
    while len(out) < count:
        f = rng.choice(len(faces), p=area / area.sum())
        place = rng.dirichlet(np.ones(3)) @ vertices[faces[f]]
        place = place + np.array([0.0, 0.0, rng.uniform(0.001, 0.5)])
        x, y, z = level.frame @ place
        if z < vertices[:, 2].max() and level.hit(np.array([x, y]), z)[0] == f:
            out.append(place)
    return np.array(out)


def lowest(places, radius, v):
    """Height (..., P) of the lowest point of balls about places at vectors v (..., 3)."""
    return v @ places.T - np.linalg.norm(v, axis=-1)[..., None] * radius


def room_at(flat, near, up, place, radius, clear, links):
    """Room by hand of the lowest point of a ball, or None where a wall cuts the ball below its centre."""
    x, y, z = flat.frame @ place
    face, floor = flat.hit(np.array([x, y]), z)
    if face < 0 or flat.flow[face] <= 0.0 or floor > z - radius:
        return None
    return room_by_flood(flat, near, place - radius * up, z - radius - clear, links)


def attack(rng, vertices, faces, cells, looks, tally: Tally) -> Tally:
    """Some cells of one tank with three places: points and balls, with and without clearance."""
    graph, near = build_graph(vertices, faces), ways_of(faces, len(vertices))
    places, links = places_of(rng, vertices, faces, 3), random_links(rng, vertices, faces)
    pairs, by_hand, bad, centre, excess = tally
    for _ in range(cells):
        cell = random_cell(rng)
        up, points = charts.centres(cell), charts.hulls(cell)
        inside = attitudes_in(rng, cell, looks)
        radius, clear = rng.choice([0.0, 0.01, 0.03]), rng.choice([0.0, 0.0, 0.01, 0.05, 0.2])
        v = points / np.einsum("cjk,ck->cj", points, up)[..., None]
        drop = clear * np.linalg.norm(v, axis=-1)[..., None]
        far = np.linalg.norm(v / np.linalg.norm(v, axis=-1)[..., None] - up[:, None], axis=-1).max()
        bound = room_over(
            graph, up, points, places - radius * up[0], lowest(places, radius, up) - clear,
            lowest(places, radius, v) - drop, links, spread=radius * far, clearance=clear > 0.0,
        )  # fmt: skip
        least = np.full(3, np.inf)
        inside = np.vstack([up, inside + _TINY * (up - inside)])  # none of them quite level
        for u in inside + 1e-9 * rng.normal(size=inside.shape):
            unit = u / np.linalg.norm(u)
            flat = Attitude(vertices, faces, unit)
            for port, place in enumerate(places):
                room = room_at(flat, near, unit, place, radius, clear, links_at(links, unit))
                if room is None:
                    continue
                by_hand += 1
                least[port] = min(least[port], room)
                if room < bound.over_cell[0, port] - 1e-7 * graph.capacity:
                    bad.append(
                        f"{cell}: place {place} radius {radius} clear {clear}: {room} below {bound}"
                    )
        known = np.isfinite(least)
        excess.append((least - bound.over_cell[0])[known] / graph.capacity)
    return Tally(pairs, by_hand, bad, centre, excess)


def campaign(seed, seconds, cells=6, looks=10):
    """Attack until the processor time is up, compiling not counted."""
    rng, tanks = np.random.default_rng(seed), 0
    attack(rng, *random_tank(rng), 1, 2, NOTHING_SEEN)
    tally, start = NOTHING_SEEN._replace(violations=[], excess=[]), time.process_time()
    while time.process_time() - start < seconds:
        own = tanks % 4 < 3
        vertices, faces = random_tank(rng) if own else arrays(TANKS[rng.choice(list(TANKS))]())
        if len(faces) < 1500:
            tally = attack(rng, vertices, faces, cells, looks, tally)
        tanks += 1
    return tanks, tally


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=60.0)
    given = parser.parse_args()
    tanks, tally = campaign(given.seed, given.seconds)
    short = np.concatenate(tally.excess)
    median, most = np.quantile(short, (0.5, 0.9))
    print(f"{tanks} tanks, {len(tally.excess)} cells, {tally.by_hand} pairs by hand")
    print(f"{len(tally.violations)} violated")
    print(f"bound below the least found: median {median:.2e}, 90 % {most:.2e} of the tank")
    for line in tally.violations[:20]:
        print(line)
