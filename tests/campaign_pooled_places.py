"""Zones and fills by pools on tanks with walls, held against liquid that is settled at other attitudes.

    python -m tests.campaign_pooled_places [points per zone]

For each tank, a pickup and a breather: random points of the zone are judged at required attitudes that
the zone was not made from, and random points of the tank outside it at those that it was. A zone is
a sample without a bound, so a point inside may be lost between the samples: how many, and by how much,
is what this tells. Then the marks of two ports: the least margin at the mark, and a millionth of the
tank less.
"""

import math
import sys
import time

import numpy as np
from tanksolve.questions.marks.pooled_fill import pooled_fill_limits
from tanksolve.state.pooled_margin import least_pooled_margin

from tanksolve.model.ports import Port, breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import fill_limits
from tanksolve.questions.place.place import place
from tanksolve.questions.place.points import Opening
from tanksolve.questions.place.pools import judged
from tanksolve.state.conditions import Conditions
from tanksolve.state.required_ways import CONFIRM, FINE
from tanksolve.state.ways import Start
from tests.pool_tanks import TANKS, arrays
from tests.zone_attack import clear_of, inside, points_in

FRESH = CONFIRM._replace(shift=0.6)  # attitudes that no zone was made from
FILL, SLOPE = 0.35, math.radians(15.0)
PORTS = (
    pickup("pickup", (0, 0, 0), bore=0.02, facing="down", cover=0.01),
    breather("breather", (0, 0, 0), bore=0.02, facing="down"),
)


def row_of_zone(tank: Tank, port: Port, count: int, rng: np.random.Generator) -> str:
    """Place one port and judge random points inside and outside its zone."""
    need, volume = Requirement.every_heading(SLOPE), FILL * tank.capacity
    begun = time.perf_counter()
    found = place(tank, port, volume, need)
    took = time.perf_counter() - begun
    words = (
        f"{tank.name:18} {port.name:9} {found.judged_by:12} {took:6.1f} s  {len(found.zones)} zones"
    )
    if found.zone is None:
        return f"{words}, least bad {1000 * found.best_margin_m:.1f} mm"
    points = points_in(tank, 40 * count, rng)
    within = points[inside(found.zone, points)][:count]
    outside = points[clear_of(found.zone, points[: 10 * count], 2.0 * found.gap_m).nonzero()][
        :count
    ]
    opening, start = Opening.of(tank, port, volume), Start.of(tank, [])
    kept = judged(opening, need, start, within, FRESH).worst
    lost = judged(opening, need, start, outside, FINE).worst
    share = found.zone_volume_m3 / tank.capacity
    return (
        f"{words}, {100 * share:.1f} % of the tank; of {len(within)} inside {int((kept < 0).sum())} lost "
        f"(least {1000 * kept.min(initial=np.inf):.2f} mm); of {len(outside)} outside "
        f"{int((lost >= 0).sum())} hold; best {1000 * found.best_margin_m:.2f} mm, best of these "
        f"{1000 * max(kept.max(initial=-np.inf), lost.max(initial=-np.inf)):.2f} mm"
    )


def row_of_marks(tank: Tank) -> str:
    """Marks of a pickup near the floor and a breather in the roof, by pools, and margins about them."""
    middle = tank.centre
    ports = [
        pickup(
            "p", tank.seated((middle[0], middle[1], tank.lower[2] + 0.02)), bore=0.02, cover=0.01
        ),
        breather("b", tank.seated((middle[0], middle[1], tank.upper[2] - 1e-3)), bore=0.02),
    ]
    need = Requirement.every_heading(SLOPE)
    begun = time.perf_counter()
    conditions = Conditions.of(tank, ports, tank.capacity)
    found = pooled_fill_limits(conditions, need, fill_limits(tank, ports, need))
    took = time.perf_counter() - begun
    told = []
    for volume in (found.least_m3, found.least_m3 - 1e-6 * tank.capacity):
        wet = Conditions.of(tank, ports[:1], volume)
        margin = min(least_pooled_margin(wet, need, fine).margin_m for fine in (FINE, CONFIRM))
        told.append(f"{1000 * margin:.3g} mm")
    share = found.least_m3 / tank.capacity
    return f"{tank.name:18} marks {took:6.1f} s, least {100 * share:.2f} %, margin {told[0]}, less {told[1]}"


def main(count: int) -> None:
    """Print a row for each tank and port, and one for its marks."""
    for seed, (name, make) in enumerate(TANKS.items()):
        tank = Tank(name, *arrays(make()))
        for port in PORTS:
            print(row_of_zone(tank, port, count, np.random.default_rng(seed)), flush=True)
        print(row_of_marks(tank), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
