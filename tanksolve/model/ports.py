"""Openings in a tank: shapes with a size and a facing, and the rule that each must keep."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from numbers import Real
from typing import TypedDict, Unpack

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.unit_systems import stated, told

Array = NDArray[np.float64]

__all__ = [
    "FACINGS",
    "Port",
    "PortKind",
    "Rule",
    "breather",
    "drain",
    "filler",
    "heater",
    "level_switch",
    "pickup",
    "return_line",
    "strainer",
]

FACINGS: dict[str, tuple[float, float, float]] = {
    "forward": (1.0, 0.0, 0.0),
    "rearward": (-1.0, 0.0, 0.0),
    "left": (0.0, 1.0, 0.0),
    "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
COVER_BORES = 2.0  # fluid-power rule of thumb: Casey, Power & Motion, 4 Apr 2017: at least 2 d below the surface
_LINE = 1e-9  # of the length of an outline: one no wider is a line
_EDGE_ON = 0.01  # of its area: an outline that shows less, within 0.57 degrees of edge-on, is seen as a line


class PortKind(StrEnum):
    """What a port is for."""

    PICKUP = "pickup"
    BREATHER = "breather"
    FILLER = "filler"
    RETURN = "return"
    DRAIN = "drain"
    HEATER = "heater"
    LEVEL_SWITCH = "level switch"


class Rule(StrEnum):
    """What must hold of a port for the tank to be within its limit."""

    WET = "must stay wet"
    DRY = "must stay dry"
    NONE = "sets no limit"


_DEFAULT_RULES = {
    PortKind.PICKUP: Rule.WET,
    PortKind.BREATHER: Rule.DRY,
    PortKind.FILLER: Rule.DRY,
    PortKind.RETURN: Rule.NONE,
    PortKind.DRAIN: Rule.NONE,
    PortKind.HEATER: Rule.WET,
    PortKind.LEVEL_SWITCH: Rule.WET,
}


@dataclass(frozen=True)
class Port:
    """An opening: one or two discs, or a point, with a rule.

    Attributes
    ----------
    name : how the user calls it.
    kind : what it is for; sets the default rule.
    position : centre of the opening (of the strainer's base disc) [m], tank frame.
    bore : inner diameter of the opening [m]; None is a bare point.
    facing : unit vector out of the opening, tank frame; None with a bore means that the facing is
        not known, and the opening is then taken as the ball that holds it at any facing.
    length : a strainer reaches this far [m] along ``facing`` from ``position``; 0 is an open end.
    rule : wet, dry or none; None takes the kind's default.
    cover : liquid required over a wet port, or clearance under a dry one [m]; None takes the
        default: 2 x bore over a pickup with a bore, else 0.
    rim : corners of an opening that is not round, from ``position`` [m], tank axes: it lies in their convex
        hull. ``bore`` is then the diameter of the circle round it. Empty where the opening is round.
    flow : what a pump draws from a pickup, or what comes back at one of several returns [m³/s]; None where it
        is not known, 0 where it stands.

    Raises PortError for sizes that are not positive and finite, and for an outline that has no bore or is seen
    edge-on along ``facing``.
    """

    name: str
    kind: PortKind
    position: tuple[float, float, float]
    bore: float | None = None
    facing: tuple[float, float, float] | None = None
    length: float = 0.0
    rule: Rule | None = None
    cover: float | None = None
    flow: float | None = None
    rim: tuple[tuple[float, float, float], ...] = ()

    def __post_init__(self) -> None:
        for name in ("bore", "length", "cover", "flow"):
            value = getattr(self, name)
            if value is not None and not isinstance(value, Real):
                raise PortError(
                    f"a {name} of {value!r} is not a number",
                    where=f"port '{self.name}'",
                    allowed="a number in m, a flow in m³/s",
                )
        sizes = [self.bore or 0.0, self.length, self.cover or 0.0, self.flow or 0.0]
        numbers = [*self.position, *sizes, *(c for corner in self.rim for c in corner)]
        if not np.all(np.isfinite(numbers)):
            raise PortError(
                "a position or size is not a finite number", where=f"port '{self.name}'"
            )
        if self.bore is not None and self.bore <= 0.0:
            raise PortError(
                f"a bore of {stated(self.bore, 'length')} is not positive",
                where=f"port '{self.name}'",
            )
        if self.length < 0.0 or (self.cover is not None and self.cover < 0.0):
            raise PortError(
                "a strainer's length and the cover cannot be negative", where=f"port '{self.name}'"
            )
        flows = self.kind in (PortKind.PICKUP, PortKind.RETURN)
        if self.flow is not None and (self.flow < 0.0 or not flows):
            raise PortError(
                f"a flow of {stated(self.flow, 'flow')} at a {self.kind} is none that a pump draws",
                where=f"port '{self.name}'",
                allowed="0 L/min or more, at a pickup, or at one of several returns",
            )
        if self.facing is not None:
            size = float(np.linalg.norm(self.facing))
            if not 1e-12 < size < np.inf:
                raise PortError("facing has no direction", where=f"port '{self.name}'")
            unit = np.asarray(self.facing) / size
            object.__setattr__(self, "facing", tuple(float(c) for c in unit))
        if (self.length > 0.0 or self.rim) and self.facing is None:
            what = "a strainer" if self.length > 0.0 else "an opening with corners"
            raise PortError(
                f"{what} needs a facing, the direction in which it reaches",
                where=f"port '{self.name}'",
                allowed=", ".join(FACINGS),
            )
        if self.rim:
            self._check_rim()

    def _check_rim(self) -> None:
        """Refuse an outline without its size, or that is none seen along ``facing``. Raises PortError."""
        if self.bore is None:
            raise PortError(
                "an opening with corners needs a bore, the diameter of the circle round them",
                where=f"port '{self.name}'",
                allowed="a number in m",
            )
        spread = np.array(self.rim) - np.mean(self.rim, axis=0)
        seen = spread - np.outer(spread @ np.asarray(self.facing), np.asarray(self.facing))
        long, wide = (_widths(corners) for corners in (spread, seen))
        if long[1] <= _LINE * long[0]:
            raise PortError(
                "the corners of the opening lie on one line: they go round nothing",
                where=f"port '{self.name}'",
                allowed="three corners or more, round an area",
            )
        if wide.prod() <= _EDGE_ON * long.prod():
            raise PortError(
                f"facing ({', '.join(f'{c:.3g}' for c in self.facing or ())}) lies in the plane of the opening",
                where=f"port '{self.name}'",
                allowed="a direction out of the opening, square to it or aslant",
                next_step="leave 'facing' out, a plug faces as its opening does; or give a 'bore', for a "
                "round mouth there",
            )

    @property
    def effective_rule(self) -> Rule:
        """The rule given, else the kind's default."""
        return self.rule if self.rule is not None else _DEFAULT_RULES[self.kind]

    @property
    def required_cover(self) -> float:
        """Liquid required over a wet port, or clearance under a dry one [m]."""
        if self.cover is not None:
            return self.cover
        if self.kind is PortKind.PICKUP and self.bore is not None:
            return COVER_BORES * self.bore
        return 0.0

    @property
    def cover_words(self) -> str:
        """Where the required cover comes from, in words."""
        if self.cover is not None:
            return f"{told(self.cover, 'rough length')}, as given"
        if self.kind is PortKind.PICKUP and self.bore is not None:
            return (
                f"{told(self.required_cover, 'rough length')}, 2 x bore (fluid-power rule of thumb)"
            )
        if self.kind is PortKind.PICKUP:
            return "none: edge of drawing air, no cover"
        return "none"

    @property
    def discs(self) -> Array:
        """The opening for the kernel: (K, 8) rows, see ``kernel.support``; the first stands at ``position``.

        Along any direction a plane figure reaches as far as the farthest of its corners: of an outline they are
        points, a disc of no radius each, and the opening's lowest and highest point are exact.
        """
        mouths = self.mouths
        if not self.rim:
            return mouths
        offsets = np.vstack([np.zeros(3), np.array(self.rim)])
        rows = np.repeat(mouths, len(offsets), axis=0)
        rows[:, :3] += np.tile(offsets, (len(mouths), 1))
        rows[:, 6] = 0.0
        return rows

    @property
    def mouths(self) -> Array:
        """The opening as one or two round ones that hold it, rows (1 or 2, 8) as ``discs``."""
        radius = 0.0 if self.bore is None else 0.5 * self.bore
        if self.rim:
            radius = float(np.linalg.norm(self.rim, axis=1).max())
        if self.facing is None:  # a point, or a ball that holds the opening at any facing
            return np.array([[*self.position, 0.0, 0.0, 1.0, 0.0, radius]])
        axis = self.facing
        base = [*self.position, *axis, radius, 0.0]
        if self.length <= 0.0:
            return np.array([base])
        end = np.asarray(self.position) + self.length * np.asarray(axis)
        return np.array([base, [*end, *axis, radius, 0.0]])

    @property
    def outline(self) -> Array:
        """Corners (N, 3) [m] of ``rim`` laid flat, from ``position``: counter-clockwise about ``facing``."""
        from scipy.spatial import ConvexHull

        axis, rim = np.asarray(self.facing), np.array(self.rim)
        side = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
        axes = np.stack([side, np.cross(axis, side)]) / np.linalg.norm(side)
        return np.asarray((rim @ axes.T)[ConvexHull(rim @ axes.T).vertices] @ axes)

    @property
    def ends(self) -> Array:
        """Middle of the opening, of a strainer those of both its ends: (1 or 2, 3) [m]."""
        return self.mouths[:, :3]


def _widths(corners: Array) -> Array:
    """The two greatest widths, in the mean, of corners (N, 3) about their middle, the greatest first."""
    return np.asarray(np.append(np.linalg.svd(corners, compute_uv=False), 0.0)[:2])


LEAST_OFF_FLOOR = 0.0254  # m, of a pickup: Fluid Power (Goodheart-Willcox, 2020) p. 184
ROOMY_OFF_FLOOR = 0.100  # m, where there is room: B. Casey, Power & Motion, 4 Apr 2017


class PortOptions(TypedDict, total=False):
    """The keywords of :class:`Port`; ``facing`` by its word too."""

    bore: float | None
    facing: str | Sequence[float] | None
    length: float
    rule: Rule | None
    cover: float | None
    flow: float | None


class _Covered(TypedDict, total=False):
    """Those of a port that says its own opening."""

    rule: Rule | None
    cover: float | None
    flow: float | None


def pickup(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a pickup (open tube end): must stay wet. Options are :class:`Port`'s, lengths in m."""
    return _port(PortKind.PICKUP, name, position, options)


def strainer(
    name: str,
    position: Sequence[float],
    *,
    bore: float,
    length: float,
    facing: str | Sequence[float],
    **options: Unpack[_Covered],
) -> Port:
    """Make a pickup with a cylindrical strainer: all of it must stay wet."""
    own = PortOptions(bore=bore, length=length, facing=facing)
    return _port(PortKind.PICKUP, name, position, {**own, **options})


def breather(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a breather: must stay dry."""
    return _port(PortKind.BREATHER, name, position, options)


def filler(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a filler neck's inner mouth: must stay dry."""
    return _port(PortKind.FILLER, name, position, options)


def return_line(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a return line's mouth: sets no limit unless told."""
    return _port(PortKind.RETURN, name, position, options)


def drain(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a drain: sets no limit unless told."""
    return _port(PortKind.DRAIN, name, position, options)


def heater(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a heater: must stay wet."""
    return _port(PortKind.HEATER, name, position, options)


def level_switch(name: str, position: Sequence[float], **options: Unpack[PortOptions]) -> Port:
    """Make a level switch: must stay wet unless told otherwise."""
    return _port(PortKind.LEVEL_SWITCH, name, position, options)


def _port(kind: PortKind, name: str, position: Sequence[float], options: PortOptions) -> Port:
    x, y, z = (float(c) for c in position)
    unknown = sorted(set(options) - set(PortOptions.__annotations__))
    if unknown:
        raise PortError(
            f"'{unknown[0]}' is nothing that a port has",
            where=f"port '{name}'",
            allowed=", ".join(PortOptions.__annotations__),
        )
    facing = options.get("facing")
    if isinstance(facing, str):
        if facing not in FACINGS:
            raise PortError(
                f"facing '{facing}' is not known",
                where=f"port '{name}'",
                allowed=", ".join(FACINGS),
            )
        options = {**options, "facing": FACINGS[facing]}
    return Port(name, kind, (x, y, z), **options)  # type: ignore[arg-type]
