"""Drives inside the limits told, in random walled tanks: no port may give out on any of them.

    python tests/campaign_routes.py [--tanks N] [--attitudes N] [--seed S] [--every DEG]
        [--plan] [--solved] [--exact]

Liquid is carried (``kernel.pools.settle``) from several starts: all bays at one level, poured into each
hollow, each hollow brim-full first. Drives are random ones and, by random restarts and local changes,
the worst of two to four moves that were found; every attitude on the way lies within the limits told.
Rules are judged here from points of each opening, with nothing of the limits' own arithmetic. At 40
more attitudes within the limits the worst settled state is judged by a flood (``oracle_any_route``).
With ``--exact`` the other side: 0.01 degrees beyond the limit of each heading the worst state is poured
hollow by hollow, and the port must give out in it. Exit 1 on any fault.
"""

import argparse
import itertools
import sys
import time
from collections.abc import Iterator
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray
from oracle_any_route import hollows
from random_walled_tanks import Case, least_at, most_at, random_case

from tanksolve import envelope
from tanksolve.kernel.attitude.direction import slope_heading_from_up, up_from_slope_heading
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.pools.settle import Settled, settle
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.state.openings import dry_fixed

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rng = np.random.Generator

STEP = np.radians(1.0)  # between two attitudes of a drive that are judged
LOST = -1e-9  # of the tank's size: a margin below this is a broken rule, and no rounding
BEYOND_DEG = 0.01
SOLVED_DEG = 1e-6  # short of a limit that is solved
LEVEL = np.array([0.0, 0.0, 1.0])


@numba.njit
def _faces_under(graph, up, points, out):
    for s in range(len(up)):
        grid = grid_for(up[s], graph.size)
        for t in range(len(points)):
            out[s, t] = drop_from_point(graph, grid, points[t])[0]


def faces_under(graph: MeshGraph, up: Array, points: Array) -> NDArray[np.int64]:
    """The face straight below each of ``points`` (T, 3) in S directions (S, 3): (S, T); -1 outside."""
    out = np.empty((len(up), len(points)), np.int64)
    _faces_under(graph, np.ascontiguousarray(up), np.ascontiguousarray(points - graph.origin), out)
    return out


class Limits(NamedTuple):
    """Headings and the slopes told there [rad], and what is told of all headings in between.

    Attributes
    ----------
    heading, told, slope : (H,) of the headings listed; slope is NaN where no port gives out.
    port : (H,) names.
    open : at how many of them the bound is not within its tolerance of what is solved.
    line_heading, line_told : (M,) corners of a line, straight on a polar plan: all within it is told as
        held. Without them the least over all headings, ``ring`` [rad], stands at each.
    """

    heading: Array
    told: Array
    slope: Array
    port: list[str | None]
    ring: float
    open: int
    line_heading: Array
    line_told: Array

    def at(self, heading: Array) -> Array:
        """How steep the tank may stand at any headings (...,) [rad]: slopes (...,) [rad]."""
        if not len(self.line_heading):
            return np.full(np.shape(heading), self.ring)
        corners = np.append(self.line_heading, self.line_heading[0] + 2.0 * np.pi)
        told = np.append(self.line_told, self.line_told[0])
        turned = corners[0] + np.mod(heading - corners[0], 2.0 * np.pi)
        k = np.clip(np.searchsorted(corners, turned, side="right") - 1, 0, len(corners) - 2)
        t, gap = turned - corners[k], corners[k + 1] - corners[k]
        a, b = told[k], told[k + 1]
        return np.asarray(
            a * b * np.sin(gap) / np.maximum(a * np.sin(t) + b * np.sin(gap - t), 1e-300)
        )


def limits_of(
    tank: Tank,
    ports: tuple[Port, ...],
    fill: Fill,
    every: float = 5.0,
    *,
    plan: bool = False,
    solved: bool = False,
) -> Limits:
    """What the project tells of a tank: the one place that knows its interface.

    plan : with the line between the headings; solved : take the limits as solved, a hair below them,
    in place of their bounds, which are then proved roughly only.
    """
    tolerance = 1.0 if solved else 0.05
    found = envelope(tank, ports, fill, every_deg=every, tolerance_deg=tolerance)
    to = found.searched_to_deg
    rows, told = (found.edge.rows, found.edge.held_deg) if plan else ((), ())
    held = [
        (to if row.slope_deg is None else row.slope_deg - SOLVED_DEG) if solved else row.held_to_deg
        for row in found.limits
    ]
    reach = [to if row.slope_deg is None else row.slope_deg for row in (*found.limits, found.worst)]
    short = np.subtract(reach, [row.held_to_deg for row in (*found.limits, found.worst)])
    return Limits(
        np.radians([row.heading_deg for row in found.limits]),
        np.radians(held),
        np.radians([np.nan if row.slope_deg is None else row.slope_deg for row in found.limits]),
        [row.port for row in found.limits],
        float(np.radians(found.worst.held_to_deg)),
        int((short > 1.01 * tolerance).sum()),
        np.radians([row.heading_deg for row in rows]),
        np.radians(told),
    )


