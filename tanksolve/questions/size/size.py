"""The smallest tank that meets a requirement.

The equation is in volumes: what the ports need of liquid and of air at the worst required attitude
against what there is. Those are sums over the mesh, continuous in the size, and they keep their
slope where the tank is nearly brim-full; a margin in metres has none there. See docs/theory/size.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal, NamedTuple

from tanksolve.errors import FillError, PortError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import SetBy, fill_limits
from tanksolve.questions.size.bracket import CLOSE, bracket, root
from tanksolve.questions.size.stretch import DIMENSIONS, Dimension, stretched
from tanksolve.result import Result
from tanksolve.state.conditions import Pickups
from tanksolve.units import volume_words

EndsOn = Literal["rule", "capacity", "port"]

__all__ = ["EndsOn", "Smallest", "smallest"]

_COARSE = 100.0  # times the tolerance, for sizes on the way to the root
_BRIM = 1.0 - 1e-9  # of the capacity: above it no plane marks the top, as in state.conditions


@dataclass(frozen=True, eq=False, repr=False)
class Smallest(Result):
    """The smallest size in one dimension; see :func:`smallest`.

    Attributes
    ----------
    now_m, smallest_m : outside of the tank's enclosing box along the dimension, for ``scale`` its
        length; the smallest is solved. None where no size from 2 % to 50 times meets it, or where
        none down to 2 % ceases to.
    factor : smallest over now.
    held_m : a size, not smaller, that is proved to meet it with no gap between samples.
    ends_on : what the smallest size ends on. ``rule``: a root, some port's rule is only just kept
        (with a usable volume: the marks are only just far enough apart). The other two are jumps,
        sizes at which every rule is kept with room to spare and below which there is no answer:
        ``capacity``, the tank only just holds the fill; ``port``, a port would no longer lie in
        the liquid space. None without a smallest size.
    jump_words : of a jump, why there is no smaller size, as in '466.7 mm is the smallest that ...';
        else empty.
    set_by : the ports and attitudes that set a root, one for each mark where the usable volume is
        asked for; of a jump, those that are worst off there.
    residual_m3 : of 'what there is = what the ports need' at ``smallest_m``: nought to rounding at
        a root, at a jump what is to spare.
    solves : sizes at which the tank was solved.
    meets_now : whether the tank as it is meets the requirement.
    """

    dimension: str
    now_m: float
    smallest_m: float | None
    factor: float | None
    held_m: float | None
    ends_on: EndsOn | None
    jump_words: str
    set_by: tuple[SetBy, ...]
    residual_m3: float | None
    solves: int
    meets_now: bool

    @property
    def told_m(self) -> float | None:
        """The size to build [m]: the one that is proved, else the one that was solved."""
        return self.held_m if self.held_m is not None else self.smallest_m


def smallest(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    dimension: Dimension,
    *,
    fill: Fill | float | None = None,
    usable: float | None = None,
    pickups: Pickups = "all",
    tolerance: float = 1e-4,
) -> Smallest:
    """Solve for the smallest size along ``dimension`` at which the requirement is met.

    fill : the volume stays as it is [m³] and every port must keep its rule: the least fill must
        not come above it, nor the most below. A tank too small for the fill does not meet it.
    usable : or the marks must leave this volume between them [m³].
    tolerance : of the bounds, a depth [m].

    The search goes from the present size in steps of a quarter until met and not met are bracketed,
    then by Brent's method: the answer is the end of the stretch of sizes next to the present one,
    smaller sizes further off are not looked at. Sizes on the way are valued with a coarser
    tolerance; one that turns out not to meet it at ``tolerance`` starts the search anew at that.
    Raises ValueError unless one of fill and usable is given; PortError; FillError for a fill that
    the tank as it is cannot hold or a usable volume that is not above 0.
    """
    if (fill is None) == (usable is None):
        raise ValueError("give a fill or a usable volume")
    tank.check_ports(ports)
    kept = None if fill is None else Fill.of(fill)
    if kept is not None:
        kept.check(tank.capacity)
    if usable is not None and not (math.isfinite(usable) and usable > 0.0):
        raise FillError(
            f"a usable volume of {volume_words(usable)} is nothing to size a tank for",
            allowed="more than 0 L",
        )
    sizes = _Sizes(tank, ports, requirement, dimension, kept, usable, pickups)
    now = float((tank.upper - tank.lower)[DIMENSIONS[dimension][0]])
    met = sizes.at(1.0, tolerance).total >= 0.0
    found = _least_factor(sizes, met, tolerance)
    if found is None:
        return Smallest(dimension, now, *(None,) * 4, "", (), None, sizes.solves, met)
    factor, there = found
    held = _held(sizes, factor, there, tolerance)
    blocked = sizes.blocked(factor * (1.0 - 10.0 * CLOSE))
    words = blocked or (there.full_words if there.total < there.rules else "")
    return Smallest(
        dimension=dimension,
        now_m=now,
        smallest_m=now * factor,
        factor=factor,
        held_m=None if held is None else now * held,
        ends_on="port" if blocked else "capacity" if words else "rule",
        jump_words=words,
        set_by=there.set_by,
        residual_m3=there.rules,
        solves=sizes.solves,
        meets_now=met,
    )


class _Over(NamedTuple):
    """By how much a size more than meets the requirement [m³].

    total : negative where it is not met. bound : not above that, with no gap between samples.
    rules : by the ports' rules alone, the brim left out.
    set_by : what sets it. full_words : why a tank with ``total < rules`` cannot be smaller.
    """

    total: float
    bound: float
    rules: float
    set_by: tuple[SetBy, ...] = ()
    full_words: str = ""


class _Sizes:
    """The tank at one factor after another."""

    def __init__(
        self,
        tank: Tank,
        ports: Sequence[Port],
        requirement: Requirement,
        dimension: Dimension,
        fill: Fill | None,
        usable: float | None,
        pickups: Pickups,
    ) -> None:
        self.tank, self.ports, self.dimension = tank, ports, dimension
        self.requirement, self.pickups = requirement, pickups
        self.fill, self.usable = fill, usable
        self.solves = 0

    def blocked(self, factor: float) -> str:
        """Why the ports cannot be in a tank below ``factor``; empty where they can be at it."""
        tank, ports = stretched(self.tank, self.ports, self.dimension, factor)
        try:
            tank.check_ports(ports)
        except PortError as error:
            return (
                f"is the smallest with every port in the liquid space: below it {error.where}, which "
                "keeps its distance from the walls, would not lie in it"
            )
        return ""

    def at(self, factor: float, tolerance: float) -> _Over:
        """Solve the tank at ``factor``, unless it cannot hold the fill or leaves a port outside."""
        tank, ports = stretched(self.tank, self.ports, self.dimension, factor)
        try:
            tank.check_ports(ports)
        except PortError:
            return _Over(*(-self.tank.capacity,) * 3)
        room = math.inf if self.fill is None else tank.capacity - self.fill.most
        if room < 0.0:
            return _Over(room, room, room)
        self.solves += 1
        found = fill_limits(
            tank, ports, self.requirement, pickups=self.pickups, tolerance=tolerance
        )
        least, most = found.least_root_m3, found.most_root_m3
        wider = found.least_m3 - least, most - found.most_m3  # from roots to bounds
        ends = tuple(by for by in (found.least_set_by, found.most_set_by) if by)
        if self.fill is None:
            over = most - least - (self.usable or 0.0)
            return _Over(over, over - sum(wider), over, ends)
        wet = min(self.fill.least, _BRIM * tank.capacity) - least
        dry = most - self.fill.most
        total, bound = min(wet, dry), min(wet - wider[0], dry - wider[1])
        if found.most_set_by is None:
            return _Over(total, bound, wet, ends, "is the smallest that holds the fill at all")
        worse = found.least_set_by if wet < dry else found.most_set_by
        return _Over(total, bound, total, (worse,) if worse else ())


def _least_factor(sizes: _Sizes, met: bool, tolerance: float) -> tuple[float, _Over] | None:
    """The smallest factor that meets the requirement when valued at ``tolerance``, and its value."""
    for fineness in (_COARSE * tolerance, tolerance):

        @cache
        def over(factor: float, fineness: float = fineness) -> float:
            return sizes.at(factor, fineness).total

        ends = bracket(over, met)
        if ends is None and not met:
            return None
        if ends is None:
            continue
        factor = root(over, *_clear(sizes, *ends))
        there = sizes.at(factor, tolerance)
        if there.total >= 0.0:
            return factor, there
    return None


def _clear(sizes: _Sizes, low: float, high: float) -> tuple[float, float]:
    """The part of a bracket, next to its upper end, in which all ports lie in the tank."""
    if not sizes.blocked(low):
        return low, high
    clear = high
    while clear - low > CLOSE * clear:
        middle = 0.5 * (low + clear)
        low, clear = (middle, clear) if sizes.blocked(middle) else (low, middle)
    return clear, high


def _held(sizes: _Sizes, factor: float, there: _Over, tolerance: float) -> float | None:
    """A factor, from the root on, that is proved; a first guess by the slope of the equation."""
    if there.bound >= 0.0:
        return factor
    probe = 1e-3
    gained = sizes.at(factor * (1.0 + probe), _COARSE * tolerance).total - there.total
    step = -1.1 * there.bound * probe / gained if gained > 0.0 else probe
    for _ in range(20):
        larger = factor * (1.0 + step)
        if sizes.at(larger, tolerance).bound >= 0.0:
            return larger
        step *= 1.6
    return None
