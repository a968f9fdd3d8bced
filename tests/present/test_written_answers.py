"""Commands that write a file of their own: one system of units in it and on the screen, the JSON's numbers.

The searches for limits are coarse and asked for once: what they find is tested elsewhere, here what is told of it.
"""

import html
import re
from pathlib import Path
from unittest import mock

import pytest
from faces import foreign, numbers, odd_numbers, system_of, told
from program import answer, run
from studies import STUDY, written
from tanksolve_cli.main import program

from tanksolve.present import as_text
from tanksolve.questions.envelope import envelope as module
from tanksolve.unit_systems import METRIC, US

MESHES = Path(__file__).resolve().parents[2] / "meshes"
TANKS = {
    "metric": [
        *("--box", "900x300x300mm", "--pickup", "suction=450,150,40mm,bore=38mm,facing=down"),
        *("--breather", "cap=450,150,290mm", "--fill", "42L"),
    ],
    "us": [
        *("--box", "36x12x12in", "--pickup", "suction=18,6,1.5in,bore=1.5in,facing=down"),
        *("--breather", "cap=18,6,11.5in", "--fill", "11gal"),
    ],
    "metric walls": [MESHES / "two_bays.toml"],
    "us walls": [MESHES / "two_bays.toml", "--units", "us"],
    "metric demo": [MESHES / "hillside_sprayer.toml"],
    "us demo": [MESHES / "hillside_sprayer.toml", "--units", "us"],
}
COMMANDS = {
    "plate": ["plate", "--machine-limit", "15deg, manual p. 12", "--allowance", "1deg"],
    "strip": ["strip", "--require", "pitch=3deg"],
    "drawing": ["drawing"],
    "view": ["view", "--attitude", "-8deg,3deg"],
    "report": ["report"],
}
STICK = {"metric": "450,150,5mm", "us": "18,6,0.2in"}
FILES = {
    "plate": "plate.svg",
    "strip": "strip.svg",
    "drawing": "drawing.svg",
    "view": "view.svg",
    "report": "page.html",
}
ENVELOPE = module.envelope
LINES = 25  # of the answer of a plain tank, by default
FOUND = {}


def coarse(tank, ports, fill, pickups="all", **_):
    """The search for limits, coarse, once for each tank."""
    key = (tank.name, round(tank.capacity, 9), fill.least)
    if key not in FOUND:
        options = {"every_deg": 90.0, "search_to_deg": 20.0, "tolerance_deg": 1.0}
        FOUND[key] = ENVELOPE(tank, ports, fill, pickups=pickups, **options)
    return FOUND[key]


def words_of(command, tank):
    own = [str(word) for word in TANKS[tank]]
    if command == "strip":
        own += [
            "--dipstick",
            STICK[system_of(tank)],
            "--step",
            {"metric": "5L", "us": "1gal"}[system_of(tank)],
        ]
    return [*COMMANDS[command], *own]


def seen(file):
    """What a reader sees of a file: texts of a drawing, a page without its program."""
    text = file.read_text()
    if "Matplotlib" in text:  # its words are outlines, each with a remark
        return "\n".join(re.findall(r"<!-- (.*?) -->", text, flags=re.DOTALL))
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", text, flags=re.DOTALL)
    return html.unescape("\n".join(re.findall(r">([^<>]+)<", text)))


