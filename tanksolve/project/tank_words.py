"""What a user wrote about a tank, its ports and its fill, not yet read; and what of it goes together."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from tanksolve.errors import TankError

__all__ = ["TankWords", "refuse_idle"]


@dataclass(frozen=True)
class TankWords:
    """Each word as it was typed, as of ``tanksolve help tank``; None or False where nothing was.

    ``tank`` is a tank file or a mesh, ``units`` a system of units to answer in.
    """

    tank: str | None = None
    box: str | None = None
    cylinder: str | None = None
    lies: str | None = None
    outside: bool = False
    wall: str | None = None
    unit: str | None = None
    forward: str | None = None
    up: str | None = None
    meaning: str | None = None
    body: str | None = None
    cavity: str | None = None
    plug: list[str] | None = None
    chord: str | None = None
    pickup: list[str] | None = None
    breather: list[str] | None = None
    filler: list[str] | None = None
    return_: list[str] | None = None
    drain: list[str] | None = None
    heater: list[str] | None = None
    level_switch: list[str] | None = None
    any_pickup: bool = False
    fill: str | None = None
    density: str | None = None
    units: str | None = None

    @property
    def has_tank(self) -> bool:
        """Whether a tank was described."""
        return bool(self.tank or self.box or self.cylinder)

    def as_inputs(self) -> Mapping[str, Any]:
        """What was given, for the JSON's ``inputs``; options left alone are not listed."""
        given = {f.name.rstrip("_"): getattr(self, f.name) for f in fields(self)}
        return {name: value for name, value in given.items() if value not in (None, [], False)}


_MESH = ("unit", "forward", "up", "meaning", "body", "cavity", "plug", "chord")
_SHAPE = ("lies", "outside", "wall")


def refuse_idle(words: TankWords) -> None:
    """Raise TankError for an option of a shape given with a mesh or tank file, and the like."""
    if words.tank is not None and (words.box or words.cylinder):
        raise TankError(
            f"a tank '{words.tank}' and --box or --cylinder are two tanks", allowed="one tank"
        )
    if words.tank is None:
        idle = (*_MESH, *(() if words.cylinder else ("lies",)))
        what = "a cylinder" if words.cylinder else "a box"
    elif words.tank.endswith(".toml"):
        idle, what = (*_SHAPE, *_MESH), "a tank file, which says this itself"
    else:
        idle, what = _SHAPE, "a mesh"
    given = [f"--{name}" for name in idle if getattr(words, name)]
    if given:
        raise TankError(
            f"of no use with {what}",
            where=", ".join(given),
            allowed="--lies for a cylinder; --outside and --wall for a box or cylinder; "
            + ", ".join(f"--{name}" for name in _MESH)
            + " for a mesh file",
            next_step="leave it out, or set it in the tank file",
        )