class Start(NamedTuple):
    """How the tank was filled standing level: places and shares, none for all bays at one level."""

    words: str
    places: Array
    shares: Array | None


class Judge:
    """Carries liquid along drives and tells each port's margin from points of its opening."""

    def __init__(self, case: Case) -> None:
        self.case, self.tank = case, case.tank
        self.size = float(np.linalg.norm(self.tank.upper - self.tank.lower))
        self.points = [_points(self.tank, port) for port in case.ports]
        self.wet = [port.effective_rule is Rule.WET for port in case.ports]

    def margins(self, paths: Array, start: Start, *, sharp: bool = False) -> Array:
        """Margin [m] of each port at the stops of drives (H, P, 3): (H, P, ports).

        A dry port is judged at eight points of its rim; ``sharp``: the lowest of them as low as the
        opening reaches, with a clearance all of them, as the rule has it.
        """
        out = np.empty((*paths.shape[:2], len(self.points)))
        for wet in {*self.wet}:
            volume = self.case.fill.least if wet else self.case.fill.most
            mine = [q for q, is_wet in enumerate(self.wet) if is_wet is wet]
            places = np.vstack([self.points[q] for q in mine])
            found = self.carried(paths, volume, places, start)
            ends = np.cumsum([0, *(len(self.points[q]) for q in mine)])
            for q, (a, b) in zip(mine, itertools.pairwise(ends), strict=True):
                out[..., q] = self.margin(q, paths, found.port_level[..., a:b], sharp)
        return out

    def margin(self, q: int, paths: Array, level: Array, sharp: bool) -> Array:
        """Margin of port ``q`` from the levels (H, P, T) at its points."""
        port, points = self.case.ports[q], self.points[q]
        if self.wet[q]:
            edge = support_high(port.discs, paths.reshape(-1, 3)) + port.required_cover
            return np.asarray(level.min(axis=-1) - edge.reshape(level.shape[:2]))
        top = paths @ points.T - port.required_cover
        if sharp:
            least = support_low(port.discs, paths.reshape(-1, 3)) - port.required_cover
            lowest = (top == top.min(axis=-1, keepdims=True)) | (port.required_cover > 0.0)
            top = np.where(lowest, least.reshape(top.shape[:2])[..., None], top)
        if port.required_cover > 0.0:  # no further down than the floor under each point
            top = np.maximum(top, self._floors(paths.reshape(-1, 3), points).reshape(top.shape))
        return np.asarray((top - level).min(axis=-1))

    def _floors(self, up: Array, points: Array) -> Array:
        """Height (S, T) of what is straight below points, along ``up`` (S, 3)."""
        graph = self.tank.graph
        face = faces_under(graph, up, points)
        area = graph.areas[face]
        corner = graph.vertices[graph.faces[face, 0]] + graph.origin
        drop = np.einsum("stk,stk->st", points[None] - corner, area)
        return np.asarray(up @ points.T - drop / np.einsum("stk,sk->st", area, up))

    def starts(self) -> list[Start]:
        """All bays alike; poured into each hollow; each hollow brim-full, the rest into another."""
        graph = self.tank.graph
        tree = grow_tree(graph, LEVEL, NEGLIGIBLE)
        leaves = [n for n in range(len(tree.birth)) if tree.left[n] < 0]
        pits = graph.vertices[tree.birth[leaves]] + graph.origin
        found = [Start("all bays at one level", np.empty((0, 3)), None)]
        for k, pit in enumerate(pits[:4]):
            found.append(Start(f"poured into hollow {k}", pit[None], None))
            other = pits[(k + 1) % len(pits)]
            share = self._brim_share(pit)
            if 0.0 < share < 1.0 and len(pits) > 1:
                shares = np.array([share, 1.0 - share])
                found.append(Start(f"hollow {k} brim-full first", np.stack([pit, other]), shares))
        return [start for start in found if self._fits(start)]

    def _brim_share(self, pit: Array) -> float:
        """What the pool about a pit keeps, as a share of the fill, all poured in there."""
        start = Start("", pit[None], None)
        if not self._fits(start):
            return 0.0
        volume = self.case.fill.least
        found = self.carried(LEVEL[None, None], volume, pit[None], start)
        pool = found.port_pool[0, 0, 0]
        return float(found.volume[0, 0, pool] / volume) if pool >= 0 else 0.0

    def _fits(self, start: Start) -> bool:
        """Whether all of the fill finds room where it is poured: bodies need not be joined."""
        try:
            self.margins(LEVEL[None, None], start)
        except ValueError:
            return False
        return True

    def carried(self, paths: Array, volume: float, places: Array, start: Start) -> Settled:
        """Where ``volume`` stands along drives, and at which level over ``places``."""
        return settle(
            self.tank.graph,
            paths,
            volume,
            places,
            links=self.tank.link_stations,
            poured_at=start.places,
            poured=start.shares,
        )


