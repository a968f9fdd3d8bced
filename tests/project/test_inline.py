import math

import pytest

from tanksolve.errors import FillError, PortError, QuantityError, TankError, TanksolveError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.parts import box
from tanksolve.geometry.sumps import box_sump
from tanksolve.model.ports import PortKind, Rule
from tanksolve.project.inline import parse_facing, parse_fill, parse_port, parse_tank
from tanksolve.unit_systems import typed_system, using

TANK = box(0.9, 0.3, 0.3)


def test_box_and_cylinder():
    assert parse_tank(box_text="900x300x250mm").upper == pytest.approx([0.9, 0.3, 0.25])
    assert parse_tank(box_text="90cm x 12in x 250mm").upper == pytest.approx([0.9, 0.3048, 0.25])
    tank = parse_tank(cylinder_text="450x1200mm", lies="across")
    assert tank.upper[1] == pytest.approx(1.2)
    assert tank.capacity == pytest.approx(math.pi * 0.225**2 * 1.2)
    outside = parse_tank(box_text="906x306x306mm", outside=True, wall="3mm")
    assert outside.upper == pytest.approx([0.9, 0.3, 0.3])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"box_text": "900x300mm"}, "--box"),
        ({"box_text": "900x300x300"}, "has no unit"),
        ({"box_text": "900x300x0mm"}, "not positive"),
        ({"box_text": "900x300x300parsnips"}, "not a unit of length"),
        ({"box_text": "900x300x300mm", "outside": True}, "--box: outside sizes"),
        ({"cylinder_text": "450x1200mm", "lies": "askew"}, "--cylinder: 'askew'"),
        ({}, "either --box or --cylinder"),
        ({"box_text": "9x9x9mm", "cylinder_text": "9x9mm"}, "either --box or --cylinder"),
        ({"box_text": "900x300x300mm", "outside": True, "wall": "3"}, "--wall"),
    ],
)
def test_bad_tanks(options, words):
    with pytest.raises((QuantityError, TankError), match=words):
        parse_tank(**options)


def test_a_port_with_everything():
    port = parse_port(
        "pickup",
        "suction=20,150,100mm,bore=38mm,facing=rearward+down,cover=50mm,length=80mm,rule=none",
    )
    assert port.name == "suction"
    assert port.kind is PortKind.PICKUP
    assert port.position == pytest.approx((0.02, 0.15, 0.1))
    assert (port.bore, port.cover, port.length) == pytest.approx((0.038, 0.05, 0.08))
    assert port.facing == pytest.approx((-math.sqrt(0.5), 0.0, -math.sqrt(0.5)))
    assert port.effective_rule is Rule.NONE


def test_a_port_with_nothing_more_than_a_place():
    port = parse_port(PortKind.BREATHER, " top = 10, 20, 290 mm ")
    assert (port.name, port.position) == ("top", pytest.approx((0.01, 0.02, 0.29)))
    assert port.effective_rule is Rule.DRY
    assert parse_port("level switch", "low=1,2,3in").position == pytest.approx(
        (0.0254, 0.0508, 0.0762)
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("20,150,100mm", "does not name the port"),
        ("a=20,150mm", "2 numbers where 3 are needed"),
        ("a=20,5,150,100mm", "not a comma"),
        ("a=20,150,100", "has no unit"),
        ("a=20,150,100mm,bor=38mm", "did you mean 'bore'"),
        ("a=20,150,100mm,bore=38mm,bore=40mm", "given twice"),
        ("a=20,150,100mm,bore=38", "has no unit"),
        ("a=20,150,100mm,bore=-38mm", "not positive"),
        ("a=20,150,100mm,facing=sideways", "not a direction"),
        ("a=20,150,100mm,facing=up+down", "not a direction"),
        ("a=20,150,100mm,rule=moist", "wet, dry, none"),
        ("a=bore=3mm,20,150,100mm", "mixes"),
        ("a=20,150,100mm,length=80mm", "needs a facing"),
    ],
)
def test_bad_ports(text, words):
    with pytest.raises((PortError, QuantityError), match=words) as caught:
        parse_port("pickup", text)
    assert caught.value.message.startswith("--pickup")


def test_facing_words():
    assert parse_facing("down") == (0.0, 0.0, -1.0)
    assert parse_facing("forward + left") == pytest.approx((math.sqrt(0.5), math.sqrt(0.5), 0.0))


@pytest.mark.parametrize(
    ("text", "least", "most", "words"),
    [
        ("42L", 0.042, 0.042, "fill 42.00 L"),
        ("30L..42L", 0.030, 0.042, "fill 30.00 L to 42.00 L"),
        ("30..42 L", 0.030, 0.042, "fill 30.00 L to 42.00 L"),
        ("11 gal", 11 * 0.003785411784, 11 * 0.003785411784, "fill 11.00 US gal"),
        ("9 imperial_gallon", 9 * 0.00454609, 9 * 0.00454609, "imperial gal"),
        ("120mm", 0.12 * 0.27, 0.12 * 0.27, "120.0 mm deep standing level"),
        ("4in..120mm", 0.1016 * 0.27, 0.12 * 0.27, "4.00 in to 4.72 in deep"),
    ],
)
def test_fills(text, least, most, words):
    with using(typed_system([text])):
        read = parse_fill(text, TANK)
    assert (read.fill.least, read.fill.most) == pytest.approx((least, most), rel=1e-12)
    assert words in read.words
    unit = {"11 gal": "gal", "9 imperial_gallon": "imperial_gallon"}.get(text, "L")
    assert read.unit == unit


def test_a_depth_is_read_with_the_machine_level_not_the_tank():
    # a tank mounted nose up by 30 degrees: the deepest liquid stands in the rear bottom corner
    up = (math.sin(math.radians(30.0)), 0.0, math.cos(math.radians(30.0)))
    read = parse_fill("100mm", TANK, up)
    wedge = 0.5 * 0.1**2 / (up[0] * up[2]) * 0.3
    assert read.fill.least == pytest.approx(wedge, rel=1e-12)


def test_a_depth_counts_from_the_bottom_of_a_sump():
    tank = build(Parts(TANK, (box_sump("pot", (0.2, 0.15), 0.1, 0.1, 0.05),)))
    assert parse_fill("60mm", tank).fill.least == pytest.approx(
        0.1 * 0.1 * 0.05 + 0.01 * 0.27, rel=1e-12
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("42", "has no unit"),
        ("42,5L", "comma"),
        ("42 parsnips", "a depth"),
        ("0L", "not positive"),
        ("-3L", "not positive"),
        ("42L..30L", "above the most"),
        ("90L", "more than the tank holds"),
        ("400mm", "not in the tank"),
        ("0mm", "not in the tank"),
        ("30L..42L..50L", "not a fill"),
        ("..42L", "not a fill"),
        ("30L..120mm", "not a unit of volume|'mm'"),
        ("18kg", "'kg' is a unit of mass; give a volume or a depth"),
        ("120mn", "give a volume or a depth with its unit"),
        ("left", "as in 42L"),
    ],
)
def test_bad_fills(text, words):
    with pytest.raises((FillError, QuantityError), match=words) as caught:
        parse_fill(text, TANK)
    assert caught.value.message.startswith("--fill")
    assert isinstance(caught.value, TanksolveError)
