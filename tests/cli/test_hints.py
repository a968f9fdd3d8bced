"""A hint typed as it stands works: what a message says to write is put in the place of what was wrong."""

import re
from pathlib import Path

import pytest
from program import answer, run

BOX = ("level", "--box", "900x300x300mm", "--fill", "42L")
PICKUP = "suction=450,150,40mm,bore=38mm,facing=down"
WRONG = {
    "no unit of a box": (("level", "--box", "900x300x300", "--fill", "42L"), "900x300x300"),
    "no unit of a fill": (("level", "--box", "900x300x300mm", "--fill", "42"), "42"),
    "a comma in a number": (("level", "--box", "900x300x300mm", "--fill", "42,5L"), "42,5L"),
    "no unit of a place": ((*BOX, "--pickup", "suction=450,150,40"), "450,150,40"),
    "a size for a file": (("level", "900x300x300mm", "--fill", "42L"), "900x300x300mm"),
    "two numbers for three": ((*BOX, "--pickup", "suction=450,150mm"), "450,150mm"),
    "degrees or percent": (
        ("envelope", *BOX[1:], "--pickup", PICKUP, "--require", "10", "--search-to", "20deg"),
        "10",
    ),
    "no name of a port": ((*BOX, "--pickup", "450,150,40mm"), "450,150,40mm"),
    "no word of a facing": (
        (*BOX, "--pickup", "suction=450,150,40mm,bore=38mm,facing=downward"),
        "downward",
    ),
    "an ending": ((*BOX, "--picture", "side.bmp"), "side.bmp"),
    "an ending of a table": (("dip", *BOX[1:3], "--csv", "dip.xls"), "dip.xls"),
    "a liquid": (
        ("budget", "--capacity", "72L", "--cold-fill", "50L", "--liquid", "ISO VG 47"),
        "ISO VG 47",
    ),
}


def hint(message):
    """The first thing in quotes after what to do next, or the option that it names with its value."""
    advice = message.split("next: ")[1]
    quoted = re.search(r"'([^']+)'|\"([^\"]+)\"", advice)
    return quoted[1] or quoted[2] if quoted else re.search(r"write (--\S+ \S+?),? ", advice)[1]


@pytest.mark.parametrize("name", WRONG)
def test_the_hint_typed_as_it_stands_works(name, tmp_path):
    words, wrong = WRONG[name]
    first = run(*words, cwd=tmp_path)
    assert first.returncode == 2, first.stdout
    told = hint(first.stderr)
    mended = []
    for word in words:
        if word == wrong and told.startswith("--"):
            mended += told.split()
        else:
            mended.append(told if word == wrong else word.replace(f"={wrong}", f"={told}"))
    again = run(*mended, cwd=tmp_path)
    assert again.returncode in (0, 3, 4), again.stderr


TANK = """
tanksolve_file = 1
name = "tank"
fill = "42 L"
[tank]
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"
[[port]]
kind = "pickup"
name = "suction"
at = "450, 150, 40 mm"
"""
# the line as it should be, as it is, and what of it is wrong
LINES = {
    "no unit": ('length = "900 mm"', 'length = "900"', '"900"'),
    "no quotes": ('length = "900 mm"', "length = 900", "900"),
    "two numbers for three": ('at = "450, 150, 40 mm"', 'at = "450, 150 mm"', '"450, 150 mm"'),
    "a comma": ('fill = "42 L"', 'fill = "42,5 L"', '"42,5 L"'),
    "a word": ('kind = "pickup"', 'kind = "pickups"', '"pickups"'),
    "a key": ('height = "300 mm"', 'heigth = "300 mm"', "heigth"),
    "a wall inside": ('height = "300 mm"', 'height = "300 mm"\nwall = "3 mm"', "\nwall"),
}


@pytest.mark.parametrize("name", LINES)
def test_the_hint_written_into_the_file_works(name, tmp_path):
    right, line, wrong = LINES[name]
    file = tmp_path / "tank.toml"
    file.write_text(TANK.replace(right, line))
    done = run("level", file)
    assert done.returncode == 2, done.stdout
    if name == "a wall inside":
        told = re.search(r"write (sizes = \"outside\")", done.stderr)[1]
        mended = line.replace(wrong, f"\n{told}{wrong}")
    else:
        told = hint(done.stderr)
        mended = line.replace(wrong, told if name == "a key" else f'"{told}"')
    file.write_text(TANK.replace(right, mended))
    assert answer("level", file)["volume_m3"] > 0.0


def test_a_port_that_is_missing_is_told_as_it_is_typed():
    for box, fill in (("900x300x300mm", "42L"), ("36x12x12in", "11gal")):
        done = run("envelope", "--box", box, "--fill", fill, "--search-to", "20deg")
        assert done.returncode == 2
        words = re.search(r"add (--pickup) (\S+),", done.stderr).groups()
        again = run("envelope", "--box", box, "--fill", fill, "--search-to", "20deg", *words)
        assert again.returncode == 0, again.stderr


def test_a_plate_asks_for_all_at_once():
    box = ("--box", "900x300x300mm", "--fill", "42L", "--pickup", PICKUP)
    done = run("plate", *box)
    assert done.returncode == 2
    assert "--machine-limit '15deg, operating manual p. 12' --allowance 3deg" in done.stderr


def test_a_mended_mesh_is_given_a_name(tmp_path):
    done = run("repair", tmp_path / "scan.stl")
    assert done.returncode == 2
    assert f"tanksolve repair {tmp_path / 'scan.stl'} scan_mended.stl" in done.stderr


def test_what_a_mesh_does_not_say_is_asked_at_once(tmp_path):
    mesh = Path(__file__).parents[2] / "meshes" / "broken" / "wall.stl"
    found = answer("inspect", mesh, code=4)
    options = found["answer"]["words"].split("as in ")[1].split()
    assert answer("inspect", mesh, *options)["capacity_m3"] > 0.0


@pytest.mark.parametrize("stick", ["5000,150,5mm", "-5,150,5mm", "450,301,5mm"])
def test_a_stick_outside_the_tank_is_refused(stick):
    box = ("--box", "900x300x300mm", "--pickup", PICKUP, "--require", "3deg")
    for command in ("marks", "strip"):
        done = run(command, *box, "--dipstick", stick)
        assert done.returncode == 2
        assert "is outside the tank" in done.stderr
    assert run("marks", *box, "--sight-glass", "-20,150,5mm").returncode == 0