def _points(tank: Tank, port: Port) -> Array:
    """Points of an opening that lie in the liquid space: its middle and its rim."""
    points = [tank.seated(port.position)]
    for row in port.discs:
        radius = 0.999 * (row[6] + row[7])
        axes = np.linalg.svd(row[None, 3:6])[2]
        turns = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False)
        around = np.outer(np.cos(turns), axes[1]) + np.outer(np.sin(turns), axes[2])
        if row[7] > 0.0:
            around = np.vstack([around, axes[0], -axes[0]])
        rim = row[:3] + radius * around
        if radius > 0.0:
            points += list(rim[tank.winding(rim) > 0.5])
    return np.array(points)


def on_plan(slope: Array, heading: Array) -> Array:
    """Places on a polar plan (..., 2) [rad]."""
    return np.stack([slope * np.cos(heading), slope * np.sin(heading)], axis=-1)


def drive(limits: Limits, turns: Array) -> Array:
    """Attitudes (P, 3) from level ground past ``turns`` (K, 2) of slope and heading [rad], all within limits.

    A turn beyond what is told of all headings must lie on a heading that is listed: it is gone out to
    and come back from along that heading. What else lies beyond is brought in.
    """
    slopes, headings, here = [np.zeros(1)], [np.zeros(1)], np.zeros(2)
    for slope, heading in turns:
        foot = min(slope, float(limits.at(heading)))
        there = on_plan(foot, heading)
        count = max(2, int(np.ceil(np.linalg.norm(there - here) / STEP)))
        places = here + (there - here) * np.linspace(0.0, 1.0, count + 1)[1:, None]
        around = np.arctan2(places[:, 1], places[:, 0])
        slopes.append(np.minimum(np.hypot(*places.T), limits.at(around) * (1.0 - 1e-9)))
        headings.append(around)
        if slope > foot:
            out = np.linspace(foot, slope, 2 + int((slope - foot) / STEP))[1:]
            slopes += [out, out[-2::-1], np.array([foot])]
            headings += [np.full(2 * len(out), heading)]
        here = there
    return up_from_slope_heading(np.concatenate(slopes), np.concatenate(headings))


def random_turn(limits: Limits, rng: Rng) -> tuple[float, float]:
    """At a heading listed, or anywhere; half of them as far out as is told."""
    share = 1.0 if rng.random() < 0.5 else float(np.sqrt(rng.random()))
    if rng.random() < 0.6:
        k = int(rng.integers(len(limits.heading)))
        return share * float(limits.told[k]), float(limits.heading[k])
    heading = float(rng.uniform(0.0, 2.0 * np.pi))
    return share * float(limits.at(heading)), heading


def random_drive(limits: Limits, rng: Rng, moves: int) -> Array:
    """Turns (moves, 2): see :func:`drive`."""
    return np.array([random_turn(limits, rng) for _ in range(moves)])


