import math
import re

import pytest

from tanksolve.errors import FileFormatError, FillError, PortError, QuantityError, TankError
from tanksolve.model.ports import PortKind, Rule
from tanksolve.project.load import load, loads, mounting_words
from tanksolve.units import parse_list

GOOD = """\
# a tank of the test's own
tanksolve_file = 1
name = "demo"
fill = "30 L..42 L"
pickups = "any"

[tank]
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"

[[sump]]
shape = "box"
at = "60, 150 mm"
length = "100 mm"
width = "100 mm"
depth = "50 mm"

[[baffle]]
name = "rear"
stands = "across"
at = "300 mm"
thickness = "3 mm"
top_gap = "30 mm"
hole = [
  { diameter = "40 mm", at = "80, 60 mm" },
  { diameter = "40 mm", at = "220, 60 mm" },
]

[[baffle.clip]]
corner = "bottom right"
size = "30 mm"

[[internal]]
shape = "rod"
name = "pump"
at = "500, 200, 100 mm"
diameter = "50 mm"
length = "80 mm"

[[port]]
name = "suction"
kind = "pickup"
at = "60, 150, 30 mm"
bore = "38 mm"
facing = "down"

[[port]]
name = "breather"
kind = "breather"
at = "450, 150, 300 mm"
rule = "none"

[liquid]
name = "oil"
density = "870 kg/m3"

[mounting]
pitch = "2 deg"
"""


def test_a_whole_file():
    project = loads(GOOD)
    volume = 0.9 * 0.3 * 0.3 + 0.1 * 0.1 * 0.05
    volume -= (0.3 * 0.27 - 2 * math.pi * 0.02**2 - 0.03**2 / 2) * 0.003 + math.pi * 0.025**2 * 0.08
    assert project.tank.capacity == pytest.approx(volume, rel=1e-12)
    assert project.name == project.tank.name == "demo"
    suction, breather = project.ports
    assert suction.kind is PortKind.PICKUP
    assert (suction.position, suction.bore, suction.facing) == (
        (0.06, 0.15, 0.03),
        0.038,
        (0.0, 0.0, -1.0),
    )
    assert suction.effective_rule is Rule.WET
    assert breather.effective_rule is Rule.NONE
    assert project.fill is not None
    assert (project.fill.least, project.fill.most) == pytest.approx((0.030, 0.042))
    assert project.pickup_rule == "any"
    assert (project.density, project.liquid) == (pytest.approx(870.0), "oil")
    assert project.mounting == pytest.approx((0.0, math.radians(2.0), 0.0))
    assert project.notes == (
        *project.tank.notes,
        "the tank sits in the machine with its nose up by 2.0° (3.4 % grade)",
        "any one covered pickup is enough",
        "fill 30.00 L to 42.00 L",
    )


def test_mounting_says_its_signs():
    (words,) = mounting_words(math.radians(-10.0), 0.0, math.radians(-5.0))
    assert "nose turned to the right by 10.0°" in words
    assert "left side down by 5.0°" in words
    assert "grade" not in words.split(", then")[0], "yaw is no slope"
    assert "left side down by 5.0° (8.7 % grade)" in words
    assert mounting_words(0.0, 0.0, 0.0) == ()


def test_a_depth_in_a_tilted_tank_is_read_with_the_machine_level():
    text = GOOD.replace('"30 L..42 L"', '"20 mm"').replace('pitch = "2 deg"', 'pitch = "45 deg"')
    fill = loads(text).fill
    assert fill is not None
    assert fill.least == pytest.approx(
        0.02**2 * 0.1, rel=1e-9
    )  # the wedge in the sump's rear bottom edge


