"""The notation of how a log is to be read: which column is what, in which unit."""

from typing import Any

from tanksolve.errors import FileFormatError
from tanksolve.questions.replay.log_meaning import LogOptions
from tanksolve.units import parse

__all__ = ["parse_log_options"]

_CHOICES = {
    "reading": ("inclinometer", "rotations", "projected"),
    "acceleration": ("own", "felt"),
    "decimal": ("comma", "point"),
}


def parse_log_options(
    pairs: dict[str, list[str] | None],
    choices: dict[str, str | None],
    quantities: dict[str, tuple[str | None, str]],
    reverse: list[str] | None,
) -> LogOptions:
    """How a log is to be read.

    pairs : ``names`` and ``units`` as ``pitch=Inc1``; choices, quantities : by the names of ``LogOptions``, with
    the kind of each quantity; None where not given. Raises FileFormatError, QuantityError, naming the option.
    """
    for name, value in choices.items():
        if value is not None and value not in _CHOICES[name]:
            raise FileFormatError(
                f"'{value}' is no {name}", where=f"--{name}", allowed=", ".join(_CHOICES[name])
            )
    options = {"time_constant": "--filter", "names": "--column", "units": "--column-unit"}
    given: dict[str, Any] = {n: _pairs(texts, options[n]) for n, texts in pairs.items()}
    for name, (text, kind) in quantities.items():
        where = options.get(name, f"--{name}")
        given[name] = None if text is None else parse(text, kind, where)
    return LogOptions(**given, **choices, reversed_signs=frozenset(reverse or ()))  # type: ignore[arg-type]


def _pairs(texts: list[str] | None, where: str) -> dict[str, str]:
    pairs = {}
    for text in texts or []:
        quantity, equals, value = text.partition("=")
        if not (equals and quantity and value):
            raise FileFormatError(
                f"'{text}' is no pair", where=where, allowed="as in pitch=Inc1 or pitch=deg"
            )
        pairs[quantity.strip()] = value.strip()
    return pairs
