"""Flaps and balance pipes of built tanks: where their sills are, and what is refused."""

import math

import numpy as np
import pytest

from tanksolve.errors import TankError
from tanksolve.geometry.assemble import Parts, build, division
from tanksolve.geometry.baffles import Baffle, clip, hole, notch, slot
from tanksolve.geometry.bodies import beside
from tanksolve.geometry.internals import block
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box, cylinder
from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.model.attitude import mounting_rotation
from tanksolve.model.mounting import mount

SHELL = box(0.9, 0.3, 0.3)
LEVEL = np.array([0.0, 0.0, 1.0])


def across(*cuts, **options):
    return Baffle("wall", "across", 0.3, 0.004, cuts=cuts, **options)


def tank_with(*cuts, **options):
    return build(Parts(SHELL, baffles=(across(*cuts, **options),)))


def test_a_flap_leaves_the_plate_whole():
    shut = tank_with(slot(0.06, 0.04, (0.15, 0.1), flap="rearward"))
    bare = tank_with()
    assert shut.capacity == pytest.approx(bare.capacity, rel=1e-12)
    assert [(link.kind, link.way, link.name) for link in shut.links] == [
        ("flap", "rearward", "wall, slot 60 x 40 mm")
    ]


@pytest.mark.parametrize("degrees", [-40.0, -10.0, 0.0, 10.0, 40.0])
def test_the_sill_is_the_higher_of_the_two_lower_edges(degrees):
    """Slot from 80 to 120 mm up, plate from 300 to 304 mm: its edges at either face."""
    link = tank_with(slot(0.06, 0.04, (0.15, 0.1), flap="forward")).links[0]
    up = up_from_pitch_roll(math.radians(degrees), 0.0)
    wanted = max(up @ (0.3, 0.15, 0.08), up @ (0.304, 0.15, 0.08))
    assert link.sill(up) == pytest.approx(wanted, abs=1e-12)


def test_the_sill_of_a_round_hole_and_of_openings_at_the_floor():
    links = tank_with(
        hole(0.05, (0.15, 0.1), flap="forward"),
        notch("bottom", 0.06, 0.04, 0.02, flap="forward"),
        clip("bottom left", 0.03, flap="forward"),
    ).links
    assert links[0].sill(LEVEL) == pytest.approx(
        0.075, abs=1e-4
    )  # facets of a tenth of a millimetre
    assert [link.sill(LEVEL) for link in links[1:]] == pytest.approx([0.0, 0.0], abs=1e-12)
    side = np.array([0.0, 1.0, 0.0])
    assert [link.sill(side) for link in links[1:]] == pytest.approx([0.04, 0.27], abs=1e-12)


def test_liquid_goes_from_the_side_that_the_flap_lets_in():
    fore, aft = (
        tank_with(hole(0.05, (0.1, 0.1), flap=way)).links[0] for way in ("forward", "rearward")
    )
    assert fore.mouths[0][:, 0].max() < 0.3 < 0.304 < fore.mouths[1][:, 0].min()
    assert aft.mouths[1][:, 0].max() < 0.3 < 0.304 < aft.mouths[0][:, 0].min()
    for plate, way in (
        (Baffle("w", "along", 0.1, 0.004, cuts=(hole(0.05, (0.4, 0.1), flap="left"),)), 1),
        (Baffle("w", "flat", 0.1, 0.004, cuts=(hole(0.05, (0.4, 0.1), flap="down"),)), 2),
    ):
        first, last = build(Parts(SHELL, baffles=(plate,))).links[0].mouths
        low, high = (first, last) if way == 1 else (last, first)
        assert low[:, way].max() < 0.1 < 0.104 < high[:, way].min()


def test_every_mouth_opens_into_the_liquid():
    """A leaning, turned plate in a round tank, an opening cut by its wall."""
    round_tank = cylinder(0.4, 1.0)
    cuts = (
        notch("bottom", 0.2, 0.2, 0.05, flap="forward"),
        hole(0.06, (0.2, 0.2), flap="rearward"),
    )
    plate = Baffle("wall", "across", 0.5, 0.004, lean=0.3, turn=0.2, cuts=cuts)
    tank = build(Parts(round_tank, baffles=(plate,)))
    for link in tank.links:
        for mouth in link.mouths:
            assert (tank.winding(mouth) > 0.5).all()


