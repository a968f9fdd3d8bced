"""What a study can compute of a variant: names, columns, kinds, and how closely it looks."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from tanksolve.errors import QuantityError
from tanksolve.model.requirement import Requirement
from tanksolve.project.requirements import parse_requirements
from tanksolve.unit_systems import Rounding
from tanksolve.units import parse, parse_angle, split_quantity

__all__ = ["KINDS", "MEASURES", "Kind", "Measure", "Settings", "columns_of"]


@dataclass(frozen=True)
class Settings:
    """How closely a study looks, the same for all of its variants.

    Attributes
    ----------
    require : attitudes for the fills, as ``--require`` takes them; empty is level ground.
    search_to_deg, headings_every_deg, tolerance_deg : of the envelope [°].
    fill_tolerance_m : of the fills, a mean depth [m].
    plate_m, metal_density : of the wall [m], [kg/m³], for ``metal_mass``; or None.
    time_limit_s : processor time that one variant may take [s].
    """

    require: tuple[str, ...] = ()
    search_to_deg: float = 60.0
    headings_every_deg: float = 5.0
    tolerance_deg: float = 0.05
    fill_tolerance_m: float = 1e-4
    plate_m: float | None = None
    metal_density: float | None = None
    time_limit_s: float = 600.0

    @property
    def requirement(self) -> Requirement:
        """The attitudes at which fills count. Raises RequirementError, QuantityError."""
        if not self.require:
            return Requirement.every_heading(0.0)
        return parse_requirements(self.require, "settings.require")


@dataclass(frozen=True)
class Kind:
    """A kind of figure: the end of its column's name, its kind in a document, how a limit is read.

    ``to_si`` takes a figure of the column to the SI value that documents hold.
    """

    suffix: str
    told: str
    read: Callable[[str, str], float]
    to_si: float = 1.0


def _angle(text: str, where: str) -> float:
    return math.degrees(parse_angle(text, where))


def _share(text: str, where: str) -> float:
    number, unit = split_quantity(text, where)
    if unit not in ("", "%"):
        raise QuantityError(f"'{text}' is no share", where=where, allowed="as in 95 %")
    return number / 100.0 if unit else number


def _plain(text: str, where: str) -> float:
    number, unit = split_quantity(text, where)
    if unit:
        raise QuantityError(f"'{text}' has a unit", where=where, allowed="a number, as in 900")
    return number


def _of(kind: str) -> Callable[[str, str], float]:
    return lambda text, where: parse(text, kind, where)


KINDS = {
    "slope": Kind("_deg", "slope", _angle, math.pi / 180.0),
    "volume": Kind("_m3", "volume", _of("volume")),
    "length": Kind("_m", "length", _of("length")),
    "area": Kind("_m2", "area", _of("area")),
    "mass": Kind("_kg", "mass", _of("mass")),
    "square degrees": Kind("_deg2", "count", _plain),
    "share": Kind("_share", "share", _share),
}


@dataclass(frozen=True)
class Measure:
    """A figure that a study computes: what it is, its kind, how sure it is, and what else it tells.

    Attributes
    ----------
    rounding : the side to which the figure is told.
    also : further columns that come with it.
    of_log : whether it is of a log, and not of the tank alone.
    """

    what: str
    kind: str
    sure: str
    rounding: Rounding = "nearest"
    also: tuple[str, ...] = ()
    of_log: bool = False


_BOUND, _SOLVED, _GIVEN = "bound", "solved", "given"
_WORST = ("worst_slope_heading_deg", "worst_slope_port")
MEASURES: dict[str, Measure] = {
    "worst_slope": Measure(
        "the slope held in every heading, whatever the machine did before",
        "slope",
        _BOUND,
        "down",
        _WORST,
    ),
    "kept_to": Measure(
        "the slope up to which all driving is proved, pump off, on what walls keep",
        "slope",
        _BOUND,
        "down",
    ),
    "envelope_area": Measure(
        "area of the polygon through the limits of the headings listed, slopes as radii",
        "square degrees",
        _SOLVED,
        "down",
    ),
    "least_fill": Measure(
        "the least fill at which all rules of wet ports are kept at the required attitudes",
        "volume",
        _BOUND,
        "up",
    ),
    "most_fill": Measure(
        "the most fill at which all rules of dry ports are kept at the required attitudes",
        "volume",
        _BOUND,
        "down",
    ),
    "unusable": Measure(
        "liquid that the wet ports leave in the tank at the required attitudes",
        "volume",
        _BOUND,
        "up",
    ),
    "capacity": Measure("the full volume", "volume", _SOLVED),
    "liquid_mass": Measure("of the most fill; needs a density in the tank file", "mass", _SOLVED),
    "metal_mass": Measure(
        "of plate on all of the wall; needs settings.plate and settings.metal_density",
        "mass",
        _SOLVED,
    ),
    "length": Measure("of the box that encloses the inside", "length", _GIVEN),
    "width": Measure("of the box that encloses the inside", "length", _GIVEN),
    "height": Measure("of the box that encloses the inside", "length", _GIVEN),
    "log_kept": Measure(
        "share of a log in which all rules are kept", "share", _SOLVED, of_log=True
    ),
    "log_broken": Measure(
        "share of a log in which a rule is broken", "share", _SOLVED, of_log=True
    ),
    "log_not_known": Measure(
        "share of a log of which neither can be told", "share", _SOLVED, of_log=True
    ),
    "log_margin": Measure(
        "the least margin of any port in a log",
        "length",
        _SOLVED,
        "down",
        ("log_margin_port", "log_verdict"),
        True,
    ),
}


def columns_of(wanted: tuple[str, ...]) -> Mapping[str, Any]:
    """The columns that these measures fill, in order: each with ``float`` or ``str``."""
    columns: dict[str, Any] = {}
    for name in wanted:
        measure = MEASURES[name]
        columns[name + KINDS[measure.kind].suffix] = float
        columns |= {also: float if also.endswith("_deg") else str for also in measure.also}
    return columns
