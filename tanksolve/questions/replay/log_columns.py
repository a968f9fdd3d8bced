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

__all__ = ["QUANTITIES", "Column", "find_columns"]

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
_UNIT_SPELLINGS = {"degrees": "deg", "°": "deg", "pct": "%", "percent": "%", "ms2": "m/s2"}
_STAMPED = "stamp"


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
    """

    quantity: str
    position: int
    header: str
    unit: str
    factor: float = field(default=1.0)

    @property
    def is_stamp(self) -> bool:
        """Whether the column holds dates and times."""
        return self.unit == _STAMPED

    def to_si(self, values: Array) -> Array:
        """Turn a column of numbers to SI (m, s, rad, m³, m/s²), with this project's signs."""
        if self.unit == "%":
            return np.asarray(self.factor * np.arctan(values / 100.0))
        return values if self.factor == 1.0 else self.factor * values


def find_columns(
    header: list[str],
    first_row: list[str],
    where: str,
    names: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    reversed_signs: frozenset[str] = frozenset(),
) -> dict[str, Column]:
    """Find the columns that mean something, by quantity.

    Parameters
    ----------
    header, first_row : fields of the header line and of the first row.
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
        sample = first_row[position] if position < len(first_row) else ""
        sign = -sign if quantity in reversed_signs else sign
        unit = units.get(quantity, unit)
        found[quantity] = _column(quantity, position, title, unit, sign, sample, where)
    absent = [text for quantity, text in names.items() if quantity not in found]
    if absent:
        raise FileFormatError(
            f"no column is called '{absent[0]}'", where=where, allowed=", ".join(header)
        )
    return found


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
    quantity: str, position: int, title: str, unit: str, sign: float, sample: str, where: str
) -> Column:
    kind = QUANTITIES[quantity][0]
    unit = _UNIT_SPELLINGS.get(unit, unit).replace("^", "")
    if quantity == "time" and re.match(r'\s*"?\d{4}-\d\d-\d\d[T ]', sample):
        return Column(quantity, position, title, _STAMPED)
    if not unit:
        example = {"angle": "deg", "time": "s", "volume": "L", "distance": "m"}.get(kind, "g")
        raise FileFormatError(
            f"column '{title}' has no unit",
            where=where,
            allowed=f"a unit in its name, as in {quantity}_{example}, or an option that says it",
        )
    if unit == "%" and kind == "angle":
        return Column(quantity, position, title, unit, sign)
    spelled = {"l": "L", "litres": "L"}.get(unit, unit)
    here = f"{where}, column '{title}'"
    one = parse_angle(f"1{spelled}", here) if kind == "angle" else parse(f"1{spelled}", kind, here)
    return Column(quantity, position, title, spelled, sign * one)
