"""What a log leaves open, asked instead of guessed: each error names both readings and what settles it."""

import re
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.model.attitude import GRAVITY
from tanksolve.questions.replay.log_columns import Column

Array = NDArray[np.float64]

__all__ = [
    "ACCELERATIONS",
    "ask_what_accelerations_mean",
    "ask_whether_tilt_counts_twice",
    "decimal_mark",
]

ACCELERATIONS = ("forward", "left", "up")
# A machine whose own acceleration is half of gravity on average gains 18 km/h every second.
_MOST_OWN = 0.5 * GRAVITY
_ALIKE, _TILTED = 0.03 * GRAVITY, 0.05 * GRAVITY
_GROUPED = {
    mark: re.compile(rf"[+-]?[1-9]\d{{0,2}}(\{mark}\d{{3}})+", re.ASCII) for mark in (",", ".")
}


def decimal_mark(
    sample: Sequence[Sequence[str]],
    columns: Sequence[Column],
    separator: str,
    where: str,
    told: str | None = None,
) -> str:
    """The decimal mark of a text, ``.`` or ``,``, from its first rows. Raises FileFormatError in doubt.

    told : ``comma`` or ``point``, as the user says.
    """
    if told is not None:
        return {"comma": ",", "point": "."}[told]
    fields = [
        row[column.position].strip()
        for column in columns
        if not column.stamp
        for row in sample
        if column.position < len(row)
    ]
    marked = {mark: [f for f in fields if mark in f and re.search(r"\d", f)] for mark in (",", ".")}
    if marked[","] and marked["."]:
        _ask(marked[","][0], f"decimal commas, while '{marked['.'][0]}' has a point", where)
    for mark, found in marked.items():
        unusual = mark == "," or separator != ","
        if found and unusual and all(_GROUPED[mark].fullmatch(f) for f in found):
            digits = found[0].replace(mark, "")
            _ask(found[0], f"{found[0].replace(mark, '.', 1)} or {digits}", where)
    return "," if marked[","] else "."


def _ask(field: str, readings: str, where: str) -> None:
    raise FileFormatError(
        f"'{field}' can be read two ways: {readings}",
        where=where,
        allowed="one decimal mark in all columns that are used",
        next_step="say which it is: --decimal comma or --decimal point",
    )


def ask_what_accelerations_mean(
    mean: Mapping[str, float], where: str, told: str | None, columns: Mapping[str, Column]
) -> None:
    """Ask where columns of acceleration look like an accelerometer's, which feels gravity as well.

    mean : by quantity [m/s²], over the rows known so far.
    told : ``own`` (of the machine against the ground) or ``felt`` (by an accelerometer, with gravity);
        None is not told.
    """
    size = float(np.sqrt(sum(x * x for x in mean.values())))
    if told is not None or size < _MOST_OWN:
        return
    worst = max(mean, key=lambda name: abs(mean[name]))
    _ask_meaning(
        f"column '{columns[worst].header}' is {mean[worst] / GRAVITY:+.2f} g on average, as of an"
        " accelerometer that feels gravity",
        where,
    )


def ask_whether_tilt_counts_twice(
    values: Mapping[str, Array], where: str, told: str | None, columns: Mapping[str, Column]
) -> None:
    """Ask where a column of acceleration is gravity's share along a tilted axis.

    values : the first rows (N,) by quantity, in SI.
    """
    for name, angle in (("forward", "pitch"), ("left", "roll")):
        if told is not None or name not in values or angle not in values:
            continue
        share = GRAVITY * np.sin(values[angle])
        known = np.isfinite(share) & np.isfinite(values[name])
        if not known.any() or np.sqrt(np.mean(share[known] ** 2)) < _TILTED:
            continue
        for sign in (1.0, -1.0):
            if np.sqrt(np.mean((values[name] - sign * share)[known] ** 2)) < _ALIKE:
                _ask_meaning(
                    f"column '{columns[name].header}' follows {angle} as gravity on a tilted sensor"
                    " does",
                    where,
                )


def _ask_meaning(what: str, where: str) -> None:
    raise FileFormatError(
        what,
        where=where,
        allowed="felt: an accelerometer's three axes (its tilt is then taken from them), or own: the"
        " machine's speeding up, braking and cornering without gravity",
        next_step="say which: --acceleration felt or --acceleration own",
    )
