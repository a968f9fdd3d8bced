"""The worst operating point of a pickup and a pump: level over the inlet, and the pickup's own rule.

The inlet's margin rises with the level over the pump and falls with altitude and flow, and level
rises with what is in the tank. So the worst is at the least fill, the highest site, the greatest
flow, and at the attitude where the level over the pump is least. That is found over the whole
required region (``state.worst_case``: solved, and bounded with no gap), by the same margins as
every limit, whatever the machine did before: those of a bare point at the pickup's mouth, which
tell the level that it stands in. Where the flow comes back into another bay, the pickup's bay is lower by
what the openings ask for, and both are judged with that (``running_limits``).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.attitude import Attitude
from tanksolve.model.bays import Bays
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.pump.flow_ports import drawn_flows, return_flow
from tanksolve.pump.running import ReturnFlow
from tanksolve.pump.running_limits import RunningConditions
from tanksolve.questions.envelope.requirement_met import conditions_met
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.worst_case import worst_case

Array = NDArray[np.float64]
Verdict = Literal["yes", "no", "not known"]

__all__ = [
    "PickupOverRegion",
    "SuctionHead",
    "required_attitudes",
    "running_line",
    "worst_head",
    "worst_pickup",
]

_TOLERANCE = 1e-5  # m: how far a bound may lie from what is solved
_BY_WALLS = 2e-3  # m: the same where walls may part the liquid: bounds close slowly there


@dataclass(frozen=True)
class SuctionHead:
    """The least level over the pump [m], along gravity, the attitude where it is, and the fill [m³].

    Attributes
    ----------
    volume_m3 : None where the level was given and not computed from a tank.
    bound_m : no required attitude has less [m]; None where the level was given. ``-inf`` where at some of
        them the openings do not carry the flow.
    running : whether the drop through the openings from return to pickup is in it.
    """

    level_over_pump_m: float
    pitch_deg: float
    roll_deg: float
    volume_m3: float | None = None
    bound_m: float | None = None
    running: bool = False


@dataclass(frozen=True)
class PickupOverRegion:
    """Whether the pickups keep their own rules over a region, at the least fill.

    Attributes
    ----------
    verdict : yes by a bound with no gap between samples; no at an attitude that was solved; not known
        where the bound does not reach what was solved.
    margin_m : of liquid beyond the required cover [m] at the worst attitude; negative: broken.
    cover_m : the same with the cover counted in: liquid over the mouth at that attitude [m].
    cover_words : where the required cover comes from.
    running : whether it was judged while the pump runs, its bay lowered by the flow, as well as at rest.
    """

    verdict: Verdict
    port: str
    margin_m: float
    cover_m: float
    cover_words: str
    pitch_deg: float
    roll_deg: float
    running: bool = False


def running_line(
    tank: Tank, bays: Bays, ports: Sequence[Port], flow: float, discharge: float
) -> ReturnFlow | None:
    """What the line draws and where it comes back, so that the drop through the openings counts.

    flow : of the line [m³/s]: that of the only pickup; of several each has to have its own (``Port.flow``).
    None where no port tells where the liquid comes back, or what each of several pickups draws, or where
    no flow crosses an opening. Raises PortError, TankError as ``return_flow``.
    """
    pickups = [port for port in ports if _draws(port)]
    if len(pickups) == 1:
        ports = [replace(p, flow=flow) if p is pickups[0] else p for p in ports]
    back = any(port.kind is PortKind.RETURN for port in ports)
    if not back or not drawn_flows(ports):
        return None
    found = return_flow(tank, bays, ports, discharge)
    return found if any(found.crosses(name) for name in found.pickups) else None


def required_attitudes(
    requirement: Requirement | None, attitudes: Sequence[Attitude] = ()
) -> Requirement:
    """A region and single attitudes together; level ground is always looked at."""
    (patch,) = Requirement.single(Attitude.level()).patches
    found = Requirement((replace(patch, words="level ground"),))
    for attitude in attitudes:
        found = found | Requirement.single(attitude)
    return found if requirement is None else found | requirement


def worst_pickup(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    requirement: Requirement,
    line_bore: float,
    pickups: Pickups = "all",
    running: ReturnFlow | None = None,
) -> PickupOverRegion | None:
    """Judge the pickups over a region; None where the tank has none.

    running : the flow from the return, where it lowers the pickup's bay; see :func:`running_line`.
    line_bore : [m], of the suction line: a pickup that has neither a bore nor a cover of its own is
        given the rule of thumb's for it. Raises PortError, FillError.
    """
    drawn = [_covered(p, line_bore) for p in ports if _draws(p)]
    if not drawn:
        return None
    conditions = _while(running, Conditions.of(tank, drawn, fill, pickups))
    found = conditions_met(conditions, requirement, _TOLERANCE)
    worst = min(found, key=lambda one: one.margin_m)
    verdict: Verdict = "not known"
    if worst.margin_m < 0.0:
        verdict = "no"
    elif all(one.met for one in found):
        verdict = "yes"
    slope, heading = math.radians(worst.slope_deg), math.radians(worst.heading_deg)
    pitch, roll = _reading(Attitude.from_slope(slope, heading).up)
    port = next(port for port in drawn if port.name == worst.port)
    return PickupOverRegion(
        verdict=verdict,
        port=port.name,
        margin_m=worst.margin_m,
        cover_m=port.required_cover + worst.margin_m,
        cover_words=port.cover_words,
        pitch_deg=pitch,
        roll_deg=roll,
        running=running is not None,
    )


def worst_head(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    pump: tuple[float, float, float],
    requirement: Requirement,
    running: ReturnFlow | None = None,
) -> SuctionHead:
    """Find the least height of the surface over the pump's inlet over a region, at the least fill.

    pump : the inlet's place (3,) [m], tank frame; it tilts with the tank, and may be outside.
    ports : the level is that which the lowest-standing pickup stands in; without pickups, that of
        one surface through the tank.
    running : the flow from the return, where it lowers a pickup's bay; see :func:`running_line`.

    Raises FillError for more than the tank holds, PortError.
    """
    volume = Fill.of(fill)
    volume.check(tank.capacity)
    x, y, z = (float(c) for c in tank.centre)
    named = [(port.name, port.position) for port in ports if _draws(port)] or [("tank", (x, y, z))]
    mouths = [at for _, at in named]
    points = [pickup(name, at, cover=0.0) for name, at in named]
    conditions = _while(running, Conditions.of(tank, points, volume.least))
    offsets = np.array(mouths) - np.asarray(pump)

    def loss(up: Array) -> Array:
        return -np.asarray((conditions.margins(up[:, None])[:, 0] + up @ offsets.T).min(axis=1))

    def bound(up: Array, hulls: Array) -> Array:
        over = (hulls @ offsets.T).min(axis=1)
        return -np.asarray((conditions.margins_within(up, hulls) + over).min(axis=1))

    close = _BY_WALLS if conditions.walls_may_part else _TOLERANCE
    worst = worst_case(requirement, loss, bound, close)
    pitch, roll = _reading(worst.up)
    return SuctionHead(
        *(-worst.value, pitch, roll, volume.least, -worst.bound), running=running is not None
    )


def _while(running: ReturnFlow | None, rest: Conditions) -> Conditions:
    return rest if running is None else RunningConditions.running_of(rest, running)


def _draws(port: Port) -> bool:
    return port.kind is PortKind.PICKUP and port.effective_rule is Rule.WET


def _covered(port: Port, line_bore: float) -> Port:
    bare = port.cover is None and port.bore is None
    return replace(port, bore=line_bore) if bare else port


def _reading(up: tuple[float, float, float]) -> tuple[float, float]:
    """Pitch and roll [deg] of an up vector, as an inclinometer reads them."""
    pitch, roll = (float(np.degrees(angle)) for angle in Attitude(up).inclinometer)
    return pitch, roll
