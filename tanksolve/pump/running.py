"""Levels of the bays while a pump runs: what the flow from the return to a pickup asks for.

Seen from the pickup's bay backwards, each opening on the way asks for a level before it that
drives the flow through (``kernel.openings``). With the pickup's bay at a level, those are the levels
of all bays in steady running, and their sum is the liquid that it takes. docs/theory/crossflow.md.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.bays import Bays, Gap
from tanksolve.model.tank import Tank
from tanksolve.pump.crossflow import DISCHARGE
from tanksolve.pump.door import Door, doors_of

Array = NDArray[np.float64]

__all__ = ["ReturnFlow"]

_MOST_STEPS = 150
_CLOSE = 1e-9  # m: how closely the level of a pickup's bay is solved, downwards


@dataclass(frozen=True, eq=False)
class ReturnFlow:
    """A tank's bays, and the flow from the returns' bays to each pickup's.

    Attributes
    ----------
    tank : the whole of it.
    bays : its bays and their openings, in the same frame.
    sources : the bay that each return opens into.
    pickups : bay of each pickup that draws, by the port's name.
    flows : flow of each [m³/s].
    discharge : coefficient of the openings.
    brought : what comes back at each return [m³/s]; None where that is not known of several. Levels and
        limits here hold however it is shared out: each return is taken to bring all of it.
    """

    tank: Tank
    bays: Bays
    sources: tuple[int, ...]
    pickups: dict[str, int]
    flows: dict[str, float]
    discharge: float = DISCHARGE
    brought: tuple[float, ...] | None = None

    @property
    def total(self) -> float:
        """Flow of all pickups together, which comes in at the returns [m³/s]."""
        return sum(self.flows.values())

    @cached_property
    def _doors(self) -> tuple[Door, ...]:
        """All that lets liquid from one bay to another."""
        return doors_of(self.bays.gaps, self.discharge)

    @cached_property
    def _pairs(self) -> tuple[tuple[int, int], ...]:
        """Every two bays that liquid can get from the first to the second of."""
        return tuple(dict.fromkeys(door.pair for door in self._doors))

    @property
    def has_one_way(self) -> bool:
        """Whether levels are exact: one pickup, one return, and one way only between any two bays."""
        pairs = {frozenset(pair) for pair in self._pairs}
        one_each = len(self._pairs) == len(self._doors)
        single = len(self.pickups) == len(self.sources) == 1
        return single and one_each and len(pairs) < len(self.bays.bays)

    @cached_property
    def _between(self) -> dict[str, tuple[int, ...]]:
        """:meth:`between` of every pickup: it does not change while levels are searched."""
        return {name: self._bays_on_the_way(name) for name in self.pickups}

    def between(self, name: str) -> tuple[int, ...]:
        """Bays on a way of the flow from a return to a pickup, both ends included."""
        return self._between[name]

    def _bays_on_the_way(self, name: str) -> tuple[int, ...]:
        """See :meth:`between`.

        A bay is on such a way where no single other bay cuts it off from both ends (K. Menger's
        theorem). Empty where nothing joins some return and the pickup.
        """
        each = [self._from(source, self.pickups[name]) for source in self.sources]
        return tuple(sorted(set[int]().union(*each)))

    def _from(self, source: int, sink: int) -> set[int]:
        """Bays on a way from one bay to another; none where there is no way."""
        ends = {source, sink}
        both_ways = {pair for one in self._pairs for pair in (one, one[::-1])}
        downstream = _reached(source, self._pairs)
        upstream = _reached(sink, [pair[::-1] for pair in self._pairs])
        if sink not in downstream:
            return set()
        everything = range(len(self.bays.bays))
        return {
            bay
            for bay in sorted(downstream & upstream)
            if bay in ends
            or all(
                _reached(bay, both_ways, out) & (ends - {out}) for out in everything if out != bay
            )
        }

    def crosses(self, name: str) -> bool:
        """Whether the flow to a pickup crosses an opening at all."""
        return any(self.pickups[name] != source for source in self.sources)

    def beside(self) -> tuple[int, ...]:
        """Bays that no flow goes through: dead ends, and what is sealed off."""
        used = {bay for name in self.pickups for bay in self.between(name)}
        return tuple(bay for bay in range(len(self.bays.bays)) if bay not in used)

    def doors(self, name: str) -> tuple[tuple[Door, float], ...]:
        """Ways between bays on the way to a pickup, each with the flow [m³/s] taken.

        An opening that serves several pickups carries the flow of all of them. Where there is
        more than one way, the flow of a pickup is taken to go all through each: more than it does.
        """
        ways = {other: set(bays) for other, bays in self._between.items()}
        return tuple(
            (door, sum(self.flows[k] for k, bays in ways.items() if bays >= set(door.pair)))
            for door in self._doors
            if ways[name] >= set(door.pair)
        )

    def all_doors(self) -> tuple[Door, ...]:
        """All that lets liquid from one bay to another."""
        return self._doors

    def gaps(self, name: str) -> tuple[Gap, ...]:
        """The openings on the way to a pickup, one by one."""
        bays = set(self.between(name))
        return tuple(gap for gap in self.bays.gaps if bays >= set(gap.joins))

    def levels(self, name: str, up: Array, level: Array, *, left: bool = True) -> Array:
        """Levels of all bays (D, B) [m] with a pickup's bay at ``level`` (D,), at ``up`` (D, 3).

        The least levels that carry the flow on some way. A dead end stands as high as some drive can
        have left it: level with the bay that it opens into, or at the lowest corner of its way out
        where that is higher. One that lets nothing out, and one that is sealed, at infinity. Unless
        ``left`` these hold nothing by themselves: level with the bay beside, or as low as can be.
        """
        out = np.full((len(up), len(self.bays.bays)), np.inf)
        out[:, self.pickups[name]] = level
        doors = self.doors(name)
        fresh = {self.pickups[name]}
        while fresh:
            stale, fresh = fresh, set()
            for door, flow in doors:
                before, down = door.pair
                if down in stale and before != self.pickups[name]:
                    found = door.level_before(up, out[:, down], flow)
                    if np.any(found < out[:, before] - 1e-12):
                        out[:, before] = np.minimum(out[:, before], found)
                        fresh.add(before)
        if not left:
            beside = [bay for bay in range(out.shape[1]) if bay not in self.between(name)]
            out[:, beside] = -np.inf
        return self._dead_ends(name, out, up, left=left)

    def _dead_ends(self, name: str, out: Array, up: Array, *, left: bool) -> Array:
        known, fresh, beside = set(self.between(name)), list(self.between(name)), self.beside()
        while fresh:
            here = fresh.pop()
            for other in self._reached_next(here) - known:
                out[:, other] = out[:, here]  # enough: another pickup's bay is lower than here
                if left and other in beside:
                    out[:, other] = np.maximum(out[:, here], self._sill(other, here, up))
                known.add(other)
                fresh.append(other)
        return out

    def _sill(self, bay: int, into: int, up: Array) -> Array:
        """Height (D,) [m] over which a bay lets liquid out into another; infinite where none is.

        The lowest corner of the ways out, in the middle of their plates, and a plate's thickness.
        """
        lowest = np.full(len(up), np.inf)
        for gap in self.bays.gaps:
            if gap.joins == (bay, into) or (gap.joins == (into, bay) and not gap.one_way):
                lowest = np.minimum(lowest, gap.sill(up) + gap.volume_m3 / gap.area_m2)
        return lowest

    def _reached_next(self, bay: int) -> set[int]:
        return {pair[0] + pair[1] - bay for pair in self._pairs if bay in pair}

    def carried(self, name: str, up: Array, level: Array, slack: Array) -> Array:
        """Liquid (D,) [m³] that the flow holds above what still liquid could hold, at most.

        With a pickup's bay at ``level`` (D,) still liquid stands in every other bay up to the sill over
        which it would run to the pickup; what flows stands higher. Infinite where no level in the tank
        carries the flow. ``slack`` (D,) [m] is how wrong heights may be, for whole cells.
        """
        each = self.levels(name, up, level, left=False) + slack[:, None]
        still = np.maximum(self._sills_to(name, up) - slack[:, None], (level + slack)[:, None])
        total = np.zeros(len(up))
        for b, bay in enumerate(self.bays.bays):
            k = np.flatnonzero(each[:, b] > still[:, b])
            if b != self.pickups[name] and len(k):
                high = np.minimum(each[k, b], 1e6)
                held = volumes(bay.tree, up[k], high)[0] - volumes(bay.tree, up[k], still[k, b])[0]
                total[k] += np.maximum(held, 0.0)
        total += self.in_openings(up, level + slack, each)
        asked = each[:, list(self.between(name))].max(axis=1)
        return np.where(asked <= self.tank.height_range(up)[1], total, np.inf)

    def _sills_to(self, name: str, up: Array) -> Array:
        """Least height (D, B) [m] over which each bay runs to a pickup's; infinite where it cannot."""
        out = np.full((len(up), len(self.bays.bays)), np.inf)
        out[:, self.pickups[name]] = -np.inf
        doors = [(door.pair, door.sill(up)) for door in self._doors]
        for _ in self.bays.bays:
            for (before, down), sill in doors:
                out[:, before] = np.minimum(out[:, before], np.maximum(sill, out[:, down]))
        return out

    def heads(self, name: str, up: Array, slack: Array) -> Array:
        """Heads that drive the flow to a pickup through all openings in free fall, together (D,) [m].

        No bay on the way stands higher by more than this over the pickup's level or the sill below
        it: a level before an opening never rises by more than the one behind. ``slack`` (D,) [m] is
        added for each opening.
        """
        each: dict[frozenset[int], Array] = {}
        free = np.full(len(up), -np.inf)
        for door, flow in self.doors(name):  # one open both ways is listed twice
            head = door.level_before(up, free, flow) - door.sill(up) + slack
            pair = frozenset(door.pair)
            each[pair] = np.maximum(each.get(pair, head), head)
        return np.asarray(sum(each.values(), np.zeros(len(up))))

    def needed(self, name: str, up: Array, level: Array, slack: Array | float = 0.0) -> Array:
        """Liquid [m³] that it takes (D,) to hold a pickup's bay at ``level`` while the pump runs.

        Dead ends hold all that they can: see :meth:`levels`. Infinite where an opening cannot carry
        the flow: where the level before it would have to be above the top of the tank. ``slack``
        (D,) [m] raises all levels, for whole cells.
        """
        each = self.levels(name, up, level)
        slack = np.broadcast_to(slack, len(up))
        total = volumes(self.tank.tree, up, level + slack)[0].copy()
        for b, bay in enumerate(self.bays.bays):
            if b != self.pickups[name]:
                rise = volumes(bay.tree, up, np.minimum(each[:, b], 1e6) + slack)[0]
                total += np.maximum(rise - volumes(bay.tree, up, level + slack)[0], 0.0)
        total += self.in_openings(up, level + slack, each + slack[:, None])
        top = self.tank.height_range(up)[1]
        asked = each[:, list(self.between(name))].max(axis=1)
        return np.where(asked + slack <= top, total, np.inf)

    def in_openings(self, up: Array, level: Array, each: Array) -> Array:
        """Room in the openings that the level leaves dry and the flow fills, at most (D,) [m³]."""
        total = np.zeros(len(up))
        for gap in self.bays.gaps:
            heights = gap.corners.reshape(-1, 3) @ up.T
            thickness = gap.volume_m3 / gap.area_m2
            fills = heights.min(axis=0) - thickness < each[:, list(gap.joins)].max(axis=1)
            total += np.where(fills & (heights.max(axis=0) + thickness > level), gap.volume_m3, 0.0)
        return total

    def level_of(
        self, name: str, up: Array, volume: float, most: Array, slack: Array | float = 0.0
    ) -> Array:
        """Level [m] of a pickup's bay in steady running (D,), at most ``most`` (D,).

        The highest level that ``volume`` [m³] suffices for, to a nanometre and rounded down; the
        tank's bottom where the flow cannot be carried at any. ``slack`` (D,) as in :meth:`needed`.
        """
        bottom, top = self.tank.height_range(up)
        high = np.minimum(most, top)
        over = self.needed(name, up, high, slack) - volume
        low = np.where(over <= 0.0, high, bottom)
        under = self.needed(name, up, low, slack) - volume
        open_ = (over > 0.0) & (under <= 0.0)
        for step in range(_MOST_STEPS):
            k = np.flatnonzero(open_ & (high - low > _CLOSE))
            if not len(k):
                break
            with np.errstate(invalid="ignore"):
                share = -under[k] / (over[k] - under[k])
            # every third step halves, so that a bend or a jump to infinity cannot hold it up
            share = np.where(np.isfinite(over[k]) & (step % 3 < 2), share, 0.5)
            inset = np.minimum(0.4 * _CLOSE / (high[k] - low[k]), 0.5)
            middle = low[k] + np.clip(share, inset, 1.0 - inset) * (high[k] - low[k])
            part = slack if np.ndim(slack) == 0 else np.asarray(slack)[k]
            missing = self.needed(name, up[k], middle, part) - volume
            fits = missing <= 0.0
            low[k[fits]], under[k[fits]] = middle[fits], missing[fits]
            high[k[~fits]], over[k[~fits]] = middle[~fits], missing[~fits]
        return np.asarray(low)


def _reached(start: int, ways: Iterable[tuple[int, int]], without: int | None = None) -> set[int]:
    """Bays that can be got to from ``start`` by ``ways``, one bay left out."""
    seen, fresh = {start}, [start]
    while fresh:
        here = fresh.pop()
        found = {to for begin, to in ways if begin == here} - seen - {without}
        seen |= found
        fresh += found
    return seen
