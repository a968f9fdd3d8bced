"""Random tanks with walls of every kind, ports at random places, and a fill that may hold them [m].

Weirs, slots, notches, holes, sills, cups in cups, sumps, floors with holes, shelves, flaps, pipes,
displacers and bodies side by side; some on a coarse grid, some symmetric, some with equal crests, so
that heights tie as they do in drawings. All are made by ``tanksolve.geometry`` as a tank file is.
"""

from typing import NamedTuple

import numpy as np
from oracle_any_route import need, room

from tanksolve.errors import TanksolveError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, Cut, hole, notch, slot
from tanksolve.geometry.bodies import beside
from tanksolve.geometry.internals import Internal, block, rib
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box, cylinder
from tanksolve.geometry.sumps import Sump, box_sump
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule, breather, pickup
from tanksolve.model.tank import Tank

__all__ = ["Case", "cup", "random_case", "random_tank"]

Rng = np.random.Generator
LEVEL = np.array([1e-7, 2e-7, 1.0]) / np.linalg.norm([1e-7, 2e-7, 1.0])  # a hair off the mesh
THICK = 0.004
ROUND = 0.003  # chord tolerance: holes of few corners


class Case(NamedTuple):
    """A tank with ports and a fill; ``words`` says what it is made of."""

    name: str
    tank: Tank
    ports: tuple[Port, ...]
    fill: Fill
    words: str


