"""All that is solved at one attitude, at rest and while a pump runs, put together."""

from dataclasses import dataclass
from functools import cached_property

from tanksolve.model.attitude import Attitude
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.pump.running_level import RunningLevel
from tanksolve.questions.level.air import Air
from tanksolve.questions.level.any_route import AnyRoute
from tanksolve.questions.level.pools import PoolsAt, PortInPool
from tanksolve.questions.level.surface import Level

__all__ = ["LevelAnswer"]

_SAME = 1e-6  # m


@dataclass(frozen=True)
class LevelAnswer:
    """Everything that was found at one attitude.

    Attributes
    ----------
    tank, ports : in machine axes, as they were solved.
    level, settled, air : the surface, the pools and the bodies of air at ``fill``'s end ``most`` or least.
    any_pickup : whether one covered pickup suffices.
    dry_at_most, air_at_most : of a range, what must stay dry, and the air, at the most; None for no range.
    any_route : the verdict whatever the machine did before; None where no wall parts the liquid.
    running : the bays while the pump runs, where it does.
    """

    tank: Tank
    ports: tuple[Port, ...]
    attitude: Attitude
    fill: Fill
    most: bool
    level: Level
    settled: PoolsAt
    air: Air
    any_pickup: bool
    dry_at_most: tuple[PortInPool, ...] | None
    air_at_most: Air | None
    any_route: AnyRoute | None
    running: RunningLevel | None

    @property
    def parted(self) -> bool:
        """Whether the liquid stands at more than one level, carried along this route."""
        heights = [pool.level_height_m for pool in self.settled.pools]
        return bool(heights) and max(heights) - min(heights) > _SAME

    @property
    def surface_area_m2(self) -> float:
        """Of all pools."""
        if not self.parted:
            return self.level.surface_area_m2
        return sum(pool.surface_area_m2 for pool in self.settled.pools)

    @cached_property
    def centroid_m(self) -> tuple[float, float, float]:
        """Of the liquid, each pool where it stands."""
        from tanksolve.questions.level.pool_shapes import liquid_centroid

        if not self.parted:
            return self.level.liquid_centroid_m
        return liquid_centroid(self.tank, self.settled)

    @property
    def any_pickup_holds(self) -> bool | None:
        """Whether some port that must stay wet keeps its rule where one is enough; else None."""
        judged = [port.holds for port in self.settled.ports if port.rule == str(Rule.WET)]
        return any(judged) if self.any_pickup and judged else None
