"""What the columns of a log mean: quantity, unit and sign, by name or by the user's options.

``pitch_deg``, ``pitch [deg]``, ``Pitch (°)``, ``roll_%``, ``pitch_nose_down_deg``, ``time_s``,
``fill (L)``, ``ax_g``. A column of a known quantity without a unit is refused, not guessed at.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.units import parse, parse_angle

Array = NDArray[np.float64]

__all__ = ["QUANTITIES", "Column", "find_columns", "units_below"]

# Words that logs use for other things too (fuel %, oil bar, height) are left to the options.
# quantity: (kind for units.parse, names that headers use)
QUANTITIES: dict[str, tuple[str, tuple[str, ...]]] = {
    "time": ("time", ("time", "t", "timestamp", "elapsed", "seconds", "datetime", "date time")),
    "pitch": ("angle", ("pitch", "pitch angle", "incl x", "inclination x")),
    "roll": ("angle", ("roll", "roll angle", "incl y", "inclination y")),
    "forward": ("acceleration", ("ax", "acc x", "accel x", "acceleration x", "acc forward")),
    "left": ("acceleration", ("ay", "acc y", "accel y", "acceleration y", "acc left")),
    "up": ("acceleration", ("az", "acc z", "accel z", "acceleration z", "acc up")),
    "fill": ("volume", ("fill", "fill volume", "fuel volume", "oil volume")),
    "distance": ("distance", ("distance", "dist", "chainage", "odometer", "station")),
    "elevation": ("distance", ("elevation", "ele", "altitude", "alt")),
    "heading": ("angle", ("heading", "bearing", "course", "track")),
}
_SIGNS = {"nose up": 1.0, "right down": 1.0, "nose down": -1.0, "left down": -1.0}
_WAYS = {
    "pitch": ("nose up", "nose down"),
    "roll": ("right side down", "left side down"),
    "forward": ("forward", "rearward"),
    "left": ("to the left", "to the right"),
    "up": ("up", "down"),
    "elevation": ("uphill", "downhill"),
    "heading": ("clockwise", "anticlockwise"),
}
_UNIT_SPELLINGS = {"degrees": "deg", "°": "deg", "pct": "%", "percent": "%", "ms2": "m/s2"}
_STAMPED = "stamp"
_STAMP = re.compile(r"\d{4}-\d\d-\d\d[T ]|\d{1,2}[./-]\d{1,2}[./-]\d{4}[T, ]")
_ORDERS = ("d/m/y", "m/d/y")


@dataclass(frozen=True)
class Column:
    """One column that is used.

    Attributes
    ----------
    quantity : a key of ``QUANTITIES``.
    position : in the row, from 0.
    header : as written in the file.
    unit : as read; ``"stamp"`` for a date and time.
    factor : SI per unit, sign included; for grades in percent see :meth:`to_si`.
    sign : which way is positive in the file, in words; empty where a sign means nothing.
    stamp : kind of date and time (``log_rows.seconds_of_stamp``); empty for numbers.
    """

    quantity: str
    position: int
    header: str
    unit: str
    factor: float = field(default=1.0)
    sign: str = ""
    stamp: str = ""

    @property
    def is_stamp(self) -> bool:
        """Whether the column holds dates and times."""
        return self.unit == _STAMPED

    @property
    def kind(self) -> str:
        """Kind of the quantity, as ``units.parse`` names it."""
        return QUANTITIES[self.quantity][0]

    def to_si(self, values: Array) -> Array:
        """Turn a column of numbers to SI (m, s, rad, m³, m/s²), with this project's signs."""
        if self.unit == "%":
            return np.asarray(self.factor * np.arctan(values / 100.0))
        return values if self.factor == 1.0 else self.factor * values


def find_columns(
    header: list[str],
    sample: list[list[str]],
    where: str,
    names: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    reversed_signs: frozenset[str] = frozenset(),
) -> dict[str, Column]:
    """Find the columns that mean something, by quantity.

    Parameters
    ----------
    header, sample : fields of the header line and of the first rows.
    names : quantity to header, where the header's own words are not known here.
    units : quantity to unit, where the header does not say.
    reversed_signs : quantities whose sign is against this project's (pitch nose up +, roll right
        side down +, accelerations forward, left and up).

    Raises FileFormatError for a name that is not there, two columns of one quantity, or no unit.
    """
    names, units = names or {}, units or {}
    for quantity in (*names, *units, *reversed_signs):
        if quantity not in QUANTITIES:
            raise FileFormatError(
                f"'{quantity}' is not a quantity of a log",
                where=where,
                allowed=", ".join(QUANTITIES),
            )
    wanted = {_simple(text): quantity for quantity, text in names.items()}
    found: dict[str, Column] = {}
    for position, title in enumerate(header):
        base, unit, sign = _read_title(title)
        meaning = wanted.get(_simple(title)) or _quantity_of(base, frozenset(names))
        if meaning is None:
            continue
        quantity = meaning
        if quantity in found:
            raise FileFormatError(
                f"'{found[quantity].header}' and '{title}' both look like {quantity}",
                where=where,
                next_step=f"say which column is {quantity}",
            )
        texts = [row[position] for row in sample if position < len(row)]
        sign = -sign if quantity in reversed_signs else sign
        unit = units.get(quantity, unit)
        found[quantity] = _column(quantity, position, title, unit, sign, texts, where)
    absent = [text for quantity, text in names.items() if quantity not in found]
    if absent:
        raise FileFormatError(
            f"no column is called '{absent[0]}'", where=where, allowed=", ".join(header)
        )
    return found


