"""Requirements from published rules, each with where it was read; only what was read is here.

Figures that are quoted second-hand, or whose own text could not be read, are no presets: state
them as angles instead. Where a rule does not say which way, every heading is taken.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from tanksolve.errors import RequirementError
from tanksolve.model.requirement import Requirement

__all__ = ["PRESETS", "Preset", "preset"]

CHECK = "check the edition that binds you"


@dataclass(frozen=True)
class Preset:
    """A published requirement: what it says, where it stands, and the attitudes it comes to."""

    says: str
    source: str
    make: Callable[[], Requirement]


def _heading(degrees: float) -> Callable[[], Requirement]:
    return lambda: Requirement.every_heading(math.radians(degrees))


def _box(pitch_deg: float, roll_deg: float) -> Callable[[], Requirement]:
    return lambda: Requirement.box(math.radians(pitch_deg), math.radians(roll_deg))


def _climb_or_side(climb_percent: float, side_percent: float) -> Callable[[], Requirement]:
    """Straight up and down the slope, or straight across it: not both at once."""
    climb, side = math.atan(climb_percent / 100.0), math.atan(side_percent / 100.0)
    return lambda: Requirement.box(climb, 0.0) | Requirement.box(0.0, side)


_UNITS = (
    "class rules for mobile offshore units, Part 5 Chapter 1, section 2.1, Table 1.2.1 "
    "(imorules.com; publisher and edition not stated on the page)"
)
_UNITS_2 = _UNITS.replace("section 2.1, Table 1.2.1", "paragraphs 1.2.2 and 1.2.3")
_MODU = "IMO MODU Code, paragraph 7.1.3 (imorules.com; title inferred from the page)"
_TOGETHER = "; both may occur together"

PRESETS: dict[str, Preset] = {
    "offshore-static": Preset(
        f"main and essential machinery, static: 15° athwartships, 5° fore and aft{_TOGETHER}",
        _UNITS, _box(5.0, 15.0),
    ),
    "offshore-dynamic": Preset(
        f"main and essential machinery, dynamic: 22.5° athwartships, 7.5° fore and aft{_TOGETHER}",
        _UNITS, _box(7.5, 22.5),
    ),
    "offshore-emergency": Preset(
        f"emergency machinery: 22.5° athwartships, 10° fore and aft{_TOGETHER}",
        _UNITS, _box(10.0, 22.5),
    ),
    "column-stabilised-static": Preset("15° in any direction, static", _UNITS_2, _heading(15.0)),
    "column-stabilised-dynamic": Preset(
        "22.5° in any direction, dynamic", _UNITS_2, _heading(22.5)
    ),
    "self-elevating-static": Preset("10° in any direction, static", _UNITS_2, _heading(10.0)),
    "self-elevating-dynamic": Preset("15° in any direction, dynamic", _UNITS_2, _heading(15.0)),
    "modu-static": Preset("15° static; every heading is taken", _MODU, _heading(15.0)),
    "modu-dynamic": Preset("22.5° roll with 7.5° pitch", _MODU, _box(7.5, 22.5)),
    "division-230": Preset(
        "propulsion and auxiliaries work to 10°; every heading is taken",
        "France, arrêté of 23 November 1987, Division 230, article 230-3.13(4)", _heading(10.0),
    ),
    "mil-std-1227b": Preset(
        "engine not to run tilted more than 15° in any plane",
        "MIL-STD-1227B, paragraph 4.2", _heading(15.0),
    ),
    "mil-t-83808": Preset(
        "12 % grade, 10 % side slope, without spillage of any fluid; one at a time, up and down",
        "MIL-T-83808, paragraph 3.2.1 e and f", _climb_or_side(12.0, 10.0),
    ),
    "mil-c-62326b": Preset(
        "climb 75 %, side hill 55 %; one at a time, up and down",
        "MIL-C-62326B, paragraph 3.3.4", _climb_or_side(75.0, 55.0),
    ),
}  # fmt: skip


def preset(name: str) -> Requirement:
    """The preset's attitudes, with its source and the advice to check the edition that binds.

    Raises RequirementError for an unknown name.
    """
    if name not in PRESETS:
        raise RequirementError(f"'{name}' is no preset", allowed=", ".join(PRESETS))
    entry = PRESETS[name]
    return replace(entry.make(), source=f"{name}: {entry.says}. Source: {entry.source}; {CHECK}")