@pytest.mark.parametrize("tank", TANKS)
@pytest.mark.parametrize("command", COMMANDS)
def test_screen_and_file_keep_to_one_system_and_to_the_data(command, tank, tmp_path):
    if command == "report" and tank.endswith("demo"):
        pytest.skip("half a minute for sections of 2,934 faces; two bays stand for walls")
    file, again = tmp_path / FILES[command], tmp_path / f"again{Path(FILES[command]).suffix}"
    words = words_of(command, tank)
    system = system_of(tank)
    short, whole = [], as_text.as_text

    def spy(document, full):
        short.append(whole(document, False))
        return whole(document, full)

    with mock.patch.object(module, "envelope", coarse), mock.patch.object(as_text, "as_text", spy):
        done = run(*words, "--full", "-o", file)
        assert done.returncode in (0, 3, 4), done.stderr
        data = answer(*words, "-o", again, code=done.returncode)
    if " " not in tank:  # a plain tank's fits a screen
        assert len(short[0].splitlines()) <= LINES
    faces = {"text": told(done.stdout)}
    if file.exists():
        faces["file"] = seen(file)
    assert file.exists() == (data["answer"]["verdict"] != "no" or command in ("report", "drawing"))
    for face, text in faces.items():
        assert text
        assert foreign(text.replace("_", " "), system) == [], face
    if command == "report":  # of its page the JSON holds the limits only
        del faces["file"]
    known = set(numbers(data))
    units = US if system == "us" else METRIC
    odd = set().union(*(odd_numbers(face, text, known, units) for face, text in faces.items()))
    assert odd == set()


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_mended_mesh_is_told_in_the_units_typed(unit, tmp_path):
    words = ["repair", MESHES / "broken" / "doubled.stl", tmp_path / "m.stl", "--unit", unit]
    wide = {"mm": "2mm", "in": "0.1in"}[unit]
    words += ["--hole", wide, "--force"]
    done, system = run(*words, "--full"), {"mm": "metric", "in": "us"}[unit]
    assert done.returncode == 0, done.stderr
    assert foreign(done.stdout.replace("in the file's units", ""), system) == []
    known = set(numbers(answer(*words)))
    assert odd_numbers("text", told(done.stdout), known, US if unit == "in" else METRIC) == set()


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_file_drawn_up_from_a_mesh_is_told_in_the_units_typed(unit, tmp_path):
    size = {"mm": 1.0, "in": 1.0 / 25.4}[unit]
    mesh = tmp_path / "box.obj"
    corners = [(x, y, z) for x in (0, 900) for y in (0, 300) for z in (0, 300)]
    faces = ["1 2 4 3", "5 7 8 6", "1 5 6 2", "3 4 8 7", "1 3 7 5", "2 6 8 4"]
    lines = [f"v {x * size} {y * size} {z * size}" for x, y, z in corners]
    mesh.write_text("\n".join([*lines, *(f"f {face}" for face in faces)]))
    axes = ["--unit", unit, "--forward", "+x", "--up", "+z"]
    done = run("new", tmp_path / "tank.toml", "--from", mesh, *axes)
    assert done.returncode == 0, done.stderr
    told_ = done.stdout.split("is the unit right")[0].replace(f"lengths in {unit}", "")
    assert "enclosing box" in told_
    assert foreign(told_, {"mm": "metric", "in": "us"}[unit]) == []


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_study_and_where_its_figures_come_from(units, tmp_path, study):
    system = US if units == "us" else METRIC
    for words in (
        ["study", study, "--out", study.parent / "out"],
        ["explain", study.parent / "out", "2"],
    ):
        done = run(*words, "--full", "--units", units)
        assert done.returncode == 0, done.stderr
        own = re.sub(
            r"\b(?:[67]00 mm|40 mm|30 L(?:\.\.42 L)?)(?!\w)", "", done.stdout
        )  # the study's own words
        assert foreign(own, units) == []
        known = set(numbers(answer(*words)))
        assert odd_numbers("text", told(done.stdout), known, system) == set()


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    few = STUDY.replace('to = "1000 mm"', 'to = "700 mm"').replace(
        '"20 mm", "40 mm", "400 mm"', '"40 mm"'
    )
    return written(tmp_path_factory.mktemp("study"), few)


def test_every_command_is_walked_somewhere():
    """A command that is new has to be asked here, or in test_answers."""
    asked = Path(__file__).with_name("test_answers.py").read_text() + Path(__file__).read_text()
    walked = set(re.findall(r'^    "[\w ]+": \["(\w+)"', asked, flags=re.MULTILINE))
    walked |= {"repair", "new", "study", "explain"}  # above
    names = {command.name for command in program().registered_commands}
    assert names - walked == {"schema", "help"}  # which tell no number of a tank
