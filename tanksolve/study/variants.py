"""What varies in a study: lists and ranges, in every combination or as a Latin hypercube."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError, QuantityError
from tanksolve.study.keys import Step
from tanksolve.units import split_quantity

__all__ = [
    "MOST_SAMPLED",
    "MOST_VARIANTS",
    "Choices",
    "Range",
    "Variants",
    "Vary",
    "check_counts",
]

MOST_VARIANTS = 10_000_000
MOST_SAMPLED = 1_000_000  # each with a random figure for every key, kept in memory
_MOST_STEPS = 100_000
_DIGITS = 6  # significant, of a length between the steps of no range
Value = str | float | int | bool


@dataclass(frozen=True)
class Choices:
    """Values written out."""

    values: tuple[Value, ...]

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.values)

    def at(self, k: int) -> Value:
        """The k-th."""
        return self.values[k]

    def between(self, share: float) -> Value:
        """The value at a share, 0 to 1, of the list."""
        return self.values[min(int(share * self.count), self.count - 1)]

    @property
    def unit(self) -> str | None:
        """The unit that all of them are written in; None where they are not all such quantities."""
        if all(
            isinstance(value, int | float) and not isinstance(value, bool) for value in self.values
        ):
            return ""
        try:
            units = {split_quantity(value)[1] for value in self.values if isinstance(value, str)}
        except QuantityError:
            return None
        plain = all(
            "," not in unit and ".." not in unit for unit in units
        )  # not a place, a fill's range
        same = plain and len(units) == 1 and all(isinstance(value, str) for value in self.values)
        return units.pop() if same else None


@dataclass(frozen=True)
class Range:
    """Quantities from the first to the last in one unit; with ``step`` 0 anything between."""

    first: float
    last: float
    step: float
    unit: str

    @classmethod
    def of(cls, first: str, last: str, step: str | None, where: str) -> "Range":
        """Read ``from``, ``to`` and ``step``. Raises FileFormatError, QuantityError."""
        texts = [first, last] + ([] if step is None else [step])
        read = [split_quantity(text, where) for text in texts]
        unit = read[0][1]
        if any(other != unit for _, other in read):
            raise FileFormatError(
                f"{', '.join(repr(text) for text in texts)} are not in one unit", where=where
            )
        low, high = read[0][0], read[1][0]
        if not low < high:
            raise FileFormatError(
                f"'{first}' to '{last}' is no range", where=where, allowed="from below to"
            )
        if step is None:
            return cls(low, high, 0.0, unit)
        if not 0.0 < read[2][0] <= high - low or (high - low) / read[2][0] > _MOST_STEPS:
            raise FileFormatError(
                f"a step of '{step}' from '{first}' to '{last}'",
                where=where,
                allowed=f"more than none, no more than the range, up to {_MOST_STEPS:,} steps",
            )
        return cls(low, high, read[2][0], unit)

    @property
    def count(self) -> int:
        """How many steps there are, both ends counted; 0 without a step."""
        if not self.step:
            return 0
        low, high, step = (Decimal(repr(x)) for x in (self.first, self.last, self.step))
        return int((high - low) / step) + 1

    def at(self, k: int) -> Value:
        """The k-th, as a text with its unit."""
        return f"{self.first + k * self.step:.12g} {self.unit}".strip()

    def between(self, share: float) -> Value:
        """The quantity at a share, 0 to 1, of the range; on a step where it has steps."""
        if self.step:
            return self.at(min(int(share * self.count), self.count - 1))
        value = self.first + share * (self.last - self.first)
        digits = _DIGITS - 1 - math.floor(math.log10(max(abs(self.first), abs(self.last))))
        return f"{min(max(round(value, digits), self.first), self.last):.12g} {self.unit}".strip()


@dataclass(frozen=True)
class Vary:
    """One thing that varies: its key as written, the places that take the value, and its values."""

    key: str
    paths: tuple[tuple[Step, ...], ...]
    values: Choices | Range

    @property
    def column(self) -> str:
        """Title of its column: the key, and in brackets the unit where all values are numbers of it."""
        return f"{self.key} [{self.values.unit}]" if self.values.unit else self.key

    def cell(self, value: Value) -> Value:
        """What stands in that column for a value: the bare number where the title has the unit."""
        if self.values.unit is None or not isinstance(value, str):
            return value
        return split_quantity(value)[0]


@dataclass(frozen=True)
class Variants:
    """All variants of a study, numbered from 0: the values of each key.

    Attributes
    ----------
    sampled : how many of a Latin hypercube; 0 for every combination.
    seed : of the hypercube.
    """

    vary: tuple[Vary, ...]
    sampled: int = 0
    seed: int = 0

    @property
    def count(self) -> int:
        """How many variants there are."""
        if self.sampled:
            return self.sampled
        return math.prod(one.values.count for one in self.vary)

    def values(self, k: int) -> list[Value]:
        """The values of variant ``k``, one for each key; the last key changes quickest."""
        if self.sampled:
            shares = self._shares[k]
            return [one.values.between(float(x)) for one, x in zip(self.vary, shares, strict=True)]
        found: list[Value] = []
        for one in reversed(self.vary):
            k, which = divmod(k, one.values.count)
            found.append(one.values.at(which))
        return found[::-1]

    @cached_property
    def _shares(self) -> NDArray[np.float64]:
        """(N, keys) in 0..1: of every key each N-th part is met once."""
        from scipy.stats.qmc import LatinHypercube

        sampler = LatinHypercube(len(self.vary), seed=np.random.default_rng(self.seed))
        return np.asarray(sampler.random(self.sampled))


def check_counts(variants: Variants, names: Sequence[str], where: str) -> None:
    """Refuse a study of too many variants, or a grid over a range without steps. Raises FileFormatError."""
    open_ = [name for name, one in zip(names, variants.vary, strict=True) if not one.values.count]
    if open_ and not variants.sampled:
        raise FileFormatError(
            f"'{open_[0]}' has a range without a step",
            where=where,
            allowed="step = ..., or a [sample] table for a Latin hypercube",
        )
    most = MOST_SAMPLED if variants.sampled else MOST_VARIANTS
    if variants.count > most:
        raise FileFormatError(
            f"a study of {variants.count:,} variants",
            where=where,
            allowed=f"up to {most:,}",
            next_step="use fewer values, or a [sample] table",
        )
