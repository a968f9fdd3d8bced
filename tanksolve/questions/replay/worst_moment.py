"""Where the liquid stands at the row of a log at which some port has its least margin."""

from collections.abc import Sequence

from tanksolve.model.attitude import Attitude
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.questions.level.pools import PoolsAt
from tanksolve.questions.level.surface import Level, level
from tanksolve.questions.level.worst_pools import worst_pools
from tanksolve.questions.replay.excursions import Moment
from tanksolve.questions.replay.replay import Replay

__all__ = ["worst_moment"]

_SAME = 1e-6  # m: margins that differ by more are of different states


def worst_moment(
    result: Replay, tank: Tank, ports: Sequence[Port], fill: Fill | float
) -> tuple[Level, PoolsAt | None]:
    """The liquid at the row with the least margin: at one level, and in pools where these decide."""
    worst = min(result.ports, key=lambda port: port.worst.margin_m)
    moment: Moment = worst.worst
    port = next(p for p in ports if p.name == worst.port)
    volume = moment.volume_m3
    if volume is None:
        both = Fill.of(fill)
        volume = both.least if port.effective_rule is Rule.WET else both.most
    surface = level(tank, volume, Attitude(moment.up), ports)
    (own,) = (one for one in surface.ports if one.name == port.name)
    settled = None
    if not tank.is_convex and abs(own.margin_m - moment.margin_m) > _SAME:
        settled = worst_pools(tank, volume, Attitude(moment.up), port, moment.margin_m)
    return surface, settled
