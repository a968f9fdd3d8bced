"""All bays at once while pumps run: liquid moves through the openings until nothing changes, or a mouth is bare.

Bays are nodes that hold liquid, openings between them are edges, each with its own law under the head
that it sees: drowned orifice, weir, part-filled hole or free fall (``kernel.pools.openings``), a flap
its own way only, or a pipe (``door``). Pumps draw their flow, and it comes back at the return.

    dV_b / dt = (what comes in through openings and the return) - (what goes out, and what is drawn)

is followed in time from a start, so that what is behind a wall stays there, routes in parallel share
the flow as their heads have it, and a bay that is drawn from faster than liquid comes runs dry at a
time of its own. What one bay loses another gains: the volume of all together stays as it was.
"""

import math
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.pump.running import ReturnFlow

Array = NDArray[np.float64]

__all__ = ["NetworkState", "run_network", "worst_start"]

_LONGEST = (
    60.0  # times of dwell (volume over flow) after which what still moves has no steady state
)
_MOST_RATES = 20_000  # evaluations after which it is given up: neither steady nor bare
_HAIR = 2e-6  # m of head: levels are right within this
_BEYOND = (
    1e-3  # of a bay's capacity: what a metre of pressure over its roof adds to it, for smooth rates
)
_STILL = 1e-4  # of the flow: bays that change by less are steady


@dataclass(frozen=True, eq=False)
class NetworkState:
    """The bays when nothing changes any more, or when a mouth falls bare.

    Attributes
    ----------
    levels_m : (B,) along up [m]; volumes_m3 : (B,).
    through : flow [m³/s] from the first to the second of each two bays with an opening or a pipe between.
    steady : whether nothing changes any more.
    bare : name of the pickup whose mouth is bare, else None; seconds until then.
    imbalance_m3_s : the most that comes into a bay less what goes out of it.
    lost_m3 : liquid in all bays less that at the start: rounding.
    """

    levels_m: Array
    volumes_m3: Array
    through: dict[tuple[int, int], float]
    steady: bool
    bare: str | None
    seconds: float
    imbalance_m3_s: float
    lost_m3: float


def worst_start(flow: ReturnFlow, up: Array, volume: float) -> Array:
    """Volumes (B,) [m³] to start from: dead ends as full as a drive can leave them, the rest at one level."""
    full = [_held(flow, b, up, np.inf) for b in range(len(flow.bays.bays))]
    name = next(iter(flow.pickups))
    low, high = (float(h[0]) for h in flow.tank.height_range(up[None]))
    beside = flow.beside()
    for _ in range(100):
        middle = 0.5 * (low + high)
        each = flow.levels(name, up[None], np.array([middle]))[0]
        held = [
            _held(flow, b, up, float(each[b]) if b in beside else middle) for b in range(len(full))
        ]
        low, high = (middle, high) if sum(held) < volume else (low, middle)
    found: Array = np.array(held)
    return np.asarray(found * volume / found.sum())


def _held(flow: ReturnFlow, bay: int, up: Array, level: float) -> float:
    tank = flow.bays.bays[bay]
    if not math.isfinite(level):
        return tank.capacity if level > 0.0 else 0.0
    return float(volumes(tank.tree, up[None], np.array([level]))[0][0])


def run_network(
    flow: ReturnFlow, up: Array, start: Array, mouths: dict[str, float] | None = None
) -> NetworkState:
    """Follow the bays from volumes ``start`` (B,) [m³] at an attitude ``up`` (3,).

    mouths : heights [m] along up below which each pickup draws air, by name; it ends there.
    """
    network = _Network(flow, up)
    dwell = float(start.sum()) / flow.total
    names = list(mouths or {})
    events = [network.bared(name, (mouths or {})[name]) for name in names]
    bare, spent, held = None, 0.0, np.array(start, float)
    for reach in (1.0, 3.0, 10.0, _LONGEST):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", UserWarning)  # its failure is told below
                found = solve_ivp(
                    network.rates,
                    (spent, reach * dwell),
                    held,
                    method="LSODA",
                    events=events or None,
                    rtol=1e-7,
                    atol=1e-8 * float(start.sum()),
                )
        except _TooLongError:
            break
        spent, held = float(found.t[-1]), found.y[:, -1]
        bare = next((n for n, t in zip(names, found.t_events or [], strict=False) if len(t)), None)
        stopped = bare is not None or found.status < 0
        if stopped or np.abs(network.rates(spent, held)).max() <= _STILL * flow.total:
            break
    network.count = 0
    if bare is None:
        held = network.polished(held)
    rates = network.rates(spent, held)
    heights = network.heights(held)
    return NetworkState(
        levels_m=heights,
        volumes_m3=held,
        through=network.through(heights),
        steady=bare is None and float(np.abs(rates).max()) <= _STILL * flow.total,
        bare=bare,
        seconds=spent,
        imbalance_m3_s=float(np.abs(rates).max()),
        lost_m3=float(held.sum() - start.sum()),
    )


