"""In which units to answer: those asked for, those of the tank file, or those typed."""

from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from tanksolve.errors import FileFormatError, QuantityError
from tanksolve.project.tank_words import TankWords
from tanksolve.unit_systems import SYSTEMS, UnitSystem, typed_system

__all__ = ["system_of"]


def system_of(words: TankWords, own: Mapping[str, Any]) -> UnitSystem:
    """The units to answer in: those asked for, else those of the tank file, else those typed.

    Of what is typed the tank's own words come first; without any, the first quantity of ``own``, the
    options in the order in which they were typed.

    Raises QuantityError for a system that is not known.
    """
    if words.units is not None:
        if words.units not in SYSTEMS:
            raise QuantityError(
                f"'{words.units}' is no system of units",
                where="--units",
                allowed=", ".join(SYSTEMS),
            )
        return SYSTEMS[words.units]
    file = words.tank if words.tank and words.tank.endswith(".toml") else None
    sizes = [words.box, words.cylinder, f"1{words.unit}" if words.unit else None]
    given = [getattr(words, f.name) for f in fields(words) if f.name not in ("tank", "unit")]
    tank = [*(_texts(_contents(file)) if file else ()), *_texts(sizes), *_texts(given)]
    return typed_system(tank, _texts(list(own.values())))


def _contents(file: str) -> object:
    """What a tank file holds; nothing where it cannot be read, which is told where it is read."""
    from tanksolve.project.load import read_tables

    try:
        return read_tables(Path(file))
    except FileFormatError:
        return None


def _texts(value: object) -> list[str]:
    """All texts in a value as it was given: an option's, or the tables of a file."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        value = list(value.values())
    return [text for item in value for text in _texts(item)] if isinstance(value, list) else []