def test_what_cannot_be_a_flap_is_refused():
    with pytest.raises(TankError, match="does not open left"):
        across(hole(0.05, (0.1, 0.1), flap="left"))
    beam = block("beam", (0.304, 0.0, 0.0), 0.05, 0.3, 0.2)
    with pytest.raises(TankError, match="onto something solid"):
        build(
            Parts(
                SHELL, baffles=(across(hole(0.05, (0.1, 0.1), flap="forward")),), internals=(beam,)
            )
        )


def test_a_bay_behind_flaps_only_is_not_called_sealed_off():
    assert not any(
        "sealed" in note for note in tank_with(hole(0.05, (0.1, 0.1), flap="forward")).notes
    )
    found = division(Parts(SHELL, baffles=(across(hole(0.05, (0.1, 0.1), flap="forward")),)))
    assert [(way.words, way.flap) for way in found.passages] == [("hole 50 mm", "forward")]
    assert len(found.passages[0].joins) == 2


PIPE = BalancePipe("cross", ((0.45, 0.3, 0.05), (0.45, 0.7, 0.05)), 0.05)


def twins(*pipes):
    shell = beside(SHELL, [("left", (0.0, 0.7, 0.0), SHELL)])
    return build(Parts(shell, pipes=pipes, bodies=2))


def test_twin_tanks_hold_twice_as_much_and_are_joined():
    joined, apart = twins(PIPE), twins()
    assert joined.capacity == pytest.approx(2 * SHELL.capacity, rel=1e-12)
    assert joined.upper == pytest.approx([0.9, 1.0, 0.3])
    assert not any("sealed" in note for note in joined.notes)
    assert any("sealed" in note for note in apart.notes)
    assert joined.links[0].sill(LEVEL) == pytest.approx(0.025, abs=1e-12)


def test_a_pipe_over_a_rise_has_its_sill_at_the_inside_of_its_bends():
    y_z = ((0.3, 0.05), (0.35, 0.05), (0.4, 0.2), (0.6, 0.2), (0.65, 0.05), (0.7, 0.05))
    run = tuple((0.45, y, z) for y, z in y_z)
    link = twins(BalancePipe("arch", run, 0.04)).links[0]
    assert link.sill(LEVEL) == pytest.approx(0.18, abs=1e-12)
    tilted = up_from_pitch_roll(0.0, math.radians(20.0))
    assert link.sill(tilted) == pytest.approx(
        0.6 * math.sin(math.radians(20.0))
        + 0.2 * math.cos(math.radians(20.0))
        - 0.02 * _mitre(run, tilted),
        abs=1e-12,
    )


def _mitre(run, up):
    """Half height along up of the ellipse in which two unit-radius pipes meet at the fourth place."""
    one, other = (np.subtract(run[k + 1], run[k]) for k in (2, 3))
    one, other = one / np.linalg.norm(one), other / np.linalg.norm(other)
    angles = np.linspace(0.0, 2 * np.pi, 200_001)
    x, z = np.cross(one, [1.0, 0.0, 0.0]), np.array([1.0, 0.0, 0.0])
    ring = np.cos(angles)[:, None] * x + np.sin(angles)[:, None] * z
    normal = one + other
    ring = ring - (ring @ normal / (one @ normal))[:, None] * one  # along the pipe, to the mitre
    return (ring @ up).max()


def test_bodies_and_pipes_that_cannot_be_are_refused():
    with pytest.raises(TankError, match="touches or overlaps"):
        beside(SHELL, [("left", (0.0, 0.3, 0.0), SHELL)])
    with pytest.raises(TankError, match="touches or overlaps"):
        beside(SHELL, [("left", (0.1, 0.1, 0.0), SHELL)])
    with pytest.raises(TankError, match="behind, right of or below"):
        beside(SHELL, [("left", (0.0, -0.7, 0.0), SHELL)])
    for run in (((0.45, 0.3, 0.02), (0.45, 0.7, 0.05)), ((0.45, 0.3, 0.05), (0.45, 0.5, 0.05))):
        with pytest.raises(TankError, match="does not open into the tank"):
            twins(BalancePipe("cross", run, 0.05))
    with pytest.raises(TankError, match="no length"):
        BalancePipe("cross", ((0.0, 0.0, 0.0),) * 2, 0.05)


def test_links_turn_with_the_tank():
    tank = tank_with(slot(0.06, 0.04, (0.15, 0.1), flap="forward"))
    rotation = mounting_rotation(0.3, 0.2, -0.4)
    turned, _ = mount(tank, (), rotation)
    up = up_from_pitch_roll(0.1, 0.2)
    assert turned.links[0].sill(up) == pytest.approx(tank.links[0].sill(rotation @ up), abs=1e-12)
    assert (turned.winding(turned.links[0].mouths[0]) > 0.5).all()
