"""The commissioning sheet: what to check on the real machine before trusting any figure.

Two tests whose outcome is predicted here: the dip after each few litres poured, and the liquid over
each pickup (read in a sight tube at its outlet) at attitudes well inside the limit.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FillError
from tanksolve.kernel.attitude.cells import SLOPE_HEADING
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.result import Result
from tanksolve.state.conditions import Conditions
from tanksolve.unit_systems import METRIC, stated, told
from tanksolve.units import slope_words

Array = NDArray[np.float64]

__all__ = [
    "CAUTIONS",
    "Place",
    "PourRow",
    "Sheet",
    "TiltRow",
    "WorstLimit",
    "commissioning_sheet",
    "steps",
]

READING = 0.003  # m, of a dipstick or a sight tube: common practice, no source
POURED = 0.01  # of the volume, of a jug or a dispenser: common practice, no source
ANGLE = math.radians(0.5)  # of an inclinometer and of the tank's seat: common practice, no source
_SEARCH_TO = 60.0  # degrees
_STEEPEST = math.radians(15.0)
_ROOM = 2.0  # degrees that a tilt of the test stays inside the tank limit
_LEVEL = np.array([[0.0, 0.0, 1.0]])
_SIDES = (
    ("nose up", 0.0),
    ("nose down", 180.0),
    ("left side down", 270.0),
    ("right side down", 90.0),
)
CAUTIONS = (
    "Tilt with water in, out of the machine or with that off, on solid supports, wedged and tied,"
    " never on jack or hook alone; nobody below.",
    "No hot work (welding, cutting, drilling, grinding) on a tank that held fuel until it is"
    " certified free of vapour: dregs can burst it.",
    "Hot oil burns: test cold; let the pressure down before opening lines.",
    "A tank limit says nothing about roll-over: the machine maker's slope limit, local codes and"
    " licensed practice come first.",
)


@dataclass(frozen=True)
class PourRow:
    """After so much is poured in all: the dip expected, and how far off is too far."""

    poured_m3: float
    dip_m: float
    differs_m: float


@dataclass(frozen=True)
class TiltRow:
    """One attitude of the tilt test, and one port there.

    Attributes
    ----------
    side : in words, such as "nose up".
    slope_deg : half of the tank limit on that side, or as far as is required where that leaves 2 degrees
        of it; 15 degrees at most.
    limit_deg : the limit it stays inside; None where no port gives out in the range searched.
    over_centre_m : liquid over the centre of the port's opening, what a sight tube at its outlet
        shows; negative where the surface is below it.
    margin_m : predicted, cover or clearance taken off.
    differs_m : a reading further off than this means: do not use these figures.
    rule : of the port, in words: nothing is measured at one that must stay dry.
    """

    side: str
    slope_deg: float
    limit_deg: float | None
    port: str
    over_centre_m: float
    margin_m: float
    differs_m: float
    rule: str


@dataclass(frozen=True)
class Place:
    """Where a port is [m], from the rear wall, the right wall and the floor, to be measured.

    An opening that is not ``round`` has as its bore what it is across its corners.
    """

    port: str
    kind: str
    from_rear_right_floor_m: tuple[float, float, float]
    bore_m: float | None
    round: bool = True


@dataclass(frozen=True)
class WorstLimit:
    """The lowest limit over all headings; ``limited`` is false where no port gives out."""

    slope_deg: float
    heading_deg: float
    port: str | None
    limited: bool


@dataclass(frozen=True, eq=False, repr=False)
class Sheet(Result):
    """Everything to be printed and taken to the machine.

    ``worst`` is None where a port breaks its rule on level ground already; ``inside_m`` is the length,
    width and height between the walls, or of the enclosing box. ``tilts`` has the side of the least margin
    first, and on each side the port of the least. ``fill_dip_m`` is the dip of the fill's two ends, from the
    lowest point of the liquid, which lies ``below_floor_m`` below the floor.
    """

    rows_of: ClassVar[str] = "tilts"

    tank: str
    capacity_m3: float
    fill: Fill
    step_m3: float
    pours: tuple[PourRow, ...]
    tilts: tuple[TiltRow, ...]
    holds_on_level_ground: bool
    instructions: tuple[str, ...]
    verdict: str
    cautions: tuple[str, ...]
    inside_m: tuple[float, float, float]
    places: tuple[Place, ...]
    worst: WorstLimit | None
    searched_to_deg: float
    fill_dip_m: tuple[float, float]
    below_floor_m: float


def commissioning_sheet(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    step: float = 0.005,
    described: tuple[Tank, Sequence[Port]] | None = None,
    requirement: Requirement | None = None,
) -> Sheet:
    """Predict what to check on the real tank.

    Parameters
    ----------
    step : poured between dips [m³].
    described : tank and ports in the tank's own axes, where it is mounted askew in the machine.
    requirement : what the tank must keep: a side is tilted as far as that asks, where it leaves room.

    Raises FillError for a step that makes no table, PortError without a port that sets a limit.
    """
    conditions = Conditions.of(tank, ports, fill)
    held = bool(conditions.held(_LEVEL).all())
    pours = _pours(tank, conditions.fill.most, step)
    own_tank, own_ports = described or (tank, ports)
    length, width, height = (float(c) for c in own_tank.upper - own_tank.lower)
    tilts, worst = _tilts(conditions, requirement)
    dips = _dips(tank, np.array([conditions.fill.least, conditions.fill.most]))
    below = max(0.0, float(own_tank.corner[2] - own_tank.lower[2]))
    return Sheet(
        tank=tank.name,
        capacity_m3=tank.capacity,
        fill=conditions.fill,
        step_m3=step,
        pours=pours,
        tilts=tilts,
        holds_on_level_ground=held,
        instructions=_instructions(conditions.fill, dips, below),
        verdict="Off by more than the last column: do not use these figures.",
        cautions=CAUTIONS,
        inside_m=(length, width, height),
        places=tuple(
            Place(
                *(port.name, port.kind.value, own_tank.from_walls(port.position), port.bore),
                round=not port.rim,
            )
            for port in own_ports
        ),
        worst=worst,
        searched_to_deg=_SEARCH_TO,
        fill_dip_m=(float(dips[0]), float(dips[1])),
        below_floor_m=below,
    )


_STEPS = (
    f"Stand the empty tank level, to {slope_words(math.radians(0.2))} both ways. Measure its inside"
    " sizes and each port's place, and compare them with the table of places.",
    "Pour the amounts of the dip table, one after another, and dip after each, over the lowest"
    " point of the liquid{sump}: all depths count from there. Weigh what is poured, or"
    " use a calibrated measure.",
    "Then fill with {least} of water (dip {least_dip}), the least of the fill given, and tilt as in the"
    " table of the tilt test, its first rows first. Lead the pickup's"
    " outlet to a clear tube held up along the tank's side: water stands in it at the level over"
    " the pickup. Measure straight up, not along the tank, and write it under 'read': it compares"
    " with 'over centre', not with the margin.",
    "Wait until the liquid is still. With baffles, come to the attitude slowly.",
    "Then fill to {most} (dip {most_dip}), the most of the fill given, and look whether the breather and"
    " the filler stay dry at the same attitudes: write 'dry' or 'wet' under 'read', nothing is measured"
    " there.",
)


def steps(below_floor_m: float) -> tuple[str, ...]:
    """The steps as templates for ``{least}``, ``{most}``, ``{least_dip}``, ``{most_dip}`` and ``{below}``."""
    sump = ", {below} below the floor" if below_floor_m > 1e-6 else ""
    return tuple(step.replace("{sump}", sump) for step in _STEPS)


def _instructions(fill: Fill, dips: Array, below: float) -> tuple[str, ...]:
    """The steps with their amounts in metric units, as all words of the data are."""
    values = {
        "least": told(fill.least, "volume", system=METRIC),
        "most": told(fill.most, "volume", system=METRIC),
        "least_dip": told(float(dips[0]), "length", system=METRIC),
        "most_dip": told(float(dips[1]), "length", system=METRIC),
        "below": told(below, "length", system=METRIC),
    }
    return tuple(step.format(**values) for step in steps(below))


def _dips(tank: Tank, volume: Array) -> Array:
    """How deep volumes [m³] stand at one level, standing level, over the lowest point of the liquid [m]."""
    inside = np.clip(volume, 0.0, tank.capacity)
    height = levels(tank.tree, np.repeat(_LEVEL, len(volume), axis=0), inside)[0]
    return np.asarray(height - tank.lower[2])


def _pours(tank: Tank, most: float, step: float) -> tuple[PourRow, ...]:
    if not step > 0.0 or most / step > 500:
        raise FillError(
            f"steps of {stated(step, 'volume')} make no table up to {stated(most, 'volume')}",
            allowed=f"more than {stated(most / 500.0, 'volume')}",
        )
    poured = step * np.arange(1, math.floor(most / step + 1e-9) + 1)
    if len(poured) == 0 or poured[-1] < most * (1.0 - 1e-9):
        poured = np.append(poured, most)
    poured = np.minimum(poured, most)
    known = POURED * poured + abs(tank.volume_error or 0.0)
    spread = 0.5 * (_dips(tank, poured + known) - _dips(tank, poured - known))
    differs = READING + spread
    rows = zip(poured.tolist(), _dips(tank, poured).tolist(), differs.tolist(), strict=True)
    return tuple(PourRow(*row) for row in rows)


def _tilts(
    conditions: Conditions, requirement: Requirement | None
) -> tuple[tuple[TiltRow, ...], WorstLimit | None]:
    found = envelope(
        *(conditions.tank, conditions.ports, conditions.fill),
        every_deg=15.0,
        search_to_deg=_SEARCH_TO,
    )
    if not found.ok_at_level:
        return tuple(_tilt_rows(conditions, "level ground", 0.0, 0.0, 0.0)), None
    limits = {round(limit.heading_deg): limit for limit in found.limits}
    sides = []
    for side, heading in _SIDES:
        limit = limits[round(heading)]
        whole = math.floor(0.5 * limit.held_to_deg)
        asked = 0 if requirement is None else _asked_on(requirement, heading)
        if whole < asked <= limit.held_to_deg - _ROOM:
            whole = asked
        whole = min(whole, round(math.degrees(_STEEPEST)))
        slope = _certain_to(conditions, math.radians(heading), whole)
        held = limit.held_to_deg if limit.limited else None
        sides.append(_tilt_rows(conditions, side, slope, math.radians(heading), held))
    # what lies nearest to its rule first; ports of a side stay together: it is tilted once for all
    rows = [row for rows in sorted(sides, key=lambda rows: rows[0].margin_m) for row in rows]
    worst = found.worst
    return tuple(rows), WorstLimit(worst.held_to_deg, worst.heading_deg, worst.port, worst.limited)


def _asked_on(requirement: Requirement, heading_deg: float) -> int:
    """The steepest slope in whole degrees that is required with uphill at one of the four sides."""
    ends = [0.0]
    for patch in requirement.patches:
        (a0, a1), (b0, b1) = patch.a, patch.b
        if patch.chart == SLOPE_HEADING:
            turned = (math.radians(heading_deg) - b0) % math.tau
            ends += [a1] if turned <= b1 - b0 + 1e-9 and not any(patch.shift) else []
        else:
            along, across = ((a0, a1), (b0, b1))[:: 1 if heading_deg % 180.0 == 0.0 else -1]
            # pitch grows towards nose up, roll towards right side down: headings 0 and 90
            end = along[1] if heading_deg < 135.0 else -along[0]
            ends += [end] if across[0] <= 0.0 <= across[1] else []
    return math.floor(math.degrees(max(ends)) + 1e-9)


def _certain_to(conditions: Conditions, heading: float, whole_deg: int) -> float:
    """The steepest slope [rad] of whole degrees up to which one level tells what is read."""
    slopes = np.radians(np.arange(whole_deg, -1, -1))
    certain = conditions.one_surface(up_from_slope_heading(slopes, heading))
    return float(slopes[np.argmax(certain)]) if certain.any() else 0.0


def _tilt_rows(
    conditions: Conditions,
    side: str,
    slope: float,
    heading: float,
    limit: float | None,
) -> list[TiltRow]:
    """A row for each port at one attitude, with what half a degree would change; the least margin first."""
    up = up_from_slope_heading([slope, slope + ANGLE, max(0.0, slope - ANGLE)], heading)
    margins = conditions.margins(up[:, None, :])[:, 0, :]
    rows = []
    for k, port in enumerate(conditions.ports):
        volume = conditions.least if port.effective_rule is Rule.WET else conditions.most
        level = levels(conditions.tank.tree, up[:1], volume)[0][0]
        change = float(np.abs(margins[1:, k] - margins[0, k]).max())
        rows.append(
            TiltRow(
                side=side,
                slope_deg=math.degrees(slope),
                limit_deg=limit,
                port=port.name,
                over_centre_m=float(level - up[0] @ np.asarray(port.position)),
                margin_m=float(margins[0, k]),
                differs_m=READING + change,
                rule=port.effective_rule.value,
            )
        )
    return sorted(rows, key=lambda row: row.margin_m)
