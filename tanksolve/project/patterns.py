"""What a text of the tank file looks like, as patterns of the JSON Schema: units, words, how many numbers.

An editor that checks by the schema marks what the reader would refuse, without building a tank. A pattern
takes all that the reader takes of units in use; the reader alone knows every unit that there is.
"""

from tanksolve.model.ports import FACINGS

__all__ = [
    "ANGLE",
    "DENSITY",
    "FACING",
    "FILL",
    "FLOW",
    "LENGTH",
    "PLACES",
    "POINTS",
    "VOLUME",
    "places",
]

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_METRES = "|".join(f"{p}met(?:er|re)s?" for p in ("milli", "centi", "deci", ""))
_LENGTHS = rf"(?:mm|cm|dm|m|inch|inches|in|\"|foot|feet|ft|yards?|yd|thou|mil|{_METRES})"
_VOLUMES = (
    r"(?:[mcd]?[lL]|(?:milli|centi|deci)?lit(?:er|re)s?|(?:mm|cm|dm|m|in|ft)(?:3|³|\^3|\*\*3)|cc"
    r"|(?:US |us_?|imperial[ _])?(?:gal(?:lons?)?)|imperial_gallons?|quarts?|qt|pints?|pt)"
)
_GRADE = r"(?:deg|°|degrees?|%|rad|radians?)"


def _whole(inner: str) -> str:
    return rf"^\s*{inner}\s*$"


def _measure(units: str) -> str:
    return rf"{_NUMBER}\s*{units}"


def places(count: int, between: str = "") -> str:
    """So many lengths with commas between, the last with its unit; ``between`` is what may follow before more."""
    item = rf"{_NUMBER}(?:\s*{_LENGTHS})?"
    one = r"\s*,\s*".join([item] * count)
    last = r"\s*,\s*".join([*[item] * (count - 1), _measure(_LENGTHS)])
    return _whole(rf"(?:{one}\s*{between}\s*)*{last}\s*{between}?" if between else last)


LENGTH = _whole(_measure(_LENGTHS))
VOLUME = _whole(_measure(_VOLUMES))
FILL = _whole(
    rf"(?:{_NUMBER}(?:\s*(?:{_VOLUMES}|{_LENGTHS}))?\s*\.\.\s*)?{_measure(f'(?:{_VOLUMES}|{_LENGTHS})')}"
)
ANGLE = _whole(rf"(?:{_measure(_GRADE)}|{_NUMBER}\s*:\s*[0-9.]+|0(?:\.0*)?)")
DENSITY = _whole(_measure(r"(?:kg|g|mg|t|tonnes?|lbs?|pounds?|oz)\s*(?:/|per).+"))
FLOW = _whole(_measure(r"(?:gpm|lpm|[A-Za-z_][\w³ ]*\s*(?:/|per)\s*[A-Za-z]+)"))
_WORD = rf"(?:{'|'.join(FACINGS)})"
FACING = _whole(rf"{_WORD}(?:\s*\+\s*{_WORD}){{0,2}}")
POINTS = places(2, ";")
PLACES = places(3, ";")
