"""A fill range in the ``level`` command: ports that must stay dry are worst off at the most fill."""

from typing import TYPE_CHECKING

from tanksolve_cli.level_pools import print_ports

if TYPE_CHECKING:
    from tanksolve.analysis.pools import PortInPool
    from tanksolve.analysis.surface import PortAtLevel
    from tanksolve.model.attitude import Attitude
    from tanksolve_cli.case import Case

    Judged = tuple[PortAtLevel | PortInPool, ...]

__all__ = ["dry_ports_at_most", "print_dry_ports"]


def dry_ports_at_most(
    case: "Case", attitude: "Attitude", way: "str | list[Attitude] | None"
) -> "Judged":
    """Breathers, fillers and the like at the most of a fill range; none where it is no range.

    way : as for ``pools``; None takes one level through the whole tank.
    """
    from tanksolve.analysis.pools import pools
    from tanksolve.analysis.surface import level
    from tanksolve.model.ports import Rule

    if case.fill.least == case.fill.most:
        return ()
    found: Judged
    if way is None:
        found = level(case.tank, case.fill.most, attitude, case.ports).ports
    else:
        found = pools(case.tank, case.fill.most, attitude, case.ports, path=way).ports
    return tuple(port for port in found if port.rule == str(Rule.DRY))


def print_dry_ports(ports: "Judged", case: "Case") -> None:
    """Print them as a table of their own, since all else is told for the least fill."""
    from tanksolve.units import volume_words

    least, most = (volume_words(v, case.volume_unit) for v in (case.fill.least, case.fill.most))
    if ports:
        print_ports(
            ports,
            f"the above is for the least fill, {least}; what must stay dry, at the most, {most}:",
        )