class _Draft:
    """Parts collected so far, in a box of a size (3,) [m]."""

    def __init__(self, rng: Rng) -> None:
        self.rng = rng
        self.grid = 0.01 if rng.random() < 0.5 else 0.0
        self.size = np.array(
            [self.between(0.5, 1.1), self.between(0.24, 0.5), self.between(0.24, 0.44)]
        )
        self.mirrored = rng.random() < 0.3
        self.crest = self.between(0.25, 0.6) * self.size[2] if rng.random() < 0.4 else 0.0
        self.baffles: list[Baffle] = []
        self.internals: list[Internal] = []
        self.sumps: list[Sump] = []
        self.pipes: list[BalancePipe] = []
        self.words: list[str] = []

    def between(self, low: float, high: float) -> float:
        """A random number, on the grid where this tank has one."""
        value = float(self.rng.uniform(low, high))
        return round(value / self.grid) * self.grid if self.grid else value

    def name(self, kind: str) -> str:
        self.words.append(kind)
        return f"{kind} {len(self.words)}"

    def height(self) -> float:
        """Of a crest above the floor: the tank's own, where all are equal."""
        return self.crest or self.between(0.15, 0.75) * self.size[2]

    def stand(self) -> tuple[str, float, float]:
        """How a plate stands, where, and its width."""
        across = self.rng.random() < 0.7
        stands = "across" if across else "along"
        run = self.size[0 if across else 1]
        return stands, self.between(0.15, 0.85) * run, float(self.size[1 if across else 0])

    def plate(self, kind: str, stands: str, at: float, cuts: tuple[Cut, ...], top: float) -> None:
        """A plate, leaning or turned now and then, with a gap ``top`` under the roof; and its mirror."""
        lean = float(self.rng.normal(0.0, 0.2)) if self.rng.random() < 0.15 else 0.0
        turn = float(self.rng.normal(0.0, 0.2)) if self.rng.random() < 0.15 else 0.0
        gaps = {"top": top} if top > 0.0 else {}
        spots = [at]
        other = self.size[0 if stands == "across" else 1] - at - THICK
        if self.mirrored and abs(other - at) > 0.05 and not lean and not turn:
            spots.append(other)
        for spot in spots:
            self.baffles.append(
                Baffle(self.name(kind), stands, spot, THICK, lean, turn, cuts, gaps, ROUND)
            )

    def weir(self) -> None:
        stands, at, width = self.stand()
        crest = self.height()
        cuts: tuple[Cut, ...] = ()
        if self.rng.random() < 0.4:  # notched
            deep = max(self.between(0.1, 0.6) * crest, 0.01)
            cuts = (notch("top", self.between(0.2, 0.8) * width, self.between(0.03, 0.1), deep),)
        self.plate("weir", stands, at, cuts, float(self.size[2]) - crest)

    def slotted(self) -> None:
        """A whole plate with holes and slots, low or high, and a vent now and then."""
        stands, at, width = self.stand()
        cuts = []
        for _ in range(self.rng.integers(1, 3)):
            place = (self.between(0.15, 0.85) * width, self.between(0.1, 0.9) * self.size[2])
            if self.rng.random() < 0.3:
                cuts.append(hole(self.between(0.03, 0.06), place))
            else:
                cuts.append(slot(self.between(0.03, 0.12), self.between(0.02, 0.06), place))
        if self.rng.random() < 0.4:
            cuts.append(notch("bottom", 0.5 * width, 0.04, 0.02))
        self.plate("slotted plate", stands, at, tuple(cuts), 0.03 if self.rng.random() < 0.5 else 0)

    def flapped(self) -> None:
        stands, at, width = self.stand()
        way = {"across": ("forward", "rearward"), "along": ("left", "right")}[stands]
        place = (self.between(0.2, 0.8) * width, self.between(0.1, 0.5) * self.size[2])
        cuts = [
            slot(self.between(0.04, 0.1), 0.04, place, flap=way[self.rng.integers(2)])
            if self.rng.random() < 0.5
            else notch(
                "bottom", place[0], self.between(0.04, 0.1), 0.03, flap=way[self.rng.integers(2)]
            )
        ]
        top = float(self.size[2]) - self.height() if self.rng.random() < 0.7 else 0.03
        self.plate("plate with a flap", stands, at, tuple(cuts), top)

    def sill(self) -> None:
        runs = "across" if self.rng.random() < 0.5 else "along"
        run = float(self.size[0 if runs == "across" else 1])
        shell = box(*self.size)
        name = self.name("sill")
        high = min(self.height(), 0.4 * float(self.size[2]))
        at = self.between(0.1, 0.9) * run
        self.internals.append(rib(name, "floor", runs, at, high, THICK, shell))

    def cups(self) -> None:
        """A cup on the floor or hung in the middle, and one in it now and then."""
        across = np.array([self.between(0.1, 0.35), self.between(0.08, 0.16)])
        foot = np.array(
            [self.between(0.05, 0.9 - across[k] / self.size[k]) * self.size[k] for k in (0, 1)]
        )
        low = 0.0 if self.rng.random() < 0.5 else self.between(0.1, 0.4) * float(self.size[2])
        high = max(self.height(), low + 0.05)
        self.internals += cup(self.name("cup"), (*foot, low), (*(foot + across), high))
        if self.rng.random() < 0.35 and across.min() > 0.09:
            inner = foot + 0.3 * across
            top = low + self.between(0.3, 1.2) * (high - low)
            self.internals += cup(
                self.name("cup in it"), (*inner, low), (*(inner + 0.4 * across), top)
            )

    def floor_hole(self) -> None:
        length, width = self.between(0.1, 0.25), self.between(0.08, 0.16)
        at = (
            self.between(0.2, 0.8) * float(self.size[0]),
            self.between(0.35, 0.65) * float(self.size[1]),
        )
        taper = {"bottom_length": 0.5 * length} if self.rng.random() < 0.3 else {}
        self.sumps.append(
            box_sump(self.name("sump"), at, length, width, self.between(0.04, 0.12), **taper)
        )

    def shelf(self) -> None:
        """A flat plate that stops short of a wall, or a false floor with holes in it."""
        length, width = float(self.size[0]), float(self.size[1])
        at = self.between(0.15, 0.6) * float(self.size[2])
        cuts: tuple[Cut, ...] = ()
        gaps = {}
        if self.rng.random() < 0.5:
            edge = ("front", "rear", "left", "right")[self.rng.integers(4)]
            gaps = {edge: self.between(0.2, 0.6) * (length if edge in ("front", "rear") else width)}
        else:
            cuts = tuple(
                slot(
                    self.between(0.04, 0.1),
                    self.between(0.03, 0.08),
                    (self.between(0.15, 0.85) * length, self.between(0.2, 0.8) * width),
                )
                for _ in range(self.rng.integers(1, 3))
            )
        lean = float(self.rng.normal(0.0, 0.1)) if self.rng.random() < 0.3 else 0.0
        self.baffles.append(
            Baffle(self.name("shelf"), "flat", at, THICK, lean, 0.0, cuts, gaps, ROUND)
        )

    def displacer(self) -> None:
        spot = [self.between(0.1, 0.6) * float(s) for s in self.size]
        self.internals.append(
            block(
                self.name("displacer"),
                (spot[0], spot[1], spot[2]),
                self.between(0.05, 0.3),
                self.between(0.05, 0.2),
                self.between(0.04, 0.15),
            )
        )

    def pipe(self) -> None:
        bore = self.between(0.02, 0.04)
        x, y = self.between(0.1, 0.4) * self.size[0], self.between(0.2, 0.8) * self.size[1]
        far = self.between(0.6, 0.9) * self.size[0]
        low = max(self.between(0.1, 0.5) * float(self.size[2]), bore)
        run = [(x, y, low), (far, y, low)]
        if self.rng.random() < 0.4:  # over a rise
            run = [(x, y, low), (x, y, low + self.between(0.05, 0.1)), (far, y, low)]
        self.pipes.append(BalancePipe(self.name("pipe"), tuple(run), bore))


