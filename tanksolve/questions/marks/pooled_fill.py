"""Fill limits where walls part the liquid: solved by pools at a sample of the required attitudes.

For the wet ports the least liquid is sought with which none of them gives out on any way to any
sample; for the dry ports the least air. The few ways that are worst decide, so the root is solved on
those, all ways are judged at it, and those that are worse still join. docs/theory/marks.md
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import FillLimits, SetBy, fill_limits
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.one_surface import JudgedBy, judged_by
from tanksolve.state.pooled_margin import PooledMargin, least_along
from tanksolve.state.required_ways import COARSE, CONFIRM, FINE, Ways, required_ways

Array = NDArray[np.float64]

__all__ = ["PooledFills", "judged_fill_limits", "only", "pooled_fill_limits"]

_ROUNDS = 12
_WORST, _MOST_FEW = 16, 40  # ways that join in one round; sets of them that are kept
_CLOSE = 1e-12  # of the tank's capacity: how closely a root is bracketed
_STEPS = 80
_HAIR = 1e-11  # m: a root is aimed at from above, and found when its margin is at most twice this
_KEPT = 1e-9  # m: a margin this little below nought is rounding
_BETWEEN = (0.25, 0.5, 0.75)  # fills between the marks that are judged too
_LEAST = 1e-9  # of the capacity: the least fill that is settled


def judged_fill_limits(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    *,
    pickups: Pickups = "all",
    tolerance: float = 1e-4,
    one_level: bool = False,
) -> tuple[FillLimits, JudgedBy]:
    """Fill limits by one level, bounded, where one surface is certain with the least fill; else by pools.

    one_level : take one level all the same. The rest, and what is raised, as ``fill_limits``.
    """
    limits = fill_limits(tank, ports, requirement, pickups=pickups, tolerance=tolerance)
    by = judged_by(tank, requirement, limits.least_m3, one_level=one_level)
    if by == "pools":
        brimful = Conditions.of(tank, ports, tank.capacity, pickups)
        limits = pooled_fill_limits(brimful, requirement, limits)
    return limits, by


def pooled_fill_limits(
    conditions: Conditions, requirement: Requirement, guess: FillLimits
) -> FillLimits:
    """Find the least and the most fill that meet ``requirement`` on the ways tried.

    conditions : the tank and its ports, whatever its fill; guess : the limits by one level, to begin
    at. A margin jumps where pools part, meet or spill: there is no bound, and a limit may be a jump.
    Fills between the limits are judged too, and a limit moves in where one of those fails.
    """
    return PooledFills(requirement).limits(conditions, guess)


class PooledFills:
    """Fill limits by pools of one tank after another: the ways that decided last are tried first."""

    def __init__(self, requirement: Requirement) -> None:
        self._all = [way for fine in (FINE, CONFIRM) for way in required_ways(requirement, fine)]
        self._coarse = required_ways(requirement, COARSE)
        self._few: dict[Rule, list[Ways]] = {Rule.WET: [], Rule.DRY: []}

    def limits(
        self, conditions: Conditions, guess: FillLimits, *, rough: bool = False
    ) -> FillLimits:
        """As :func:`pooled_fill_limits`; ``rough`` asks only the ways that decided before, if any."""
        capacity = conditions.tank.capacity
        least, most = (
            _Search(only(conditions, rule), rule, self._all, few, rough=rough)
            for rule, few in self._few.items()
        )
        least.solve(0.0, guess.least_root_m3)
        most.solve(0.0, capacity - guess.most_root_m3)
        low, high = least.amount, capacity - most.amount
        for share in _BETWEEN if low < high and not rough else ():
            fill = low + share * (high - low)
            if fill > least.amount and not least.holds(fill, self._coarse):
                least.solve(fill, fill)
            if capacity - fill > most.amount and not most.holds(capacity - fill, self._coarse):
                most.solve(capacity - fill, capacity - fill)
        return FillLimits(
            least_m3=least.amount,
            most_m3=capacity - most.amount,
            least_root_m3=least.amount,
            most_root_m3=capacity - most.amount,
            least_set_by=least.set_by,
            most_set_by=most.set_by,
            least_short_m=least.short,
            most_short_m=most.short,
            evaluations=least.attitudes + most.attitudes,
        )


class _Search:
    """The least liquid that the wet ports need, or the least air that the dry ones do [m³].

    Attributes
    ----------
    amount : found; 0 where no port has the rule.
    set_by : what sets it. short : by how much even all there is falls short [m], else 0.
    attitudes : required attitudes judged.
    """

    def __init__(
        self,
        conditions: Conditions,
        rule: Rule,
        sets: list[Ways],
        few: list[Ways],
        *,
        rough: bool,
    ) -> None:
        self.conditions, self.air = conditions, rule is Rule.DRY
        self.capacity = conditions.tank.capacity
        self.sets, self.few, self.rough = sets, few, rough
        self.amount, self.short, self.attitudes = 0.0, 0.0, 0
        self.set_by: SetBy | None = None

    def solve(self, floor: float, guess: float) -> None:
        """Find the least amount, at least ``floor``, that is enough on all ways."""
        if not self.conditions.groups:
            return
        amount = min(max(guess, floor), self.capacity)
        for _ in range(_ROUNDS):
            if self.few:
                amount, worst = self._root(self.few, floor)
                if worst.margin_m < -_KEPT:
                    self.short = -worst.margin_m
                if self.short or self.rough:
                    break
            worst, margins = self._judged(amount, self.sets)
            if self.few and worst.margin_m >= -_KEPT:
                break
            self.few += _worst_of(self.sets, margins)
            del self.few[:-_MOST_FEW]
        else:
            amount, worst = self._root(self.sets, amount)
        self.amount = amount
        self.set_by = SetBy(worst.port, worst.slope_deg, worst.heading_deg, worst.path)

    def holds(self, amount: float, ways: list[Ways]) -> bool:
        """Whether an amount is enough on some ways."""
        if not self.conditions.groups:
            return True
        return self._judged(amount, ways)[0].margin_m >= -_KEPT

    def _judged(self, amount: float, ways: list[Ways]) -> tuple[PooledMargin, list[Array]]:
        volume = self.capacity - amount if self.air else amount
        volume = min(max(volume, _LEAST * self.capacity), self.capacity)
        found, own = least_along(replace(self.conditions, fill=Fill.of(volume)), ways)
        self.attitudes += found.attitudes
        return found, own

    def _root(self, ways: list[Ways], floor: float) -> tuple[float, PooledMargin]:
        """The least amount that is enough on some ways, a hair above the root; all there is if none.

        False position with the older end's weight halved (Illinois), halving where that is slow or
        a margin is not finite. It aims a hair above nought, so that one end need not creep in.
        """
        low, high = floor, self.capacity
        under, over = (self._judged(amount, ways)[0] for amount in (low, high))
        if under.margin_m >= 0.0:
            return low, under
        ends, kept = [under.margin_m - _HAIR, over.margin_m - _HAIR], -1
        for step in range(_STEPS):
            if over.margin_m < 0.0 or high - low <= _CLOSE * self.capacity:
                break
            share = 0.5
            if all(map(math.isfinite, ends)) and step % 6 < 5:
                share = min(max(ends[0] / (ends[0] - ends[1]), 1e-6), 1.0 - 1e-6)
            middle = low + share * (high - low)
            found = self._judged(middle, ways)[0]
            side = int(found.margin_m >= 0.0)
            if side == 1:
                high, over = middle, found
                if found.margin_m <= 2.0 * _HAIR:
                    break
            else:
                low = middle
            ends[side] = found.margin_m - _HAIR
            if kept == side:
                ends[1 - side] *= 0.5
            kept = side
        return high, over


def only(conditions: Conditions, rule: Rule) -> Conditions:
    """The same tank with only the ports of one rule judged."""
    columns = [i for i, port in enumerate(conditions.ports) if port.effective_rule is rule]
    groups = tuple(
        tuple(columns.index(i) for i in group)
        for group in conditions.groups
        if set(group) <= set(columns)
    )
    return replace(conditions, ports=tuple(conditions.ports[i] for i in columns), groups=groups)


def _worst_of(sets: list[Ways], margins: list[Array]) -> list[Ways]:
    """The ways that are worst off, each cut short after the stop at which it is."""
    least = np.concatenate([each.min(axis=1) for each in margins])
    worst = set(np.argsort(least, kind="stable")[:_WORST].tolist())
    found, first = [], 0
    for way, each in zip(sets, margins, strict=True):
        rows = [row for row in range(len(each)) if first + row in worst]
        first += len(each)
        if rows:
            end = 1 + int(each[rows].argmin(axis=1).max())
            names = tuple(way.names[row] for row in rows)
            found.append(Ways(names, way.paths[rows, :end], way.required[rows, :end]))
    return found