def changed(limits: Limits, turns: Array, rng: Rng) -> Array:
    """The same drive with one turn put elsewhere: near by, next to it, or anywhere."""
    out, k = turns.copy(), int(rng.integers(len(turns)))
    slope, heading = out[k]
    how = rng.random()
    if how < 0.3:
        out[k] = random_turn(limits, rng)
    elif slope > limits.at(heading):
        near = int(np.argmin(np.abs(limits.heading - heading)))
        near = (near + int(rng.integers(-1, 2))) % len(limits.heading)
        out[k] = (
            limits.told[near] * (1.0 if how < 0.7 else rng.uniform(0.5, 1.0)),
            limits.heading[near],
        )
    else:
        heading += 0.1 * rng.normal()
        out[k] = min(slope * (1.0 + 0.1 * rng.normal()), float(limits.at(heading))), heading
    return out


class Found(NamedTuple):
    """The worst of a tank: its margin [m], the attitude (3,), the drive's turns, the start, the port."""

    margin: float
    up: Array
    turns: Array
    start: Start
    port: str


class Tally:
    """Counts attitudes judged and lost, and keeps the worst."""

    def __init__(self, judge: Judge, limits: Limits) -> None:
        self.judge, self.limits = judge, limits
        self.attitudes = self.lost = 0
        self.worst: Found | None = None

    def run(self, drives: list[Array], start: Start) -> Array:
        """Judge drives and return the least margin of each [m]."""
        paths = [drive(self.limits, one) for one in drives]
        most = max(len(path) for path in paths)
        padded = np.stack([np.vstack([p, np.repeat(p[-1:], most - len(p), 0)]) for p in paths])
        margins = self.judge.margins(padded, start)
        least = margins.min(axis=-1)
        for row, path in enumerate(paths):
            own = least[row, : len(path)]
            self.attitudes += len(path)
            self.lost += int((own < LOST * self.judge.size).sum())
            stop = int(own.argmin())
            if self.worst is None or own[stop] < self.worst.margin:
                port = self.judge.case.ports[int(margins[row, stop].argmin())].name
                self.worst = Found(float(own[stop]), path[stop], drives[row], start, port)
        return np.asarray(least.min(axis=1))


def attack(case: Case, limits: Limits, attitudes: int, rng: Rng) -> Tally:
    """Random drives, then drives made worse step by step, until enough attitudes were judged."""
    tally = Tally(Judge(case), limits)
    starts = tally.judge.starts()
    while tally.attitudes < attitudes:
        start = starts[int(rng.integers(len(starts)))]
        drives = [random_drive(limits, rng, int(rng.integers(2, 5))) for _ in range(6)]
        margin = tally.run(drives, start)
        for _ in range(3):
            best = [drives[k] for k in np.argsort(margin)[:2]]
            drives = [*best, *(changed(limits, one, rng) for one in 2 * best)]
            margin = tally.run(drives, start)
    return tally


def beyond(case: Case, limits: Limits) -> tuple[int, list[str]]:
    """How many limits there are, and those beyond which the worst state still holds, in words."""
    judge, faults, count = Judge(case), [], 0
    # with a clearance the rule names the places of a rim that count: these, not the attack's
    for q, port in enumerate(case.ports):
        if not judge.wet[q]:
            fixed = dry_fixed(case.tank, port, all_round=port.required_cover > 0.0)
            judge.points[q] = np.vstack([judge.points[q][:1], fixed])
    for k in np.flatnonzero(~np.isnan(limits.slope)):
        q = next(i for i, port in enumerate(case.ports) if port.name == limits.port[k])
        up = up_from_slope_heading(
            limits.slope[k] + np.radians(BEYOND_DEG), limits.heading[k] + 1e-7
        )
        at = up[None, None]
        volume = case.fill.least if judge.wet[q] else case.fill.most
        margin = np.inf
        if not judge.wet[
            q
        ]:  # one level through the tank counts to the edge, a floor between or not
            edge = support_low(case.ports[q].discs, up[None]) - case.ports[q].required_cover
            margin = float((edge - levels(case.tank.tree, up[None], np.array([volume]))[0])[0])
        for state in worst_states(judge, q, up):
            level = judge.carried(at, volume, judge.points[q], state).port_level
            margin = min(margin, judge.margin(q, at, level, sharp=True)[0, 0])
        count += 1
        if margin >= 0.0:
            slope, heading = np.degrees([limits.slope[k], limits.heading[k]])
            faults.append(f"{case.ports[q].name} at {slope:.4f} deg, heading {heading:.2f}")
    return count, faults


