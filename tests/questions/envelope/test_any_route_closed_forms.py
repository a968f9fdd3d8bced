"""Least and most fills, and limits, that hold on any route: against areas written out by hand.

All walls stand across the machine and all attitudes are pure pitch b (nose up +) or pure roll, so each
volume is a width times an area in a plane. Divided by cos b, heights are ``s = z + x t`` with
``t = tan b`` (roll: y for x), and all that is needed is

    under(c, t, x0, x1, h) = area { x0 < x < x1, 0 < z < h, z + x t < c }
                           = (P(c - x0 t) - P(c - x1 t)) / t - the same with c - h,   P(v) = max(v, 0)² / 2

A port at (x, z) has its edge at E = z + x t. In each case F = own pool below E + every other hollow
below its pass, room = own pool below E, joined only through passes below E; the limit is the root of
F(b) = V or room(b) = V. The formulas stand with the cases; nothing of them comes from the project.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest
from random_walled_tanks import cup
from scipy.optimize import brentq

from tanksolve import breather, envelope, pickup
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, notch
from tanksolve.geometry.bodies import beside
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box
from tanksolve.kernel.pools.worst_state import need, room
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank

L, W, H = 0.9, 0.3, 0.4  # the box
D, S = 0.5, 0.004  # a plate across: its rear face, its thickness
A = 0.2  # height of a weir's crest
NOTCH, LOW, Y0 = 0.08, 0.12, 0.11  # a notch in it: width, its floor, its right end
CUP = (0.3, 0.5, 0.1, 0.22)  # x0, x1, y0, y1 outside
RIM = 0.12  # height of its walls
GAP, LIFT, L2 = 0.02, 0.03, 0.4  # a second body in front: clear of the first by, up by, length
PIPE_Z, BORE = 0.1, 0.03


def under(c: float, t: float, x0: float, x1: float, h: float) -> float:
    def below(c: float) -> float:
        return (max(c - x0 * t, 0.0) ** 2 - max(c - x1 * t, 0.0) ** 2) / (2.0 * t)

    return below(c) - below(c - h)


def crossing(a: float, t: float) -> float:
    """Least s that liquid must climb to over a plate of height ``a``: the higher end of its top."""
    return a + max(D * t, (D + S) * t)


# ---- a weir: the plate from wall to wall, the liquid over its top included -----------------------


def weir_least(x: float, z: float, t: float) -> float:
    """Own bay below E, the other below the crest, and what lies on a top that leans into the other.

    Once E is above the crest, all of the box below E, less the plate.
    """
    e, c = z + x * t, crossing(A, t)
    if e > c:
        return W * (under(e, t, 0, L, H) - under(e, t, D, D + S, A))
    if x < D:
        on_top = 0.5 * S * S * -t if t < 0.0 else 0.0
        return W * (under(e, t, 0, D, H) + under(c, t, D + S, L, H) + on_top)
    on_top = 0.5 * S * S * t if t > 0.0 else 0.0
    return W * (under(e, t, D + S, L, H) + under(c, t, 0, D, H) + on_top)


def weir_most(x: float, z: float, t: float) -> float:
    """Own bay below E up to the crest; above it the whole box below E, less the plate."""
    e, c = z + x * t, crossing(A, t)
    if e > c:
        return W * (under(e, t, 0, L, H) - under(e, t, D, D + S, A))
    own = under(e, t, 0, D, H) if x < D else under(e, t, D + S, L, H)
    top = A + (D if x < D else D + S) * t  # the near edge of the crest, which may be below c
    return W * (own + (0.5 * (e - top) ** 2 / abs(t) if e > top else 0.0))


# ---- a notch in the weir: liquid crosses at its floor, LOW, over a width NOTCH -------------------


def notched_least(x: float, z: float, t: float) -> float:
    """As the weir, the pass at the notch's floor; only there does liquid lie on the plate."""
    e, c = z + x * t, crossing(LOW, t)
    if e > c:
        top, floor = under(e, t, D, D + S, A), under(e, t, D, D + S, LOW)
        return W * under(e, t, 0, L, H) - (W - NOTCH) * top - NOTCH * floor
    sliver = NOTCH * 0.5 * S * S * abs(t)
    if x < D:
        other = W * under(c, t, D + S, L, H) + (sliver if t < 0.0 else 0.0)
        return W * under(e, t, 0, D, H) + other
    other = W * under(c, t, 0, D, H) + (sliver if t > 0.0 else 0.0)
    return W * under(e, t, D + S, L, H) + other


