import math

import pytest

from tanksolve.errors import TankError
from tanksolve.geometry.assemble import Parts, build, division
from tanksolve.geometry.baffles import Baffle, hole
from tanksolve.geometry.internals import block, rod
from tanksolve.geometry.parts import box
from tanksolve.geometry.sections import saddle
from tanksolve.geometry.sumps import box_sump
from tanksolve.project.load import load
from tanksolve.record import as_plain

SHELL = box(0.9, 0.3, 0.3)
HOLE = hole(0.04, (0.1, 0.15))


def across(name, at, *cuts, **options):
    return Baffle(name, "across", at, 0.003, cuts=cuts, **options)


def test_two_plates_make_three_rooms_from_rear_to_front():
    parts = Parts(
        SHELL,
        (box_sump("pot", (0.1, 0.15), 0.1, 0.1, 0.05),),
        (across("b", 0.6, HOLE), across("a", 0.3, HOLE)),
    )
    found = division(parts)
    rear, middle, front = found.compartments
    assert rear.name == "behind 'a'"
    assert set(middle.name.split(", ")) == {"behind 'b'", "ahead of 'a'"}
    assert front.name == "ahead of 'b'"
    assert rear.volume_m3 == pytest.approx(0.3 * 0.3 * 0.3 + 0.1 * 0.1 * 0.05, rel=1e-12)
    assert middle.volume_m3 == pytest.approx(0.297 * 0.3 * 0.3, rel=1e-12)
    assert front.upper_m == pytest.approx([0.9, 0.3, 0.3])
    assert rear.lower_m == pytest.approx([0.0, 0.0, -0.05])
    first, second = found.passages
    assert (first.baffle, first.words, set(first.joins)) == (
        "b",
        "hole 40 mm",
        {middle.name, front.name},
    )
    assert set(second.joins) == {rear.name, middle.name}
    assert first.area_m2 == pytest.approx(math.pi * 0.02**2, rel=1e-9)
    assert (first.lowest_m, first.highest_m) == pytest.approx((0.13, 0.17), abs=1e-4)
    assert found.warnings == ()
    assert "body" not in as_plain(found)["passages"][0]


def test_rooms_and_openings_add_up_to_the_capacity():
    parts = Parts(
        SHELL,
        (box_sump("pot", (0.3015, 0.15), 0.1, 0.1, 0.05),),
        (
            across("a", 0.3, HOLE, gaps={"top": 0.02}),
            Baffle("keel", "along", 0.15, 0.003, cuts=(hole(0.04, (0.6, 0.1)),)),
        ),
        (
            rod("pump", (0.6, 0.08, 0.1), 0.05, 0.1),
            block("battery", (0.8, 0.2, 0.0), 0.1, 0.1, 0.1),
        ),
    )
    found = division(parts)
    assert len(found.compartments) == 4
    rooms = sum(one.volume_m3 for one in found.compartments)
    openings = sum(one.area_m2 * 0.003 for one in found.passages)
    # the plates cross: in the top gap the keel takes the room; in the sump both ways under count it
    crossing = 0.02 * 0.003 * 0.003 + (0.05 - 1e-5) * 0.003 * 0.003
    under = [one for one in found.passages if one.words == "way under it through sump 'pot'"]
    assert len(under) == 2
    assert all(one.area_m2 == pytest.approx(0.1 * 0.05, rel=1e-3) for one in under)
    assert rooms + openings == pytest.approx(build(parts).capacity + crossing, rel=1e-9)


def test_a_free_standing_solid_makes_no_room_of_its_own():
    free = rod("float", (0.2, 0.15, 0.1), 0.05, 0.1)
    found = division(Parts(SHELL, (), (across("a", 0.3, HOLE),), (free,)))
    rear, front = found.compartments
    assert rear.volume_m3 == pytest.approx(0.3 * 0.3 * 0.3 - math.pi * 0.025**2 * 0.1, rel=1e-12)
    assert front.volume_m3 == pytest.approx(0.597 * 0.3 * 0.3, rel=1e-12)
    assert found.warnings == ()


def test_a_plate_without_opening_seals_a_room_and_says_which():
    parts = Parts(SHELL, (), (across("a", 0.3, HOLE), across("blind", 0.6)))
    (warning,) = division(parts).warnings
    assert (
        warning == "sealed off: ahead of 'blind' (26.73 L) has no opening to the rest of the tank"
    )
    assert warning in build(parts).notes


def test_a_hole_that_a_pump_body_stops_up_is_no_opening():
    stopped = rod("pump", (0.2, 0.1, 0.15), 0.08, 0.3, "along")
    found = division(
        Parts(SHELL, (), (across("a", 0.6, HOLE), across("b", 0.3, hole(0.04, (0.2, 0.15)))), ())
    )
    assert found.warnings == ()
    plugged = Parts(
        SHELL, (), (across("a", 0.3, hole(0.04, (0.1, 0.15)), hole(0.02, (0.2, 0.25))),), (stopped,)
    )
    with pytest.raises(TankError, match="hole 40 mm takes nothing off"):
        division(plugged)


def test_a_sealed_pair_is_named_together():
    parts = Parts(
        SHELL,
        (),
        (
            across("a", 0.2),
            Baffle(
                "shelf", "flat", 0.1, 0.003, cuts=(hole(0.04, (0.1, 0.1)), hole(0.04, (0.6, 0.1)))
            ),
        ),
    )
    (warning,) = division(parts).warnings
    assert "behind 'a', below 'shelf' and behind 'a', above 'shelf'" in warning


def test_equal_names_are_numbered():
    shell = saddle(0.6, 0.4, 0.2, 0.25, 1.0)
    low = Baffle("low", "across", 0.3, 0.003, gaps={"top": 0.1})
    shelf = Baffle(
        "shelf", "flat", 0.2, 0.003, cuts=(hole(0.04, (0.1, 0.1)), hole(0.04, (0.1, 0.5)))
    )
    names = [one.name for one in division(Parts(shell, (), (low, shelf), ())).compartments]
    assert "behind 'low', below 'shelf' (1)" in names
    assert "behind 'low', below 'shelf' (2)" in names
    assert len(set(names)) == len(names) == 6


def test_a_loaded_project_tells_its_compartments(tmp_path):
    file = tmp_path / "tank.toml"
    file.write_text(
        'tanksolve_file = 1\n[tank]\nshape = "box"\nlength = "900 mm"\nwidth = "300 mm"\nheight = "300 mm"\n'
        '[[baffle]]\nname = "wall"\nstands = "across"\nat = "300 mm"\nthickness = "3 mm"\n'
    )
    project = load(file)
    assert [one.name for one in project.compartments().compartments] == [
        "behind 'wall'",
        "ahead of 'wall'",
    ]
    assert any("sealed off: behind 'wall' (27.00 L)" in note for note in project.tank.notes)
