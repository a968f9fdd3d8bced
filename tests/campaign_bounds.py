"""A hundred thousand random attitudes inside the bounds of twenty tanks; run by hand, prints a table.

    python tests/campaign_bounds.py [attitudes per tank]

Each tank gets a pickup and a breather at random places inside it and a random range of fill. Every
attitude inside ``held_to`` (of a listed heading, or of the worst over all headings) is judged by the
plain kernel and by openings sampled point by point: nothing of the bound's own arithmetic.
"""

import math
import sys

import numpy as np
from numpy.typing import NDArray
from tanks import LIBRARY, ball_tank, random_rotation, tank, turned, upright_cylinder

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.volumes_plain import volumes_plain
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, breather, pickup
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import Envelope, envelope

Array = NDArray[np.float64]
RIM = np.linspace(0.0, 2.0 * math.pi, 60, endpoint=False)


def twenty_tanks() -> list[Tank]:
    """The library's twelve, six of them skewed at random, and two round ones."""
    rng = np.random.default_rng(20)
    plain = [tank(name) for name in LIBRARY]
    askew = [turned(t, random_rotation(rng), rng.normal(size=3)) for t in plain[1:7]]
    return [*plain, *askew, ball_tank(10, 0.4), upright_cylinder(0.3, 0.9, 40)]


def random_ports(mesh: Tank, rng: np.random.Generator) -> tuple[Port, Port]:
    """A pickup low and a breather high in the tank, with bores and covers, at random inside it."""
    places = rng.uniform(mesh.lower, mesh.upper, (400, 3))
    inside = places[np.abs(mesh.winding(places)) > 0.5]
    inside = inside[np.argsort(inside[:, 2])]
    low = inside[rng.integers(0, max(1, len(inside) // 6))]
    high = inside[-1 - rng.integers(0, max(1, len(inside) // 8))]
    size = float(np.ptp(mesh.vertices, axis=0).min())
    return (
        pickup("p", low, bore=0.03 * size, facing=rng.normal(size=3), cover=0.01 * size),
        breather("v", high, bore=0.03 * size, facing=rng.normal(size=3)),
    )


def rim_heights(port: Port, up: Array) -> Array:
    """Heights (D, 60) of points on the edge of a port's opening."""
    axis = np.asarray(port.facing)
    first = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    rim = np.outer(np.cos(RIM), first) + np.outer(np.sin(RIM), second)
    return up @ (np.asarray(port.position) + 0.5 * (port.bore or 0.0) * rim).T


def attitudes(found: Envelope, count: int, rng: np.random.Generator) -> Array:
    """Up vectors inside the bounds, a quarter of them at the bounds themselves."""
    held = np.array([row.held_to_deg for row in found.limits])
    row = rng.integers(0, len(held), count)
    heading = np.array([r.heading_deg for r in found.limits])[row]
    most = held[row]
    anywhere = rng.uniform(size=count) < 0.5
    heading = np.where(anywhere, rng.uniform(0.0, 360.0, count), heading)
    most = np.where(anywhere, found.worst.held_to_deg, most)
    share = np.where(rng.uniform(size=count) < 0.25, 1.0, np.sqrt(rng.uniform(size=count)))
    return up_from_slope_heading(np.radians(most * share), np.radians(heading))


def lost(mesh: Tank, ports: tuple[Port, Port], fill: Fill, up: Array) -> int:
    """How many attitudes break a rule, by the plain kernel."""
    broken = 0
    for part in np.array_split(up, max(1, len(up) * len(mesh.faces) // 400_000)):
        top = rim_heights(ports[0], part).max(axis=1) + ports[0].required_cover
        low = rim_heights(ports[1], part).min(axis=1) - ports[1].required_cover
        to_top = volumes_plain(mesh.vertices, mesh.faces, part, top)[0]
        to_low = volumes_plain(mesh.vertices, mesh.faces, part, low)[0]
        hair = 1e-12 * mesh.capacity
        broken += int(((to_top > fill.least + hair) | (to_low < fill.most - hair)).sum())
    return broken


def one_case(mesh: Tank, rng: np.random.Generator) -> tuple[Envelope, tuple[Port, Port], Fill]:
    """Ports and a fill at which the tank holds level and gives out somewhere, by trial."""
    while True:
        ports = random_ports(mesh, rng)
        low, high = np.sort(rng.uniform(0.2, 0.9, 2))
        fill = Fill(low * mesh.capacity, high * mesh.capacity)
        found = envelope(mesh, ports, fill, every_deg=10.0)
        if found.ok_at_level and found.worst.limited and found.worst.held_to_deg > 2.0:
            return found, ports, fill


def main(count: int) -> int:
    """Print a row for each tank; 1 where any attitude inside a bound is lost."""
    print(f"{'tank':20} faces  worst held to   worst root   attitudes  lost")
    rng = np.random.default_rng(2)
    total = wrong = 0
    for mesh in twenty_tanks():
        found, ports, fill = one_case(mesh, rng)
        up = attitudes(found, count, rng)
        broken = lost(mesh, ports, fill, up)
        total, wrong = total + count, wrong + broken
        print(
            f"{mesh.name:20} {len(mesh.faces):5}  {found.worst.held_to_deg:11.3f}°"
            f"  {found.worst.slope_deg:10.3f}°  {count:10}  {broken:4}",
            flush=True,
        )
    print(f"{total} attitudes inside the bounds, {wrong} lost")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 5000))