# ---- a cup on the floor: X0..X1, Y0..Y1 outside, walls S thick, RIM high --------------------------


def cup_spans() -> tuple[float, float, float, float]:
    x0, x1, y0, y1 = CUP
    return x0, x1, y1 - y0, y1 - y0 - 2.0 * S


def around_cup(c: float, t: float) -> float:
    """The box outside the cup below c, no more than level with the lowest of its rim's far edges.

    All of the box less the cup's plan; over the lower wall's top stands a wedge where it leans away
    from the cup.
    """
    x0, x1, wide, _ = cup_spans()
    outer = x0 if t > 0.0 else x1
    rim = RIM + outer * t
    wedge = wide * 0.5 * max(c - rim, 0.0) ** 2 / abs(t)
    return W * under(c, t, 0, L, H) - wide * under(c, t, x0, x1, H) + wedge


def inside_cup(c: float, t: float) -> float:
    x0, x1, _, wide = cup_spans()
    return wide * under(c, t, x0 + S, x1 - S, RIM)


def rim_pass(t: float) -> float:
    """The lower wall, at its higher edge: the inner one."""
    x0, x1, _, _ = cup_spans()
    return RIM + ((x0 + S) if t > 0.0 else (x1 - S)) * t


def over_cup(e: float, t: float) -> float:
    """Once E is above the rim: all of the box below E, less the cup's walls."""
    x0, x1, wide, _ = cup_spans()
    return W * under(e, t, 0, L, H) - wide * under(e, t, x0, x1, RIM) + inside_cup(e, t)


def in_cup_least(x: float, z: float, t: float) -> float:
    """The cup below E, and all round it below the rim."""
    e = z + x * t
    return over_cup(e, t) if e > rim_pass(t) else inside_cup(e, t) + around_cup(rim_pass(t), t)


def beside_cup_least(x: float, z: float, t: float) -> float:
    """All round the cup below E, below its rim; the cup brim-full, over its lower wall."""
    e = z + x * t
    return over_cup(e, t) if e > rim_pass(t) else around_cup(e, t) + inside_cup(rim_pass(t), t)


def in_cup_most(x: float, z: float, t: float) -> float:
    """The cup alone, as long as E is below its rim."""
    e = z + x * t
    return over_cup(e, t) if e > rim_pass(t) else inside_cup(e, t)


# ---- two bodies: the second stands LIFT higher, GAP in front -------------------------------------


def lobe(k: int, c: float, t: float) -> float:
    if k == 0:
        return W * under(c, t, 0, L, H)
    return W * under(c - LIFT, t, L + GAP, L + GAP + L2, H)


def sill(t: float) -> float:
    """A pipe from wall to wall: the lowest of its round ends, the higher of the two."""
    return PIPE_Z - 0.5 * BORE + max(L * t, (L + GAP) * t)


def lobes_least(x: float, z: float, t: float) -> float:
    """Own body below E, the other one full: nothing joins them."""
    own = 0 if x < L else 1
    return lobe(own, z + x * t, t) + W * (L2 if own == 0 else L) * H


def piped_least(x: float, z: float, t: float) -> float:
    """Own body below E, the other one below the pipe's sill, or E where that is higher."""
    own, e = (0 if x < L else 1), z + x * t
    return lobe(own, e, t) + lobe(1 - own, max(e, sill(t)), t)


def piped_most(x: float, z: float, t: float) -> float:
    """Own body below E, and the other one once the sill is below E."""
    own, e = (0 if x < L else 1), z + x * t
    return lobe(own, e, t) + (lobe(1 - own, e, t) if sill(t) < e else 0.0)


# ---- a whole plate with a flap at the floor that lets liquid forward only ------------------------


def flap_sill(t: float) -> float:
    return max(D * t, (D + S) * t)


def flap_least(x: float, z: float, t: float) -> float:
    """Port in front: the rear bay keeps what is below the flap's sill (or E, where that is higher).

    Port in the rear: nothing comes back, so the front bay counts full.
    """
    e = z + x * t
    if x < D:
        return W * (under(e, t, 0, D, H) + (L - D - S) * H)
    return W * (under(e, t, D + S, L, H) + under(max(e, flap_sill(t)), t, 0, D, H))


