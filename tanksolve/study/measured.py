"""The figures of one variant, computed: runs in the processes of a study."""

import math
from functools import cached_property
from pathlib import Path

from tanksolve.errors import FileFormatError, FillError
from tanksolve.geometry.bays import bays_of
from tanksolve.model.liquid import Fill
from tanksolve.model.mounting import mount
from tanksolve.project.project import Project
from tanksolve.questions.compare import area_deg2, unusable_volume
from tanksolve.questions.envelope.envelope import Envelope, envelope_under
from tanksolve.questions.level.mass import mass
from tanksolve.questions.marks.fill_limits import FillLimits, fill_limits
from tanksolve.questions.replay.replay import LogOptions, Replay, replay
from tanksolve.state.conditions import Conditions
from tanksolve.state.kept import kept_out_to
from tanksolve.study.measures import KINDS, MEASURES, Settings

__all__ = ["Found", "measured"]

Value = float | str | None


def measured(
    project: Project,
    wanted: tuple[str, ...],
    settings: Settings,
    log: Path | None = None,
    options: LogOptions | None = None,
) -> dict[str, Value]:
    """Compute what is wanted of one variant: by column, in the units that the columns name.

    None where there is no such figure. Raises TanksolveError for a tank of which it cannot be told.
    """
    found = Found(project, settings, log, options)
    row: dict[str, Value] = {}
    for name in wanted:
        measure = MEASURES[name]
        value, *more = getattr(found, name)
        row[name + KINDS[measure.kind].suffix] = value
        row.update(zip(measure.also, more, strict=True))
    return row


class Found:
    """One variant, in machine axes; each figure, with what is told beside it, when first asked for.

    Attributes
    ----------
    tank, ports : in machine axes. project, settings : as given.
    """

    def __init__(
        self,
        project: Project,
        settings: Settings,
        log: Path | None = None,
        options: LogOptions | None = None,
    ) -> None:
        self.project, self.settings, self.log = project, settings, log
        self.options = options or LogOptions()
        self.tank, self.ports = project.tank, project.ports
        if any(project.mounting):
            self.tank, self.ports = mount(self.tank, self.ports, project.rotation)

    @property
    def fill(self) -> Fill:
        """The fill; raises FillError where the tank file has none."""
        if self.project.fill is None:
            raise FillError("no fill is given", next_step="add a fill to the tank file")
        return self.project.fill

    @cached_property
    def conditions(self) -> Conditions:
        """What the ports have to keep."""
        return Conditions.of(self.tank, self.ports, self.fill, self.project.pickup_rule)

    @cached_property
    def envelope(self) -> Envelope:
        """The limits of all headings, as closely as the settings say."""
        return envelope_under(
            self.conditions,
            every_deg=self.settings.headings_every_deg,
            search_to_deg=self.settings.search_to_deg,
            tolerance_deg=self.settings.tolerance_deg,
            islands=False,
        )

    @cached_property
    def fills(self) -> FillLimits:
        """Least and most fill at the required attitudes."""
        return fill_limits(
            self.tank,
            self.ports,
            self.settings.requirement,
            pickups=self.project.pickup_rule,
            tolerance=self.settings.fill_tolerance_m,
        )

    @cached_property
    def replay(self) -> Replay:
        """The log, put through the tank."""
        if self.log is None:
            raise ValueError("a measure of a log without a log")
        return replay(self.tank, self.ports, self.fill, self.log, self.options)

    @property
    def worst_slope(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        worst = self.envelope.worst
        return worst.held_to_deg, worst.heading_deg, worst.port

    @property
    def kept_to(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        parts = self.project.parts
        if parts is None or self.project.shell_is_mesh or self.tank.is_convex:
            return (None,)
        bays = bays_of(parts)
        if len(bays.bays) < 2:
            return (None,)
        if any(self.project.mounting):
            bays = bays.turned(self.project.rotation.T)
        held = self.envelope.worst.held_to_deg if self.envelope.ok_at_level else 0.0
        far = math.radians(self.settings.search_to_deg)
        kept = kept_out_to(self.conditions, bays, far, math.radians(held))
        return (None if kept is None else kept.slope_deg,)

    @property
    def envelope_area(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (area_deg2(self.envelope),)

    @property
    def least_fill(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (None if self.fills.least_short_m > 0.0 else self.fills.least_m3,)

    @property
    def most_fill(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (None if self.fills.most_short_m > 0.0 else self.fills.most_m3,)

    @property
    def unusable(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        close = self.settings.fill_tolerance_m
        return (unusable_volume(self.tank, self.ports, self.settings.requirement, close),)

    @property
    def capacity(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (self.tank.capacity,)

    @property
    def liquid_mass(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        if self.project.density is None:
            return (None,)
        return (self.project.density * self.fill.most,)

    @property
    def metal_mass(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        plate, density = self.settings.plate_m, self.settings.metal_density
        if plate is None or density is None:
            raise FileFormatError("the metal's mass needs its plate and density")
        empty = mass(self.tank, 0.0, density=1.0, plate=plate, metal_density=density)
        return (empty.metal_mass_kg,)

    def _side(self, axis: int) -> tuple[Value, ...]:
        inside = self.project.tank
        return (float(inside.upper[axis] - inside.lower[axis]),)

    @property
    def length(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return self._side(0)

    @property
    def width(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return self._side(1)

    @property
    def height(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return self._side(2)

    @property
    def log_kept(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (self.replay.outcome.kept_share,)

    @property
    def log_broken(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (self.replay.outcome.broken_share,)

    @property
    def log_not_known(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        return (self.replay.outcome.not_known_share,)

    @property
    def log_margin(self) -> tuple[Value, ...]:
        """As the table of measures says; with what is told beside it."""
        worst = min(self.replay.ports, key=lambda port: port.worst.margin_m)
        return worst.worst.margin_m, worst.port, self.replay.verdict