class _TooLongError(Exception):
    """The solver asked for too many rates."""


class _Network:
    """The bays and openings at one attitude."""

    def __init__(self, flow: ReturnFlow, up: Array) -> None:
        self.flow, self.up, self.count = flow, up[None], 0
        self.sources = np.zeros(len(flow.bays.bays))
        brought = flow.brought or ((flow.total,) if len(flow.sources) == 1 else None)
        if brought is None:
            raise ValueError("what each of several returns brings back is not known")
        np.add.at(self.sources, list(flow.sources), brought)
        for name, bay in flow.pickups.items():
            self.sources[bay] -= flow.flows[name]

    def heights(self, held: Array) -> Array:
        """Levels (B,) [m] of the bays that hold ``held`` (B,) [m³]."""
        found = []
        for bay, amount in zip(self.flow.bays.bays, held, strict=True):
            least = 1e-12 * bay.capacity
            kept = min(max(float(amount), least), bay.capacity * (1.0 - 1e-12))
            level = float(levels(bay.tree, self.up, kept)[0][0])
            # a bay full to its roof has a pressure in it, which goes on from its level: hardly any liquid more
            found.append(level + (float(amount) - kept) / (_BEYOND * bay.capacity))
        return np.array(found)

    def through(self, heights: Array) -> dict[tuple[int, int], float]:
        """Flow [m³/s] through the openings of each two bays, from the first to the second."""
        out: dict[tuple[int, int], float] = {}
        for door in self.flow.all_doors():
            one, other = door.pair
            upper, lower = float(heights[one]), float(heights[other])
            if upper > lower:
                # below a hair of head in proportion, or bays that come level would never be done
                head = max(upper - lower, _HAIR)
                amount = float(door.flow(self.up, lower + head, lower)[0]) * (upper - lower) / head
                out[one, other] = out.get((one, other), 0.0) + amount
        return out

    def rates(self, _: float, held: Array) -> Array:
        """Change of what each bay holds (B,) [m³/s]; their sum is nought."""
        self.count += 1
        if self.count > _MOST_RATES:
            raise _TooLongError
        out = self.sources.copy()
        for (one, other), amount in self.through(self.heights(held)).items():
            out[one] -= amount
            out[other] += amount
        return out

    def bared(self, name: str, mouth: float):  # type: ignore[no-untyped-def]
        """An event of the solver: a pickup's bay falls to its mouth."""
        bay = self.flow.pickups[name]

        def over(_: float, held: Array) -> float:
            return float(self.heights(held)[bay] - mouth)

        over.terminal, over.direction = True, -1.0  # type: ignore[attr-defined]
        return over

    def polished(self, held: Array) -> Array:
        """A few Newton steps towards no change at all, along which no liquid is made or lost."""
        best, size = held, float(np.abs(self.rates(0.0, held)).max())
        for _ in range(8):
            base = self.rates(0.0, best)
            step = 1e-6 * float(best.sum())
            columns = [(self.rates(0.0, best + step * e) - base) / step for e in np.eye(len(best))]
            square = np.vstack([np.stack(columns, axis=-1), np.ones(len(best)) * 1e3])
            move = np.linalg.lstsq(square, -np.append(base, 0.0), rcond=1e-12)[0]
            trial = best + (move - move.mean())
            left = float(np.abs(self.rates(0.0, trial)).max())
            if left >= size:
                break
            best, size = trial, left
        return best