@pytest.mark.parametrize(
    ("old", "new", "error", "line", "words"),
    [
        (
            'length = "900 mm"',
            'lenght = "900 mm"',
            FileFormatError,
            9,
            "unknown key 'lenght'.*did you mean 'length'",
        ),
        ('diameter = "40 mm"', 'diamter = "40 mm"', FileFormatError, 26, "did you mean 'diameter'"),
        ("[[baffle.clip]]", "[[baffle.clp]]", FileFormatError, 31, "did you mean 'clip'"),
        ("[liquid]", "[liqid]", FileFormatError, 55, "did you mean 'liquid'"),
        ('length = "900 mm"', "", FileFormatError, 7, "tank.length: the key 'length' is missing"),
        ('"900 mm"', "900", FileFormatError, 9, 'write it in quotes.*"900 mm"'),
        ('"900 mm"', '"900"', FileFormatError, 9, "has no unit"),
        ('"900 mm"', '"900 mn"', FileFormatError, 9, "'mn' is not a unit of length"),
        ('"900 mm"', '"0,9 m"', FileFormatError, 9, "comma"),
        ('"900 mm"', '"900000 m"', FileFormatError, 9, "too far for a tank"),
        (
            'at = "60, 150 mm"',
            'at = "60, 1e300 mm"',
            FileFormatError,
            15,
            "greater than any length",
        ),
        ('"900 mm"', '"-900 mm"', TankError, 7, "length of -900 mm"),
        ('shape = "box"\nlength', 'shape = "bx"\nlength', FileFormatError, 7, "did you mean 'box'"),
        ('shape = "box"\nlength', "length", FileFormatError, 7, "'shape' is missing"),
        ("tanksolve_file = 1", "tanksolve_file = 2", FileFormatError, 2, "later version"),
        ("tanksolve_file = 1", "tanksolve_file = true", FileFormatError, 2, "not known"),
        ('"across"', '"acros"', FileFormatError, 22, "'acros'.*'across', 'along' or 'flat'"),
        ('kind = "pickup"', 'kind = "pick"', FileFormatError, 44, "'pick' is not one of"),
        ("[mounting]", "[[mounting]]", FileFormatError, 59, "mounting"),
        ('name = "rear"', "name = 3", FileFormatError, 21, "3 was given"),
        ("bottom right", "bottom front", TankError, 20, "no bottom front corner"),
        ('at = "80, 60 mm"', 'at = "800, 60 mm"', TankError, 20, "takes nothing off"),
        ('at = "60, 150 mm"', 'at = "10, 150 mm"', TankError, 13, "not wholly under"),
        ('at = "500, 200, 100 mm"', 'at = "5, 200, 100 m"', TankError, 35, "outside"),
        (
            'at = "60, 150, 30 mm"',
            'at = "60, 1500, 30 mm"',
            PortError,
            45,
            "outside the tank by 1200.0 mm",
        ),
        ('name = "breather"', 'name = "suction"', PortError, 50, "two ports are called"),
        ('"38 mm"', '"0 mm"', FileFormatError, 46, "greater than 0"),
        ('"30 L..42 L"', '"30 L..420 L"', FillError, 4, "more than the tank holds"),
        ('"30 L..42 L"', '"42"', QuantityError, 4, "has no unit"),
        ('"870 kg/m3"', '"870 kg"', FileFormatError, 57, "not a unit of density"),
        ('"2 deg"', '"2"', FileFormatError, 60, "degrees or grade percent"),
    ],
)
def test_a_mistake_is_told_with_its_line(old, new, error, line, words):
    assert GOOD.count(old) >= 1
    with pytest.raises(error) as caught:
        loads(GOOD.replace(old, new, 1))
    message = caught.value.message.replace("\n", " ")
    assert f"line {line}," in message
    assert re.search(words, message), message


def test_what_is_not_a_tank_file(tmp_path):
    cases = [
        ("", "empty"),
        ("   \n", "empty"),
        ('length = "900 mm', "end of document"),
        ("a = 1\na = 2\n", "not TOML"),
        ("name = 'x'\n", "version key is missing"),
        ("x = " + "[" * 100_000, "not a sensible|not TOML"),
        ("x = " + "9" * 10_000, "not a sensible"),
    ]
    for text, words in cases:
        with pytest.raises(FileFormatError, match=words):
            loads(text)
    binary = tmp_path / "tank.toml"
    binary.write_bytes(b"\xff\xfe\x00tanksolve")
    with pytest.raises(FileFormatError, match="UTF-8"):
        load(binary)
    with pytest.raises(FileFormatError, match=r"none\.toml.*cannot be read"):
        load(tmp_path / "none.toml")
    with pytest.raises(FileFormatError, match="cannot be read"):
        load(tmp_path)
    binary.write_bytes(b"#" * 2_000_000)
    with pytest.raises(FileFormatError, match="too long"):
        load(binary)


def test_the_file_is_named(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(GOOD.replace("width", "widht", 1), encoding="utf-8")
    with pytest.raises(FileFormatError, match=r"mine\.toml, line 10, tank\.widht"):
        load(file)
    file.write_text(GOOD, encoding="utf-8")
    assert load(file).source == file


@pytest.mark.parametrize(
    ("key", "value", "hint"), [("density", "870", "870 kg/m3"), ("depth", "50", "50 mm")]
)
def test_a_hint_can_be_typed_as_it_stands(key, value, hint):
    assert f'{key} = "{hint}"' in GOOD
    with pytest.raises(FileFormatError) as refused:
        loads(GOOD.replace(f'"{hint}"', value))
    assert f'"{hint}"' in str(refused.value)


@pytest.mark.parametrize("text", ["150, 150 mm", "150 150 150 mm", "20;30;40mm", "1 2 3"])
def test_a_hint_for_a_list_can_be_typed_as_it_stands(text):
    with pytest.raises(QuantityError) as refused:
        parse_list(text, "length", ",", 3)
    for hint in re.findall(r"write '([^']+)'", str(refused.value)):
        assert len(parse_list(hint, "length", ",", 3)) == 3