def worst_states(judge: Judge, q: int, up: Array) -> Iterator[Start]:
    """Ways to pour the worst state for port ``q`` at ``up``: it must lose in one of them."""
    port, tank = judge.case.ports[q], judge.tank
    if not judge.wet[q]:
        for place in judge.points[q]:
            yield Start("poured over the port", place[None], None)
        return
    edge = float(support_high(port.discs, up[None])[0]) + port.required_cover
    total = judge.case.fill.least
    for place in judge.points[q]:
        found = hollows(tank, up, [(place, edge)])
        left, shares = total, []
        for hollow in found:
            amount = min(hollow.volume, left)
            left -= amount
            shares.append(amount / total)
        # what the liquid over the port holds back in hollows of its own height has to stand first
        own = sum(hollow.brim > edge for hollow in found)
        places = [hollow.lowest for hollow in found]
        places.insert(own, place)
        shares.insert(own, 1.0 - sum(shares))
        poured = np.array(shares) > 0.0
        places, shares = np.array(places)[poured], np.array(shares)[poured]
        yield Start("every other hollow brim-full", places, shares)


def loses_at_worst(case: Case, limits: Limits, count: int, rng: Rng) -> int:
    """At how many of ``count`` attitudes within the limits the worst state that can be breaks a rule."""
    wrong = 0
    for _ in range(count):
        up = up_from_slope_heading(*random_turn(limits, rng))
        up = up + 1e-6 * (LEVEL - up) + 1e-8 * rng.normal(size=3)  # off the mesh's own planes
        up /= np.linalg.norm(up)
        for port in case.ports:
            if port.effective_rule is Rule.WET:
                wrong += least_at(case.tank, port, up) > case.fill.least * (1.0 + 1e-9)
            elif not port.required_cover:
                wrong += most_at(case.tank, port, up) < case.fill.most * (1.0 - 1e-9)
    return wrong


def told(found: Found) -> str:
    """A drive in words: the slope and heading [deg] of each turn."""
    turns = ", ".join(f"({slope:.6f}, {heading:.6f})" for slope, heading in np.degrees(found.turns))
    at = np.degrees(slope_heading_from_up(found.up))
    where = f"at {at[0]:.6f}, {at[1]:.6f}"
    return f"{found.port} by {1000 * found.margin:.4f} mm {where}; {found.start.words}; {turns}"


def main(arguments: list[str] | None = None) -> int:
    """Print a row for each tank; 1 where any attitude inside a limit is lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tanks", type=int, default=100)
    parser.add_argument("--attitudes", type=int, default=1000, help="of each tank")
    parser.add_argument("--seed", type=int, default=0, help="of the first tank")
    parser.add_argument("--every", type=float, default=5.0, help="degrees between headings listed")
    parser.add_argument(
        "--plan", action="store_true", help="drive within the line between headings too"
    )
    parser.add_argument(
        "--solved", action="store_true", help="up to the limits solved, not bounded"
    )
    parser.add_argument("--exact", action="store_true", help="look just beyond each limit")
    args = parser.parse_args(arguments)
    total = wrong = tanks = bad = headings = 0
    for seed in range(args.seed, args.seed + args.tanks):
        case = random_case(seed)
        begun = time.process_time()
        limits = limits_of(
            case.tank, case.ports, case.fill, args.every, plan=args.plan, solved=args.solved
        )
        took = time.process_time() - begun
        if args.exact:
            count, faults = beyond(case, limits)
            lost, worst, words = len(faults), 0, "; ".join(faults)
        else:
            tally = attack(case, limits, args.attitudes, np.random.default_rng((22, seed)))
            count, lost = tally.attitudes, tally.lost
            worst = loses_at_worst(case, limits, 40, np.random.default_rng((23, seed)))
            words = f"at worst {worst} of 40;" if worst else ""
            if lost and tally.worst is not None:
                words += told(tally.worst)
        tanks, total, wrong, bad = tanks + 1, total + count, wrong + lost, bad + (lost + worst > 0)
        headings += limits.open
        words = f"{limits.open} limits not closed in on; {words}" if limits.open else words
        print(
            f"{seed:5} {len(case.tank.faces):4} faces, least told {np.degrees(limits.told.min()):6.3f} deg "
            f"in {took:5.1f} s, {count:6} looked at, {lost:5} wrong  [{case.words}] {words}",
            flush=True,
        )
    what = "limits" if args.exact else "driven attitudes"
    print(f"{total} {what} of {tanks} tanks, {wrong} wrong, in {bad} tanks")
    print(f"{headings} limits whose bound is further below them than the tolerance")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
