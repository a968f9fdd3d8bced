"""How the liquid of a tank sloshes: the lowest waves of its own section, over the fill range.

At each fill the liquid stands level; what hangs together below that level is a *room* (bays that a
plate parts above the liquid are rooms of their own), and its waves are those of an eigenvalue
problem on its own surface and walls (``kernel.waves``, docs/theory/waves.md). Small waves, still
walls, liquid without viscosity. A fill range is solved at fills that come closer until every wave
is straight between two of them within ``_STRAIGHT``, so that none is missed between.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tanksolve.errors import FillError, TankError
from tanksolve.geometry.wet_cells import Room, WetTank
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.waves.modes import wave_numbers
from tanksolve.model.attitude import GRAVITY
from tanksolve.model.liquid import Fill
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

__all__ = [
    "BaffleEffect",
    "Slosh",
    "Wave",
    "WaveBand",
    "solve_slosh",
    "waves_at",
    "with_baffle",
]

NEAR = 0.2  # within 20 % of an excitation is called near: common practice, no source
_EACH = 6  # waves of a room
_SMALL = 0.01  # of the liquid: rooms below are left out
_STRAIGHT = 0.01  # of a frequency: how far it may bend between two fills that are solved
_STRETCHES, _DEEPEST = 4, 5  # of the fill range at first, and how often each is halved at most
_SCAN, _FINE = 0.25, 1.0  # of the most bricks, at the fills of the scan and where it is checked
_AXES = ("longitudinal", "lateral")
_LEANS = 0.05  # share of a tilted plane from which a wave counts as along an axis


@dataclass(frozen=True)
class Wave:
    """A standing wave of one room.

    Attributes
    ----------
    rear_m, front_m : where the room reaches, from the rear wall [m].
    longitudinal, lateral : how much of a plane tilted that way is in it, 0 to 1; a wave with neither
        rises alike at both ends, and sideways pushes do not start it.
    """

    frequency_hz: float
    longitudinal: float
    lateral: float
    rear_m: float
    front_m: float

    @property
    def direction(self) -> str:
        """Longitudinal, lateral, both or neither, in words."""
        names = ("longitudinal", self.longitudinal), ("lateral", self.lateral)
        return " and ".join(name for name, share in names if share >= _LEANS) or "neither"


@dataclass(frozen=True)
class NearExcitation:
    """An excitation [Hz] that a wave comes near, and the fills [m³] between which it does."""

    excitation_hz: float
    from_m3: float
    to_m3: float


@dataclass(frozen=True)
class WaveBand:
    """The frequencies of one wave over the fill range.

    Attributes
    ----------
    name : first longitudinal, first lateral, or a number in the order of frequency.
    low_hz, high_hz : least and greatest [Hz]; low_at_m3, high_at_m3 : the fills [m³] where.
    near : excitations within 20 % of it.
    """

    name: str
    low_hz: float
    low_at_m3: float
    high_hz: float
    high_at_m3: float
    near: tuple[NearExcitation, ...]


@dataclass(frozen=True)
class Slosh:
    """The waves of a tank over its fill range.

    Attributes
    ----------
    bands : first longitudinal and first lateral wave of all rooms, then every wave by its number.
    at_least, at_most : the waves at the ends of the range, lowest first.
    rooms : most bodies of liquid that sloshed apart at any fill.
    too_high_by : how much too high figures may be, a share: from a finer grid at both ends.
    fills_solved : how many.
    notes : what was left out or made coarser, in words; why nothing is known where ``fills_solved``
        is 0.
    """

    bands: tuple[WaveBand, ...]
    at_least: tuple[Wave, ...]
    at_most: tuple[Wave, ...]
    rooms: int
    too_high_by: float
    fills_solved: int
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Solved:
    """One fill [m³]: its waves, lowest first, and how many rooms it had."""

    volume: float
    waves: tuple[Wave, ...]
    rooms: int
    small: int

    def first(self, name: str) -> float:
        """Frequency [Hz] of the lowest wave along an axis; infinite where there is none."""
        found = (w.frequency_hz for w in self.waves if getattr(w, name) >= _LEANS)
        return min(found, default=math.inf)


class _Scan:
    """A tank as it is solved at one fill after the other."""

    def __init__(self, tank: Tank, wall: float | None = None) -> None:
        self.tank, self.wet = tank, WetTank(tank)
        self.walls = () if wall is None else (wall,)

    def at(self, volume: float, share: float = _SCAN) -> _Solved:
        up = np.array([[0.0, 0.0, 1.0]])
        brim = volume >= self.tank.capacity * (1.0 - 1e-9)
        level = float(self.tank.upper[2] if brim else levels(self.tank.tree, up, volume)[0][0])
        rooms = [] if brim else self.wet.rooms(level, self.walls)
        large = [room for room in rooms if room.volume_m3 >= _SMALL * volume]
        each = [self._waves(room, level, share / len(large)) for room in large]
        waves = sorted((w for some in each for w in some), key=lambda w: w.frequency_hz)
        return _Solved(volume, tuple(waves), len(large), len(rooms) - len(large))

    def _waves(self, room: Room, level: float, share: float) -> list[Wave]:
        numbers, lean = wave_numbers(room.cut(level, share), _EACH)
        rear, front = (float(end[0] - self.tank.corner[0]) for end in (room.lower, room.upper))
        return [
            Wave(math.sqrt(GRAVITY * max(n, 0.0)) / math.tau, *share, rear, front)
            for n, share in zip(numbers.tolist(), _shares(numbers, lean), strict=True)
        ]

    def over(self, fill: Fill) -> list[_Solved]:
        """Fills of the range, so close that every wave is straight between two of them."""
        if fill.most - fill.least <= 1e-9 * self.tank.capacity:
            return [self.at(fill.least)]
        fills = np.linspace(fill.least, fill.most, _STRETCHES + 1)
        solved = [self.at(float(v)) for v in fills]
        found = [solved[0]]
        for one, other in pairwise(solved):
            found += self._between(one, other, _DEEPEST)
        return found

    def _between(self, one: _Solved, other: _Solved, deeper: int) -> list[_Solved]:
        if deeper == 0:
            return [other]
        middle = self.at(0.5 * (one.volume + other.volume))
        if _straight(one, middle, other):
            return [middle, other]
        return [
            *self._between(one, middle, deeper - 1),
            *self._between(middle, other, deeper - 1),
        ]


def _shares(numbers: np.ndarray, lean: np.ndarray) -> list[tuple[float, float]]:
    """Leanings along x and y; of two waves of one frequency each gets what both have together.

    A round tank's first two waves run any way at all, and so one of each kind is among them.
    """
    squares = lean**2
    alike = np.abs(numbers[:, None] - numbers[None]) <= 2e-3 * numbers[None]
    return [tuple(pair) for pair in (alike @ squares).tolist()]


def _straight(one: _Solved, middle: _Solved, other: _Solved) -> bool:
    if not one.rooms == middle.rooms == other.rooms:
        return False
    rows = [[w.frequency_hz for w in s.waves] for s in (one, middle, other)]
    if not len(rows[0]) == len(rows[1]) == len(rows[2]):
        return False
    a, b, c = map(np.array, rows)
    return bool(np.all(np.abs(b - 0.5 * (a + c)) <= _STRAIGHT * b))


def waves_at(tank: Tank, volume: float, wall: float | None = None) -> tuple[Wave, ...]:
    """The lowest waves at a volume [m³], on the finest grid; six of each room, lowest first.

    wall : x [m] of a solid wall across the tank, in the tank's frame. Raises FillError.
    """
    Fill.of(volume).check(tank.capacity)
    return _Scan(tank, wall).at(volume, _FINE).waves


def solve_slosh(tank: Tank, fill: Fill | float, excitations: Sequence[float] = ()) -> Slosh:
    """The waves over a fill range, and those near the user's excitations [Hz].

    Raises FillError for a fill that the tank does not hold, or an excitation that is not positive.
    """
    fill = Fill.of(fill)
    fill.check(tank.capacity)
    for excitation in excitations:
        if not (math.isfinite(excitation) and excitation > 0.0):
            raise FillError(f"an excitation of {excitation:g} Hz is not positive")
    try:
        scan = _Scan(tank)
    except TankError as error:
        return Slosh((), (), (), 0, 0.0, 0, (f"the waves are not known: {error}",))
    solved = scan.over(fill)
    ends = [solved[0], solved[-1]] if len(solved) > 1 else [solved[0]]
    fine = [scan.at(one.volume, _FINE) for one in ends]
    too_high = _too_high(ends, fine)
    waves = max(len(one.waves) for one in solved)
    rows = {f"first {key}": [one.first(key) for one in solved] for key in _AXES}
    rows |= {f"wave {k + 1}": [_nth(one, k) for one in solved] for k in range(waves)}
    bands = [_band(name, values, solved, excitations, too_high) for name, values in rows.items()]
    return Slosh(
        bands=tuple(band for band in bands if band is not None),
        at_least=fine[0].waves,
        at_most=fine[-1].waves,
        rooms=max(one.rooms for one in solved),
        too_high_by=too_high,
        fills_solved=len(solved),
        notes=_notes(scan, solved),
    )


def _nth(one: _Solved, k: int) -> float:
    return one.waves[k].frequency_hz if k < len(one.waves) else math.inf


def _too_high(coarse: Sequence[_Solved], fine: Sequence[_Solved]) -> float:
    """Share by which the lowest waves of a scan may be too high: by a grid of four times the bricks."""
    shares = [0.005]
    for one, other in zip(coarse, fine, strict=True):
        for a, b in list(zip(one.waves, other.waves, strict=False))[: 2 * max(one.rooms, 1)]:
            shares.append(1.5 * (a.frequency_hz - b.frequency_hz) / b.frequency_hz)
    return max(shares)


def _band(
    name: str,
    values: Sequence[float],
    solved: Sequence[_Solved],
    excitations: Sequence[float],
    too_high: float,
) -> WaveBand | None:
    known = [(v, one.volume) for v, one in zip(values, solved, strict=True) if math.isfinite(v)]
    if not known:
        return None
    (low, low_at), (high, high_at) = min(known), max(known)
    near = [_near(e, name, values, solved, too_high) for e in excitations]
    return WaveBand(name, low, low_at, high, high_at, tuple(one for one in near if one is not None))


def _near(
    excitation: float,
    name: str,
    values: Sequence[float],
    solved: Sequence[_Solved],
    too_high: float,
) -> NearExcitation | None:
    """Between which fills a wave is near an excitation [Hz]; None where it is nowhere.

    Between two fills it takes every value between its two, and a hair more.
    """
    found: list[float] = []
    pairs = list(zip(values, solved, strict=True))
    for (a, one), (b, other) in zip(pairs, pairs[1:] or pairs, strict=False):
        ends = [v for v in (a, b) if math.isfinite(v)]
        if not ends:
            continue
        low = min(ends) * (1.0 - too_high - 0.5 * _STRAIGHT)
        if _comes_up_from_nought(name, (a, one), (b, other)):
            low = 0.0
        high = max(ends) * (1.0 + 0.5 * _STRAIGHT)
        if low * (1.0 - NEAR) <= excitation <= high * (1.0 + NEAR):
            found += [one.volume, other.volume]
    return NearExcitation(excitation, min(found), max(found)) if found else None


def _comes_up_from_nought(
    name: str, one: tuple[float, _Solved], other: tuple[float, _Solved]
) -> bool:
    """Whether a wave takes every lower value between two fills.

    As liquid first passes over a plate the rooms on both sides become one, with a slow wave between
    them that was none before: one more wave for each room less.
    """
    (a, before), (b, after) = sorted((one, other), key=lambda pair: -pair[1].rooms)
    lost = before.rooms - after.rooms
    numbered = name.removeprefix("wave ")
    return lost > 0 and (int(numbered) <= lost if numbered.isdigit() else b < 0.98 * a)


def _notes(scan: _Scan, solved: Sequence[_Solved]) -> tuple[str, ...]:
    said = [scan.wet.note] if scan.wet.note else []
    small = max(one.small for one in solved)
    if small:
        said.append(
            f"{small} bodies of less than {100 * _SMALL:g} % of the liquid each are left out"
        )
    if not any(one.waves for one in solved):
        said.append("no free surface: brim-full, or all of it under a lid")
    return tuple(said)


@dataclass(frozen=True)
class BaffleEffect:
    """What one solid cross-wise baffle does to the first longitudinal wave [Hz], at one fill [m³].

    None where there is no such wave: no liquid on that side.
    """

    position_m: float
    volume_m3: float
    whole_hz: float | None
    rear_hz: float | None
    front_hz: float | None
    words: str


def with_baffle(tank: Tank, volume: float, position: float) -> BaffleEffect:
    """Put a solid, full-height baffle at ``position`` [m] from the rear wall, and solve both sides.

    Both stand at the level of the whole. Raises TankError for a baffle outside the tank, FillError.
    """
    x = float(tank.corner[0]) + position
    if not tank.lower[0] < x < tank.upper[0]:
        length = float(tank.upper[0] - tank.corner[0])
        raise TankError(
            f"a baffle at {stated(position, 'length')} is outside the tank",
            allowed=f"more than 0, less than {stated(length, 'length')} from the rear",
        )
    whole = _along(waves_at(tank, volume))
    parted = waves_at(tank, volume, x)
    rear = _along([w for w in parted if 0.5 * (w.rear_m + w.front_m) < position])
    front = _along([w for w in parted if 0.5 * (w.rear_m + w.front_m) > position])
    both = [f for f in (rear, front) if f is not None]
    told = "no wave" if whole is None else f"{whole:.2f} Hz"
    to = " and ".join(
        f"{f:.2f} Hz {where} it" for f, where in ((rear, "behind"), (front, "ahead of")) if f
    )
    words = (
        f"a solid baffle {stated(position, 'length')} from the rear takes the first longitudinal wave"
        f" from {told} to {to if both else 'none'}; a baffle with holes lies between"
    )
    return BaffleEffect(position, volume, whole, rear, front, words)


def _along(waves: Sequence[Wave]) -> float | None:
    return min((w.frequency_hz for w in waves if w.longitudinal >= _LEANS), default=None)
