"""Random tanks with plates, openings, flaps and pipes, and pumps that run in them: what a limit claims, tried.

An attitude that is told as held while the pump runs is held from wherever the liquid starts: the network
of bays (held to a solver of its own in ``net_by_hand``) is followed from random starts, and no pickup
may fall below its edge.
"""

import numpy as np

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, hole, slot
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.attitude.support import support_high
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.ports import pickup, return_line
from tanksolve.pump.flow_ports import return_flow
from tanksolve.pump.network import run_network
from tanksolve.pump.running_limits import RunningConditions
from tanksolve.state.conditions import Conditions

LONG, WIDE, HIGH, PLATE = 1.2, 0.4, 0.4, 0.004


def random_tank(rng):
    """Parts, ports and a fill: one to three plates across, perhaps one along, a pipe, one return or two."""
    count = int(rng.integers(1, 4))
    places = np.sort(rng.uniform(0.15, 1.05, count))
    while count > 1 and np.diff(places).min() < 0.12:
        places = np.sort(rng.uniform(0.15, 1.05, count))
    plates = []
    for k, at in enumerate(places):
        kind = rng.random()
        cuts = []
        if kind < 0.45:
            cuts.append(slot(rng.uniform(0.05, 0.15), 0.03, (0.1, rng.uniform(0.02, 0.08))))
        elif kind < 0.8:
            cuts.append(hole(rng.uniform(0.04, 0.08), (0.1, rng.uniform(0.05, 0.1))))
        if rng.random() < 0.3:
            cuts.append(hole(rng.uniform(0.03, 0.05), (0.3, rng.uniform(0.05, 0.1))))
        gap = {"top": rng.uniform(0.03, 0.25)} if rng.random() < 0.7 or not cuts else {}
        plates.append(Baffle(f"across {k}", "across", float(at), PLATE, cuts=tuple(cuts), gaps=gap))
    if count == 1 and rng.random() < 0.4:  # four bays, two ways round
        low = {"bottom": rng.uniform(0.01, 0.03)}
        plates.append(Baffle("along", "along", 0.2, PLATE, gaps=low))
    pipes = []
    if rng.random() < 0.4:
        at, y = float(places[0]), rng.uniform(0.05, 0.15)
        run = tuple((x, y, 0.06) for x in (at - 0.01, at + PLATE + 0.01))
        pipes.append(BalancePipe("pipe", run, rng.uniform(0.03, 0.05)))
    flow = rng.uniform(0.0002, 0.001)
    ports = [
        pickup(
            "p", (rng.uniform(0.03, 0.1), 0.06, rng.uniform(0.01, 0.05)), cover=0.005, flow=flow
        ),
        return_line("r", (1.15, 0.3, 0.3)),
    ]
    if rng.random() < 0.4:
        second = float(0.5 * (places[0] + (places[1] if count > 1 else LONG)))
        ports[1] = return_line("r", (1.15, 0.3, 0.3), flow=rng.uniform(0.2, 0.8) * flow)
        ports.append(return_line("s", (second, 0.3, 0.3)))
    parts = Parts(box(LONG, WIDE, HIGH), (), tuple(plates), pipes=tuple(pipes))
    return parts, ports, rng.uniform(0.25, 0.7) * LONG * WIDE * HIGH


def try_tank(rng, *, headings=4, starts=2):
    """How many networks came to rest, and the least that the pickup then stood over its edge [m].

    On each heading at the steepest of 24 slopes that is held, as are all below: just within the limit.
    From starts that are uneven by a third of the liquid; one that is too violent to follow tells nothing.
    """
    parts, ports, fill = random_tank(rng)
    tank, bays = build(parts), bays_of(parts)
    fill = min(fill, 0.9 * tank.capacity)
    flow = return_flow(tank, bays, ports)
    conditions = RunningConditions.running_of(Conditions.of(tank, ports, fill), flow)
    slopes = np.linspace(0.0, 0.5, 25)[1:]
    room = np.array([bay.capacity for bay in bays.bays])
    tried, least = 0, np.inf
    for heading in rng.uniform(0.0, 6.28, headings):
        ups = up_from_slope_heading(slopes, np.full(len(slopes), heading))
        held = conditions.held(ups).all(axis=-1)
        last = len(held) if held.all() else int(np.argmin(held))
        if last == 0:
            continue
        up = ups[last - 1]
        edge = float(support_high(ports[0].discs, up[None])[0]) + ports[0].required_cover
        for _ in range(starts):
            uneven = poured(fill * rng.dirichlet(0.5 * np.ones(len(room))), room)
            start = 0.7 * one_level(tank, bays, up, fill) + 0.3 * uneven
            found = run_network(flow, up, start)
            over = float(found.levels_m[flow.pickups["p"]]) - edge
            if found.steady:
                tried, least = tried + 1, min(least, over)
    return tried, least


def one_level(tank, bays, up, fill):
    """What each bay holds at one level, all together the fill."""
    level = levels(tank.tree, up[None], fill)[0]
    held = np.array([float(volumes(bay.tree, up[None], level)[0][0]) for bay in bays.bays])
    return np.asarray(held * fill / held.sum())


def poured(amounts, room):
    """Amounts that do not fit a bay go to the others."""
    held = np.minimum(amounts, 0.98 * room)
    left = amounts.sum() - held.sum()
    for k in np.argsort(held - room):
        more = min(left, 0.98 * room[k] - held[k])
        held[k] += more
        left -= more
    return held
