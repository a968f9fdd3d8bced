"""Pickup positions side by side: the order is that of their own envelopes."""

import pytest
from tanks import box_tank

from tanksolve.errors import PortError
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.compare import compare
from tanksolve.questions.envelope.envelope import envelope

SIZE = (0.9, 0.4, 0.3)
VOLUME = 0.4 * 0.9 * 0.4 * 0.3
CORNER = [pickup("corner", (0.05, 0.05, 0.03))]
CENTRE = [pickup("centre", (0.45, 0.2, 0.03))]
SIDE = [pickup("side", (0.45, 0.05, 0.03))]


def run(candidates, **options):
    return compare(box_tank(SIZE), candidates, VOLUME, every_deg=30.0, **options)


def test_best_first_whatever_the_order_given():
    for names in (["corner", "side", "centre"], ["centre", "corner", "side"]):
        given = {"corner": CORNER, "side": SIDE, "centre": CENTRE}
        found = run({name: given[name] for name in names}).contenders
        assert [c.name for c in found] == ["centre", "side", "corner"]
        assert [c.rank for c in found] == [1, 2, 3]


def test_each_contender_has_the_envelope_it_has_alone():
    found = run({"corner": CORNER, "centre": CENTRE}).contenders
    for contender, ports in zip(found, (CENTRE, CORNER), strict=True):
        alone = envelope(box_tank(SIZE), ports, VOLUME, every_deg=30.0)
        assert contender.envelope.limits == alone.limits
        assert contender.worst_held_to_deg == alone.worst.held_to_deg
        mean = sum(row.held_to_deg for row in alone.limits) / 12
        assert contender.mean_deg == pytest.approx(mean)


def test_a_tie_of_the_worst_is_settled_by_the_mean():
    """Both have the corner; the second has a further pickup that costs elsewhere only."""
    more = [*CORNER, pickup("front", (0.85, 0.35, 0.03))]
    found = run({"two": more, "one": CORNER}).contenders
    assert found[0].worst_held_to_deg == pytest.approx(found[1].worst_held_to_deg, abs=0.05)
    if found[0].worst_held_to_deg == found[1].worst_held_to_deg:
        assert found[0].mean_deg > found[1].mean_deg


def test_others_stand_by_every_contender():
    vent = breather("vent", (0.1, 0.2, 0.3))
    found = run({"centre": CENTRE, "corner": CORNER}, others=[vent]).contenders
    for contender in found:
        ports = {"centre": CENTRE, "corner": CORNER}[contender.name]
        alone = envelope(box_tank(SIZE), [*ports, vent], VOLUME, every_deg=30.0)
        assert contender.envelope.limits == alone.limits
    assert any(row.port == "vent" for row in found[0].envelope.limits)


def test_options_reach_the_envelope():
    both = {"pair": [*CORNER, *CENTRE]}
    every, one = (run(both, pickups=p).contenders[0] for p in ("all", "any"))
    assert one.worst_held_to_deg > every.worst_held_to_deg


def test_a_port_outside_is_refused():
    with pytest.raises(PortError):
        run({"out": [pickup("out", (2.0, 0.0, 0.0))]})