def flap_most(x: float, z: float, t: float) -> float:
    """Port in the rear: the front bay is filled along once the sill is below E. In front: alone."""
    e = z + x * t
    if x > D:
        return W * under(e, t, D + S, L, H)
    front = under(e, t, D + S, L, H) if flap_sill(t) < e else 0.0
    return W * (under(e, t, 0, D, H) + front)


def weir_tank() -> Tank:
    wall = Baffle("weir", "across", D, S, gaps={"top": H - A})
    return build(Parts(box(L, W, H), baffles=(wall,)))


def notched_tank() -> Tank:
    cut = notch("top", Y0 + 0.5 * NOTCH, NOTCH, A - LOW)
    wall = Baffle("weir", "across", D, S, cuts=(cut,), gaps={"top": H - A})
    return build(Parts(box(L, W, H), baffles=(wall,)))


def cup_tank() -> Tank:
    x0, x1, y0, y1 = CUP
    return build(Parts(box(L, W, H), internals=tuple(cup("cup", (x0, y0, 0.0), (x1, y1, RIM), S))))


def two_lobes() -> Tank:
    shell = beside(box(L, W, H), [("front", (L + GAP, 0.0, LIFT), box(L2, W, H))])
    return build(Parts(shell, bodies=2))


def two_lobes_piped() -> Tank:
    shell = beside(box(L, W, H), [("front", (L + GAP, 0.0, LIFT), box(L2, W, H))])
    run = ((L, 0.15, PIPE_Z), (L + GAP, 0.15, PIPE_Z))
    return build(Parts(shell, pipes=(BalancePipe("pipe", run, BORE),), bodies=2))


def flap_tank() -> Tank:
    cut = notch("bottom", 0.15, 0.06, 0.03, flap="forward")
    return build(Parts(box(L, W, H), baffles=(Baffle("wall", "across", D, S, cuts=(cut,)),)))


class Case(NamedTuple):
    """A tank, a port's place (x, z) [m], and its formula; ``fill`` [m³] where the limit is looked for."""

    make: Callable[[], Tank]
    formula: Callable[[float, float, float], float]
    place: tuple[float, float]
    fill: float
    dry: bool = False


CASES = {
    "weir, port behind": Case(weir_tank, weir_least, (0.3, 0.03), 0.037),
    "weir, port in front": Case(weir_tank, weir_least, (0.7, 0.03), 0.045),
    "weir, port at the front wall": Case(weir_tank, weir_least, (0.88, 0.02), 0.045),
    "weir, dry port low": Case(weir_tank, weir_most, (0.3, 0.15), 0.021, True),
    "weir, dry port above the crest": Case(weir_tank, weir_most, (0.3, 0.35), 0.07, True),
    "notched weir, port behind": Case(notched_tank, notched_least, (0.35, 0.02), 0.026),
    "notched weir, port in front": Case(notched_tank, notched_least, (0.6, 0.02), 0.026),
    "in a cup": Case(cup_tank, in_cup_least, (0.38, 0.03), 0.034),
    "beside a cup": Case(cup_tank, beside_cup_least, (0.55, 0.01), 0.016),
    "in a cup, dry port": Case(cup_tank, in_cup_most, (0.4, 0.09), 0.0018, True),
    "two lobes, port behind": Case(two_lobes, lobes_least, (0.3, 0.03), 0.07),
    "two lobes, port in front": Case(two_lobes, lobes_least, (1.1, 0.06), 0.118),
    "two lobes and a pipe, port behind": Case(two_lobes_piped, piped_least, (0.4, 0.03), 0.035),
    "two lobes and a pipe, port in front": Case(two_lobes_piped, piped_least, (1.1, 0.06), 0.035),
    "two lobes and a pipe, dry port": Case(two_lobes_piped, piped_most, (0.5, 0.35), 0.1, True),
    "flap, port in front": Case(flap_tank, flap_least, (0.7, 0.03), 0.02),
    "flap, port behind": Case(flap_tank, flap_least, (0.2, 0.03), 0.055),
    "flap, dry port behind": Case(flap_tank, flap_most, (0.25, 0.3), 0.06, True),
    "flap, dry port in front": Case(flap_tank, flap_most, (0.7, 0.3), 0.034, True),
}
cases = pytest.mark.parametrize("name", CASES)
TANKS = {make: make() for make in {case.make for case in CASES.values()}}


def place_of(case: Case) -> tuple[float, float, float]:
    return (case.place[0], 0.17, case.place[1])


def by_hand(case: Case, degrees: float) -> float:
    return case.formula(*case.place, math.tan(math.radians(degrees)))