def cup(
    name: str, low: tuple[float, ...], high: tuple[float, ...], wall: float = THICK
) -> list[Internal]:
    """An open box of plates between two corners; without a bottom where it stands on the floor."""
    x, y, z = low
    length, width, height = (b - a for a, b in zip(low, high, strict=True))
    sides = [
        ("rear", (x, y, z), wall, width),
        ("front", (x + length - wall, y, z), wall, width),
        ("right", (x, y, z), length, wall),
        ("left", (x, y + width - wall, z), length, wall),
    ]
    parts = [block(f"{name}, {side}", at, dx, dy, height) for side, at, dx, dy in sides]
    if z > 0.0:
        parts.append(block(f"{name}, bottom", (x, y, z), length, width, wall))
    return parts


WALLS = ("weir", "weir", "slotted", "flapped", "cups", "shelf")
KINDS = (*WALLS, "sill", "floor_hole", "displacer")


def random_tank(seed: int) -> tuple[Tank, str]:
    """The tank of a seed and what it is made of, in words. Drafts that cannot be built are redrawn."""
    rng = np.random.default_rng((20, seed))
    for _ in range(200):
        draft = _Draft(rng)
        for kind in (rng.choice(WALLS), *rng.choice(KINDS, rng.integers(0, 4))):
            getattr(draft, str(kind))()
        if rng.random() < 0.2:
            draft.pipe()
        shell, bodies = box(*draft.size), 1
        if rng.random() < 0.1 and not draft.sumps:
            shell = cylinder(float(draft.size[2]), float(draft.size[0]), chord_tolerance=0.004)
            draft.words.append("lying cylinder")
        elif rng.random() < 0.15:
            shell, bodies = _two_lobes(draft), 2
        try:
            tank = build(
                Parts(
                    shell,
                    tuple(draft.sumps),
                    tuple(draft.baffles),
                    tuple(draft.internals),
                    tuple(draft.pipes),
                    bodies,
                )
            )
        except TanksolveError:
            continue
        if len(tank.faces) <= 900:
            how = ["symmetric"] * bool(draft.mirrored) + ["equal crests"] * bool(draft.crest)
            return tank, ", ".join([*draft.words, *how])
    raise AssertionError("no draft could be built")