def units_below(header: list[str], row: list[str]) -> list[str] | None:
    """The header with the units of the row below it, where that row holds units and nothing else."""
    words = [_UNIT_SPELLINGS.get(word, word) for word in (_simple(text) for text in row)]
    if len(words) != len(header) or not any(words) or not all(_is_unit(w) or not w for w in words):
        return None
    return [f"{title} [{w}]" if w else title for title, w in zip(header, words, strict=True)]


def _simple(text: str) -> str:
    return re.sub(r"[\s_\-]+", " ", text.strip().strip('"').lower()).strip()


def _read_title(title: str) -> tuple[str, str, float]:
    """Split a header into its plain name, its unit ('' if none) and the sign it states."""
    text, unit = _simple(title), ""
    match = re.fullmatch(r"(.*?)\s*[\[(]\s*(.*?)\s*[\])]", text)
    if match:
        text, unit = match[1].strip(), match[2].replace(" ", "_")
    else:
        head, _, last = text.rpartition(" ")
        if head and _is_unit(last):
            text, unit = head, last
    sign = 1.0
    for words, value in _SIGNS.items():
        if text.endswith(words):
            text, sign = text.removesuffix(words).strip(), value
    return text, unit, sign


def _is_unit(word: str) -> bool:
    known = {"deg", "rad", "%", "°", "s", "ms", "min", "h", "g", "l", "m3", "gal", "m", "km", "ft"}
    return word in known | set(_UNIT_SPELLINGS) | {"m/s2", "m/s^2", "mm", "cm", "litres", "qt"}


def _quantity_of(base: str, taken: frozenset[str]) -> str | None:
    for quantity, (_, spellings) in QUANTITIES.items():
        if base in spellings and quantity not in taken:
            return quantity
    return None


def _column(
    quantity: str,
    position: int,
    title: str,
    unit: str,
    sign: float,
    texts: list[str],
    where: str,
) -> Column:
    kind = QUANTITIES[quantity][0]
    unit = _UNIT_SPELLINGS.get(unit, unit).replace("^", "")
    stamps = [text for text in texts if _STAMP.match(text)]
    if quantity == "time" and (stamps or unit in _ORDERS):
        stamp = unit if unit in _ORDERS else _kind_of_stamp(stamps, f"{where}, column '{title}'")
        return Column(quantity, position, title, _STAMPED, stamp=stamp)
    if not unit:
        example = {"angle": "deg", "time": "s", "volume": "L", "distance": "m"}.get(kind, "g")
        raise FileFormatError(
            f"column '{title}' has no unit",
            where=where,
            allowed=f"a unit in its name, as in {quantity}_{example}, or an option that says it",
        )
    ways = _WAYS.get(quantity)
    words = f"{ways[sign < 0.0]} is positive" if ways else ""
    if unit == "%" and kind == "angle":
        return Column(quantity, position, title, unit, sign, words)
    spelled = {"l": "L", "litres": "L"}.get(unit, unit)
    here = f"{where}, column '{title}'"
    one = parse_angle(f"1{spelled}", here) if kind == "angle" else parse(f"1{spelled}", kind, here)
    return Column(quantity, position, title, spelled, sign * one, words)


def _kind_of_stamp(stamps: list[str], where: str) -> str:
    """How the dates and times of a column are written. Raises FileFormatError where it may be two ways."""
    if stamps[0][:4].isdigit():
        return "zoned" if re.search(r"(Z|[+-]\d\d:?(\d\d)?)$", stamps[0].strip()[10:]) else "local"
    parts = [re.split(r"[./-]", text)[:2] for text in stamps]
    possible = [
        order for k, order in enumerate(_ORDERS) if all(int(part[1 - k]) <= 12 for part in parts)
    ]
    if len(possible) == 1:
        return possible[0]
    raise FileFormatError(
        f"'{stamps[0]}' may be day/month or month/day",
        where=where,
        allowed="a column unit that says which: time=d/m/y or time=m/d/y",
        next_step="--column-unit time=d/m/y",
    )
