"""What is compared: each pickup of each tank at each fill, named by what differs."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tanksolve.project.case import TankCase
    from tanksolve.questions.compare import Entry

__all__ = ["entries"]


def entries(cases: "Sequence[TankCase]") -> "list[Entry]":
    """Each pickup of each case; named by what differs. Raises PortError for less than two."""
    from tanksolve.errors import PortError
    from tanksolve.model.ports import PortKind
    from tanksolve.questions.compare import Entry
    from tanksolve.unit_systems import stated

    def tank_words(case: "TankCase") -> str:
        return f"{case.tank.name} {stated(case.tank.upper - case.tank.lower, 'length')}"

    several_tanks = len({id(c.tank) if c.project else tank_words(c) for c in cases}) > 1
    several_fills = len({c.read_fill.words for c in cases if c.read_fill}) > 1
    found = []
    for case in cases:
        others = tuple(p for p in case.ports if p.kind is not PortKind.PICKUP)
        for pickup in (p for p in case.ports if p.kind is PortKind.PICKUP):
            parts = [pickup.name]
            parts += [tank_words(case)] if several_tanks else []
            parts += [case.read_fill.words] if several_fills and case.read_fill else []
            found.append(Entry(", ".join(parts), case.tank, (pickup, *others), case.fill))
    if len(found) < 2:
        raise PortError(
            f"{len(found)} pickup is nothing to compare",
            allowed="two or more pickups, tanks or fills",
            next_step="add --pickup NAME=X,Y,Zmm, --also TANK or --also-fill 35L",
        )
    return found
