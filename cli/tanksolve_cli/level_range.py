"""A fill range in the ``level`` command: what must stay dry, and the air, are worst off at the most fill."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import typer

from tanksolve_cli.level_pools import print_air, print_ports

if TYPE_CHECKING:
    from tanksolve.model.attitude import Attitude
    from tanksolve.questions.level.air import Air
    from tanksolve.questions.level.pools import PortInPool
    from tanksolve.questions.level.surface import PortAtLevel
    from tanksolve_cli.case import Case

__all__ = ["AtMost", "at_most_fill", "print_at_most"]


@dataclass(frozen=True)
class AtMost:
    """Ports that must stay dry, and the air (None with one level), at the most of a fill range."""

    ports: "tuple[PortAtLevel | PortInPool, ...]"
    air: "Air | None"


def at_most_fill(
    case: "Case", attitude: "Attitude", way: "str | list[Attitude] | None"
) -> AtMost | None:
    """Judge them at the most fill; None where the fill is no range.

    way : as for ``pools``; None takes one level through the whole tank.
    """
    from tanksolve.model.ports import Rule
    from tanksolve.questions.level.air import air_above
    from tanksolve.questions.level.pools import pools
    from tanksolve.questions.level.surface import level

    if case.fill.least == case.fill.most:
        return None
    found: tuple[PortAtLevel | PortInPool, ...]
    air = None
    if way is None:
        found = level(case.tank, case.fill.most, attitude, case.ports).ports
    else:
        settled = pools(case.tank, case.fill.most, attitude, case.ports, path=way)
        air = air_above(case.tank, settled, case.ports, density=case.density)
        found = settled.ports
    return AtMost(tuple(port for port in found if port.rule == str(Rule.DRY)), air)


def print_at_most(told: AtMost | None, case: "Case") -> None:
    """Print them last, since all else is told for the least fill."""
    from tanksolve.units import volume_words

    if told is None:
        return
    least, most = (volume_words(v, case.volume_unit) for v in (case.fill.least, case.fill.most))
    typer.echo("")
    typer.echo(
        f"the above is for the least fill, {least}; what must stay dry, at the most, {most}:"
    )
    print_ports(told.ports)
    if told.air is not None:
        print_air(told.air, case.volume_unit)
