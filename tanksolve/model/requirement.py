"""The attitudes in which a tank must work: a union of patches, each a range of two angles."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import RequirementError
from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import Cells
from tanksolve.model.attitude import GRAVITY, Attitude
from tanksolve.units import slope_words

Array = NDArray[np.float64]

__all__ = ["Meaning", "Patch", "Requirement"]

_WIDEST_CELL = math.radians(20.0)
_STEEPEST = math.radians(89.0)


class Meaning(StrEnum):
    """What a pair of pitch and roll means; see docs/conventions.md."""

    INCLINOMETER = "inclinometer"
    ROTATIONS = "rotations"
    PROJECTED = "projected"


_CHARTS = {
    Meaning.INCLINOMETER: attitude_cells.INCLINOMETER,
    Meaning.ROTATIONS: attitude_cells.ROTATIONS,
    Meaning.PROJECTED: attitude_cells.PROJECTED,
}


@dataclass(frozen=True)
class Patch:
    """All attitudes with both angles of one chart in a range, ends included [rad].

    chart : a code of ``kernel.attitude_cells``: slope and heading, or a meaning of pitch and roll.
    words : what the patch is, for people; several patches may share the words of one requirement.
    shift : of slope and heading only: what is added to the projected slopes x/z and y/z, where
        slopes are counted from another attitude than level ground.

    Raises RequirementError for a range that holds no attitude, or one at or past 89 degrees.
    """

    chart: int
    a: tuple[float, float]
    b: tuple[float, float]
    words: str
    shift: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        if any(self.shift) and self.chart != attitude_cells.SLOPE_HEADING:
            raise ValueError("only slopes and headings can be counted from another attitude")
        bounded = [*self.a] if self.chart == attitude_cells.SLOPE_HEADING else [*self.a, *self.b]
        if not all(math.isfinite(angle) for angle in (*self.a, *self.b)):
            raise RequirementError("an angle is not a finite number", where=self.words)
        if max(abs(angle) for angle in bounded) > _STEEPEST:
            raise RequirementError("an angle is past 89°", where=self.words, allowed="up to 89°")
        if self.a[0] > self.a[1] or self.b[0] > self.b[1]:
            raise RequirementError("a range ends before it begins", where=self.words)
        if self.chart != attitude_cells.INCLINOMETER:
            return
        steepest = [max(abs(low), abs(high)) for low, high in (self.a, self.b)]
        if math.sin(steepest[0]) ** 2 + math.sin(steepest[1]) ** 2 > 1.0 - 1e-4:
            raise RequirementError(
                "no attitude gives both readings at once",
                where=self.words,
                allowed="readings with sin² pitch + sin² roll below 1",
                next_step="state single attitudes, or as=rotations if these are successive rotations",
            )

    def ups(self, a: Array, b: Array) -> Array:
        """Up vectors (M, 3) of pairs of its angles (M,), (M,) [rad]."""
        chart = np.full(len(a), self.chart, np.int8)
        return attitude_cells.ups(chart, a, b, np.array([self.shift]))

    def cells(self) -> Array:
        """The patch cut into cells (C, 4) no wider than 20 degrees."""
        edges = [
            np.linspace(low, high, 1 + max(1, math.ceil((high - low) / _WIDEST_CELL - 1e-9)))
            for low, high in (self.a, self.b)
        ]
        a, b = (np.stack([edge[:-1], edge[1:]], axis=-1) for edge in edges)
        return np.hstack([np.repeat(a, len(b), axis=0), np.tile(b, (len(a), 1))])


@dataclass(frozen=True)
class Requirement:
    """Attitudes that must all be survived: the union of its patches. Join two with ``|``.

    source : where published requirements are stated, a line each; check the edition that binds.
    """

    patches: tuple[Patch, ...]
    source: str = ""

    def __post_init__(self) -> None:
        if not self.patches:
            raise RequirementError(
                "no attitude is required", next_step="add --require 15deg, or a preset"
            )

    def __or__(self, other: "Requirement") -> "Requirement":
        source = "\n".join(text for text in (self.source, other.source) if text)
        return Requirement(self.patches + other.patches, source)

    @classmethod
    def every_heading(cls, slope: float) -> "Requirement":
        """Every heading up to ``slope`` [rad]."""
        words = f"every heading up to {slope_words(slope)}"
        if slope < 0.0:
            raise RequirementError("a slope cannot be negative", where=words)
        return cls((Patch(attitude_cells.SLOPE_HEADING, (0.0, slope), (0.0, math.tau), words),))

    @classmethod
    def box(
        cls, pitch: float, roll: float, meaning: Meaning = Meaning.INCLINOMETER
    ) -> "Requirement":
        """Every combination of pitch and roll up to these, both ways [rad]."""
        return cls.sides(pitch, pitch, roll, roll, meaning)

    @classmethod
    def sides(
        cls,
        nose_up: float = 0.0,
        nose_down: float = 0.0,
        left_down: float = 0.0,
        right_down: float = 0.0,
        meaning: Meaning = Meaning.INCLINOMETER,
    ) -> "Requirement":
        """Every combination of pitch and roll up to a figure per side, none negative [rad]."""
        named = {
            "nose up": nose_up,
            "nose down": nose_down,
            "left side down": left_down,
            "right side down": right_down,
        }
        words = _sides_words(named, meaning)
        if min(named.values()) < 0.0:
            raise RequirementError("a figure per side cannot be negative", where=words)
        return cls(
            (Patch(_CHARTS[meaning], (-nose_down, nose_up), (-left_down, right_down), words),)
        )

    @classmethod
    def accelerations(
        cls, brake: float = 0.0, accelerate: float = 0.0, corner: float = 0.0
    ) -> "Requirement":
        """Accelerations up to these [m/s²] on level ground, every combination; corner both ways.

        Braking looks like nose down. Quasi-static: the liquid has come to rest in the machine.
        """
        named = {"braking": brake, "speeding up": accelerate, "cornering": corner}
        words = ", ".join(f"{what} {size / GRAVITY:.3g} g" for what, size in named.items())
        words = f"level ground with every combination of {words}"
        if min(named.values()) < 0.0:
            raise RequirementError("an acceleration cannot be negative", where=words)
        back, ahead, side = (math.atan(size / GRAVITY) for size in named.values())
        return cls((Patch(attitude_cells.PROJECTED, (-back, ahead), (-side, side), words),))

    @classmethod
    def single(cls, attitude: Attitude) -> "Requirement":
        """One attitude."""
        slope, heading = attitude.slope, attitude.heading
        words = f"slope {slope_words(slope)} with uphill at heading {math.degrees(heading):.1f}°"
        return cls(
            (Patch(attitude_cells.SLOPE_HEADING, (slope, slope), (heading, heading), words),)
        )

    @property
    def words(self) -> tuple[str, ...]:
        """What is required, each in words."""
        return tuple(dict.fromkeys(patch.words for patch in self.patches))

    def each(self) -> "tuple[Requirement, ...]":
        """One requirement for each of :attr:`words`."""
        return tuple(
            Requirement(tuple(patch for patch in self.patches if patch.words == words))
            for words in self.words
        )

    def cells(self) -> Cells:
        """All patches cut into cells no wider than 20 degrees, for the bounds."""
        parts = [patch.cells() for patch in self.patches]
        codes = [
            np.full(len(p), c.chart, np.int8) for c, p in zip(self.patches, parts, strict=True)
        ]
        shifts = [
            np.broadcast_to(c.shift, (len(p), 2)) for c, p in zip(self.patches, parts, strict=True)
        ]
        return Cells(np.concatenate(codes), np.vstack(parts), np.vstack(shifts))

    def holds(self, up: Array) -> NDArray[np.bool_]:
        """Whether each of ``up`` (D, 3) is a required attitude: (D,)."""
        inside = np.zeros(len(up), bool)
        for patch in self.patches:
            a, b = attitude_cells.angles(patch.chart, up, patch.shift)
            if patch.chart == attitude_cells.SLOPE_HEADING:
                b = patch.b[0] + np.mod(b - patch.b[0], math.tau)
            inside |= (patch.a[0] <= a) & (a <= patch.a[1]) & (patch.b[0] <= b) & (b <= patch.b[1])
        return inside


def _sides_words(named: Mapping[str, float], meaning: Meaning) -> str:
    """A box of pitch and roll in words; one of the two alone says that the other is nought."""
    asked = {side: angle for side, angle in named.items() if angle}
    told = ", ".join(f"{side} {slope_words(angle)}" for side, angle in (asked or named).items())
    if asked and set(asked) <= {"nose up", "nose down"}:
        return f"pitch alone up to {told}, with roll 0.0°"
    if asked and set(asked) <= {"left side down", "right side down"}:
        return f"roll alone up to {told}, with pitch 0.0°"
    told = ", ".join(f"{side} {slope_words(angle)}" for side, angle in named.items())
    return f"every pitch and roll ({meaning}) up to {told}"