@cases
@pytest.mark.parametrize("degrees", [-38.0, -21.0, -9.5, -3.0, 3.0, 9.5, 21.0, 38.0])
def test_the_fill_at_an_attitude(name, degrees):
    case = CASES[name]
    tank, b = TANKS[case.make], math.radians(degrees)
    up = np.array([math.sin(b), 0.0, math.cos(b)])
    place = np.array([place_of(case)])
    edge = (place @ up)[None]
    wanted = by_hand(case, degrees)
    find = room if case.dry else need
    found = find(tank.graph, up[None], place, edge, tank.link_stations)[0]
    assert found == pytest.approx(wanted, rel=1e-9, abs=1e-9 * tank.capacity)


def first_loss(case: Case, sign: int) -> float | None:
    """The first slope [deg] at which the formula says no, by small steps and brentq; None: none to 60."""

    def spare(degrees: float) -> float:
        gap = by_hand(case, sign * degrees) - case.fill
        return gap if case.dry else -gap

    before = 1e-6
    assert spare(before) > 0.0, "not held on level ground"
    for degrees in np.arange(0.05, 60.0, 0.05):
        if spare(degrees) < 0.0:
            return float(brentq(spare, before, degrees, xtol=1e-13))
        before = degrees
    return None


# the bound below a dry port that a flap leads round is proved in many small cells: half a minute each
LIMITED = [name for name in CASES if not name.startswith("flap, dry")]


@pytest.mark.parametrize("name", LIMITED)
def test_the_limit_nose_up_and_nose_down(name):
    case = CASES[name]
    tank = TANKS[case.make]
    make = breather if case.dry else pickup
    port: Port = make("p", place_of(case), rule=Rule.DRY if case.dry else Rule.WET)
    found = envelope(tank, [port], case.fill, every_deg=90.0)
    rows = {row.heading_deg: row for row in found.limits}
    for heading, sign in ((0.0, 1), (180.0, -1)):
        wanted = first_loss(case, sign)
        slope = rows[heading].slope_deg
        assert (slope is None) == (wanted is None), (heading, slope, wanted)
        if wanted is not None:
            assert slope == pytest.approx(wanted, abs=1e-6)
            assert wanted - 0.0501 <= rows[heading].held_to_deg <= wanted + 1e-9


def test_a_weir_in_roll_is_crossed_at_its_lower_end():
    """Right side down: the crest falls to the right, so the other bay keeps W (A W - W² t / 2)...

    below its lowest corner: (L - D - S) * under(A, t, 0, W, H), and the own one D * under(E, t, 0, W, H).
    """
    tank, b = TANKS[weir_tank], math.radians(12.0)
    t, place = math.tan(b), np.array([[0.3, 0.17, 0.03]])
    up = np.array([0.0, math.sin(b), math.cos(b)])
    wanted = D * under(0.03 + 0.17 * t, t, 0, W, H) + (L - D - S) * under(A, t, 0, W, H)
    assert need(tank.graph, up[None], place, (place @ up)[None])[0] == pytest.approx(
        wanted, rel=1e-9
    )


def test_of_two_pickups_in_two_bays_one_suffices():
    """Each pool below its own edge: what lies in either bay runs to the pickup there."""
    tank, b = TANKS[weir_tank], math.radians(8.0)
    t, up = math.tan(b), np.array([math.sin(b), 0.0, math.cos(b)])
    places = np.array([[0.3, 0.17, 0.03], [0.7, 0.17, 0.03]])
    edges = places @ up
    wanted = W * (under(0.03 + 0.3 * t, t, 0, D, H) + under(0.03 + 0.7 * t, t, D + S, L, H))
    assert need(tank.graph, up[None], places, edges[None])[0] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(("high", "alone"), [(0.1, True), (0.2, False)])
def test_a_no_on_level_ground_is_the_walls_alone_where_one_level_would_keep_the_rule(high, alone):
    """0.03 m³ stand 112 mm deep at one level; the rear bay's 0.03 m³ to the crest may hold them all."""
    plate = Baffle("weir", "across", D, S, gaps={"top": H - A})
    tank = build(Parts(box(L, W, H), (), (plate,)))
    found = envelope(tank, [pickup("p", (0.7, W / 2, high), cover=0.0)], 0.03, every_deg=90.0)
    assert D * W * A >= 0.03
    assert not found.ok_at_level
    assert found.walls_alone is alone