def _two_lobes(draft: _Draft) -> Tank:
    """A second, plain body in front of the first, joined by a pipe more often than not."""
    length, width, height = (float(s) for s in draft.size)
    lift = draft.between(0.0, 0.1)
    second = box(0.5 * length, width, height)
    draft.words.append("second body")
    if draft.rng.random() < 0.7:
        y, z = 0.5 * width, lift + 0.03
        run = ((length, y, z), (length + 0.02, y, z))
        draft.pipes.append(BalancePipe(draft.name("pipe between"), run, 0.03))
    return beside(box(length, width, height), [("second", (length + 0.02, 0.0, lift), second)])


def random_case(seed: int) -> Case:
    """A tank, one to three ports, and a fill with which they hold on level ground on any route."""
    for attempt in range(100):
        tank, words = random_tank(1000 * seed + attempt)
        rng = np.random.default_rng((21, seed, attempt))
        case = _fitted(f"random {seed}", tank, words, rng)
        if case is not None:
            return case
    raise AssertionError(f"no ports fit in tanks of seed {seed}")


def _fitted(name: str, tank: Tank, words: str, rng: Rng) -> Case | None:
    """Ports and fill for a tank; None where none of those tried holds on level ground."""
    places = rng.uniform(tank.lower, tank.upper, (200, 3))
    places = places[tank.winding(places) > 0.5]
    places = places[np.argsort(places[:, 2])]
    for _ in range(20):
        wet = [_pickup(k, places, rng) for k in range(rng.choice([0, 1, 1, 1, 2, 2]))]
        dry = [_breather(k, places, rng) for k in range(rng.integers(0, 2) if wet else 1)]
        try:
            tank.check_ports([*wet, *dry])
            least = max((least_at(tank, port, LEVEL) for port in wet), default=0.0)
            most = min((most_at(tank, port, LEVEL) for port in dry), default=tank.capacity)
        except (TanksolveError, ValueError):
            continue
        if least >= 0.9 * most:
            continue
        low, high = np.sort(least + (most - least) * rng.uniform(0.05, 0.95, 2) ** 1.5)
        return Case(name, tank, (*wet, *dry), Fill(float(low), float(high)), words)
    return None


def least_at(tank: Tank, port: Port, up: np.ndarray) -> float:
    """The least fill [m³] that covers a port at ``up`` on any route."""
    edge = float(support_high(port.discs, up[None])[0]) + port.required_cover
    return need(tank, up, [(tank.seated(port.position), edge)])


def most_at(tank: Tank, port: Port, up: np.ndarray) -> float:
    """The most fill [m³] that leaves a port without clearance dry at ``up`` on any route."""
    edge = float(support_low(port.discs, up[None])[0]) - port.required_cover
    return room(tank, up, tank.seated(port.position), edge)


def _options(rng: Rng) -> dict:
    facing = rng.normal(size=3)
    bore = float(rng.uniform(0.008, 0.03)) if rng.random() < 0.6 else None
    return {"bore": bore, "facing": tuple(facing) if bore and rng.random() < 0.8 else None}


def _pickup(k: int, places: np.ndarray, rng: Rng) -> Port:
    """Low in the tank, mostly."""
    at = places[int(len(places) * rng.random() ** 3)]
    return pickup(f"pickup {k}", at, cover=float(rng.uniform(0.0, 0.02)), **_options(rng))


def _breather(k: int, places: np.ndarray, rng: Rng) -> Port:
    """High in the tank, mostly."""
    at = places[int(len(places) * (1.0 - 1e-9 - rng.random() ** 3))]
    clear = float(rng.uniform(0.0, 0.02)) if rng.random() < 0.3 else 0.0
    return breather(f"breather {k}", at, cover=clear, rule=Rule.DRY, **_options(rng))
