"""Every command that answers by a document, in both unit systems: one system on every face, one set of numbers.

The numbers of the text are read back and looked for among those of the JSON; the units on the screen, in CSV,
in pictures and in messages are looked at for any of the other system.
"""

import json
import re
import shlex
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

import pytest
from faces import foreign, numbers, odd_numbers, system_of, told
from program import answer, run

from tanksolve.present import as_text
from tanksolve.present.as_json import json_text
from tanksolve.unit_systems import METRIC, US

MESHES = Path(__file__).resolve().parents[2] / "meshes"
METRIC_BOX = [
    *("--box", "900x300x300mm", "--pickup", "suction=450,150,40mm,bore=38mm,facing=down"),
    *("--breather", "cap=450,150,290mm"),
]
US_BOX = [
    *("--box", "36x12x12in", "--pickup", "suction=18,6,1.5in,bore=1.5in,facing=down"),
    *("--breather", "cap=18,6,11.5in"),
]
SPRAYER = "the demo without pipes, its plates with corner clips only: a tenth of the faces"
TANKS = {
    "metric": [*METRIC_BOX, "--fill", "42L"],
    "us": [*US_BOX, "--fill", "11gal"],
    "metric walls": [MESHES / "two_bays.toml"],
    "us walls": [MESHES / "two_bays.toml", "--units", "us"],
    "metric sprayer": [SPRAYER],
    "us sprayer": [SPRAYER, "--units", "us"],
}
COMMANDS = {
    "dip": ["dip"],
    "check": ["check", "--require", "5deg"],
    "level": ["level", "--attitude", "-8deg,3deg"],
    "marks": ["marks", "--require", "3deg"],
    "size": ["size", "--require", "3deg", "--vary", "height"],
    "tolerance": ["tolerance", "--gauge-error", "0.5deg", "--search-to", "20deg"],
    "compare": ["compare", "--search-to", "20deg"],
    "envelope": ["envelope", "--require", "3deg", "--every", "45deg", "--search-to", "20deg"],
    "place": ["place", "--require", "3deg", "--kind", "pickup", "--tolerance", "1deg"],
    "place at": ["place", "--require", "3deg", "--kind", "pickup"],
    "suction": ["suction", "--liquid", "ISO VG 46", "--require", "3deg"],
    "motion": ["motion", "--do", "brake 0.1g", "--excitation", "1.2Hz", "--require", "3deg"],
    "budget": ["budget", "--liquid", "ISO VG 46"],
    "sheet": ["sheet", "--require", "3deg"],
    "replay": ["replay", "--require", "3deg"],
    "inspect": ["inspect"],
}
# what has a unit is typed in that of the tank
IN_UNITS = {
    "place": {
        "metric": ["--opening", "bore=20mm,facing=down"],
        "us": ["--opening", "bore=0.8in,facing=down"],
    },
    "place at": {
        "metric": ["--opening", "bore=20mm,facing=down", "--at", "420,140mm"],
        "us": ["--opening", "bore=0.8in,facing=down", "--at", "17,6in"],
    },
    "suction": {
        "metric": ["--flow", "60L/min", "--line", "38mm,1.5m,2 elbow", "--pump", "400,150,-300mm"],
        "us": ["--flow", "16gpm", "--line", "1.5in,5ft,2 elbow", "--pump", "18,6,-12in"],
    },
    "motion": {
        "metric": ["--baffle", "450mm", "--flow", "60L/min", "--line", "38mm,1.5m"],
        "us": ["--baffle", "18in", "--flow", "16gpm", "--line", "1.5in,5ft"],
    },
    "budget": {
        "metric": ["--cold-fill", "40L", "--ram", "80,40,300mm", "--flow", "60L/min"],
        "us": ["--cold-fill", "10gal", "--ram", "3,1.5,12in", "--flow", "16gpm"],
    },
    "replay": {"metric": ["--flow", "60L/min"], "us": ["--flow", "16gpm"]},
    "compare": {"metric": ["--also-fill", "30L"], "us": ["--also-fill", "9gal"]},
}
DAY = "time s,pitch deg,roll deg\n0,0,0\n1,-12,0\n2,-40,0\n3,-41,2\n4,0,0\n5,0,0\n"
NO_FILL = {"budget"}  # works it out
DRAWN_WHOLE = {"level", "replay"}  # quick, and pictures of all pools
ROUNDED = {"sheet"}  # what to pour is round in the units of the user
VIEWS = {
    "size": ["sizes"],
    "tolerance": ["limits"],
    "compare": ["plan"],
    "marks": ["marks"],
    "envelope": ["plan", "map"],
    "level": ["side", "front", "solid", "tree"],
    "place": ["zone"],
    "suction": ["inlet"],
    "motion": ["map", "map-in-g"],
    "replay": ["margins", "worst"],
}
TABLES = {
    *("dip", "envelope", "marks", "compare", "size", "tolerance"),
    *("place", "suction", "motion", "budget", "sheet", "replay"),
}
LINES = 25  # of the answer of a plain tank, by default


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    file = tmp_path_factory.mktemp("log") / "day.csv"
    file.write_text(DAY)
    return file


@pytest.fixture(scope="module")
def sprayer(tmp_path_factory):
    text = (MESHES / "hillside_sprayer.toml").read_text()
    text, plates = re.subn(r"^hole = \[.*?^\]\n", "", text, flags=re.DOTALL | re.MULTILINE)
    text, pipes = re.subn(r"^\[\[internal\]\]\n(?:.+\n)+", "", text, flags=re.MULTILINE)
    assert (plates, pipes) == (2, 2)
    file = tmp_path_factory.mktemp("tank") / "sprayer.toml"
    file.write_text(text)
    return file


@pytest.fixture(scope="module")
def case(log, sprayer):
    """The words of a command on a tank."""

    def of(command, tank):
        demo = MESHES / "hillside_sprayer.toml" if command in DRAWN_WHOLE else sprayer
        words = [str(demo if word == SPRAYER else word) for word in TANKS[tank]]
        if command in NO_FILL and "--fill" in words:
            at = words.index("--fill")
            words = words[:at] + words[at + 2 :]
        own = IN_UNITS.get(command, {}).get(system_of(tank), [])
        read = ["--log", log] if command == "replay" else []
        asked = COMMANDS[command]
        return [*asked, *words, *own, *read]

    return of


class Shown(NamedTuple):
    """One run with everything: what was printed, the table, and the words of each picture."""

    code: int
    text: str
    messages: str
    table: str
    pictures: dict[str, str]
    short: str
    data: dict[str, Any]


def views_of(command, tank):
    plain = tank in ("metric", "us")  # of one basin: no tree
    return [view for view in VIEWS.get(command, ()) if not (plain and view == "tree")]


@pytest.fixture(scope="module")
def shown(case, tmp_path_factory):
    """Each answer in full, with its table and its pictures, once."""
    found = {}

    def of(command, tank):
        if (command, tank) in found:
            return found[command, tank]
        folder = tmp_path_factory.mktemp("shown")
        files = {view: folder / f"{view}.svg" for view in views_of(command, tank)}
        words = ["--csv", folder / "table.csv"] if command in TABLES else []
        for view, file in files.items():
            words += ["--picture", file]
            words += ["--view", view] if len(VIEWS[command]) > 1 else []
        told, whole = [], as_text.as_text

        def spy(document, full):
            told.append((whole(document, False), json.loads(json_text(document))))
            return whole(document, full)

        with mock.patch.object(as_text, "as_text", spy):
            done = run(*case(command, tank), "--full", *words)
        assert done.returncode in (0, 3, 4), done.stderr
        file = folder / "table.csv"
        table = file.read_text() if file.exists() else ""
        pictures = {
            view: "\n".join(re.findall(r"<!-- (.*?) -->", file.read_text(), flags=re.DOTALL))
            for view, file in files.items()
        }
        printed = (done.returncode, done.stdout, done.stderr)
        ((short, data),) = told
        found[command, tank] = Shown(*printed, table, pictures, short, data)
        return found[command, tank]

    return of


@pytest.fixture(scope="module")
def plain(shown, case):
    """The data of each answer as ``--json`` gives it, its words metric; asked for only where it may differ."""
    found = {}

    def of(command, tank):
        if tank.startswith("metric "):
            return shown(command, tank).data  # of the same document
        if " " in tank and command not in {*IN_UNITS, *ROUNDED}:
            return of(command, tank.replace("us", "metric"))  # of the same file
        if (command, tank) not in found:
            code = shown(command, tank).code
            found[command, tank] = answer(*case(command, tank), code=code)
        return found[command, tank]

    return of


@pytest.mark.parametrize("command", COMMANDS)
def test_data_asked_for_are_those_of_the_screen(shown, plain, command):
    there, here = shown(command, "metric").data, plain(command, "metric")
    assert set(there) == set(here)
    assert list(numbers(there["answer"])) == list(numbers(here["answer"]))


@pytest.mark.parametrize("tank", TANKS)
@pytest.mark.parametrize("command", COMMANDS)
def test_every_face_keeps_to_one_system(shown, command, tank):
    done = shown(command, tank)
    system = system_of(tank)
    assert foreign(done.text + done.messages.replace("_", " "), system) == []
    assert done.table or command not in TABLES or "has no table" in done.messages
    if done.table:
        assert foreign(done.table.splitlines()[0].replace("US_gal", "gal"), system) == []
    for words in done.pictures.values():
        assert words
        assert foreign(words, system) == []


@pytest.mark.parametrize("tank", TANKS)
@pytest.mark.parametrize("command", COMMANDS)
def test_every_number_of_text_and_pictures_is_in_the_json(shown, plain, command, tank):
    done = shown(command, tank)
    known = set(numbers(plain(command, tank)))
    system = US if system_of(tank) == "us" else METRIC
    faces = {"text": told(done.text), **{v: " ".join(w.split()) for v, w in done.pictures.items()}}
    odd = set().union(*(odd_numbers(face, words, known, system) for face, words in faces.items()))
    assert odd == set()


@pytest.mark.parametrize("tank", ["metric", "us"])
@pytest.mark.parametrize("command", COMMANDS)
def test_the_verdict_comes_first_and_the_rest_fits_a_screen(shown, plain, command, tank):
    lines = shown(command, tank).short.splitlines()
    assert len(lines) <= LINES
    verdict = plain(command, tank)["answer"]["verdict"]
    first = {"yes": "Yes: ", "no": "No: ", "not known": "Not known: "}.get(verdict, "")
    assert lines[0].startswith(first)
    assert re.search(r"\d", " ".join(lines[:2]))


MISTAKES = {
    "over-full": ["level", "--fill", "5000L", "--fill", "1000{gal}"],
    "port outside": ["level", "--pickup", "far=5000,150,40{mm}"],
    "depth": ["level", "--fill", "50{ft}"],
    "step": ["dip", "--step", "0{mm}"],
    "many steps": ["dip", "--step", "0.0001{mm}"],
    "box of no height": ["level", "--box", "900x300x0{mm}"],
    "plates as thick as the tank": ["level", "--outside", "--wall", "160{mm}"],
    "bore": ["level", "--pickup", "suction=9,6,1{mm},bore=0{mm}"],
    "cover": ["level", "--pickup", "suction=9,6,1{mm},cover=-1{mm}"],
    "stick outside": ["marks", "--require", "3deg", "--dipstick", "5000,150,5{mm}"],
    "reading error": ["marks", "--require", "3deg", "--reading-error", "-2{mm}"],
    "spot outside": ["place", "--require", "3deg", "--kind", "pickup", "--at", "5000,150{mm}"],
    "box outside": [
        *("place", "--require", "3deg", "--kind", "pickup"),
        *("--within", "5000..5100,0..300,0..100{mm}"),
    ],
    "usable": ["size", "--require", "3deg", "--usable", "0{gal}"],
    "sump": ["size", "--require", "3deg", "--sump", "1,1{mm},diameter=5000{mm},depth=60{mm}"],
    "walls off": ["tolerance", "--wall-error", "900{mm}"],
    "pour": ["sheet", "--pour", "0{gal}"],
    "pours": ["sheet", "--pour", "0.00001{gal}"],
    "graduations": ["strip", "--dipstick", "9,6,1{mm}", "--step", "0.00001{gal}"],
    "plate too large": [
        *("plate", "--machine-limit", "15deg, p. 12", "--allowance", "1deg"),
        *("--size", "9000x9000{mm}"),
    ],
    "hose": ["motion", "--do", "brake 0.1g", "--flow", "1{gpm}", "--line", "0{mm},1{ft}"],
    "strainer": [
        *("suction", "--liquid", "water", "--flow", "60{gpm}", "--line", "38{mm},1{ft}"),
        *("--level", "1{ft}", "--strainer", "3{psi}"),
    ],
    "rod": ["budget", "--liquid", "water", "--cold-fill", "1{gal}", "--ram", "8,40,300{mm}"],
    "strainer area": ["check", "--strainer-area", "-1{mm}2"],
}


@pytest.mark.parametrize("tank", ["metric", "us"])
@pytest.mark.parametrize("name", MISTAKES)
def test_messages_keep_to_one_system(name, tank):
    command, *words = MISTAKES[name]
    metric = {"{gal}": "L", "{mm}": "mm", "{ft}": "m", "{gpm}": "L/min", "{psi}": "kPa"}
    us = {"{gal}": "gal", "{mm}": "in", "{ft}": "ft", "{gpm}": "gpm", "{psi}": "psi"}
    for sign, unit in (us if tank == "us" else metric).items():
        words = [word.replace(sign, unit) for word in words]
    shown = [w for w in TANKS[tank] if command != "budget" or w not in ("--fill", "42L", "11gal")]
    done = run(command, *shown, *words)
    assert done.returncode == 2, done.stdout
    message = re.split("next:|allowed: (?:as in|a number|a fill)", done.stderr)[0]
    assert foreign(message, tank) == [], done.stderr


README = (MESHES.parent / "README.md").read_text()
TASKS = re.findall(r"^# ([^\n]+\?)\n(tanksolve [^\n]+)$", README, flags=re.MULTILINE)


@pytest.mark.parametrize(("task", "line"), TASKS, ids=[task for task, _ in TASKS])
def test_a_question_people_ask_is_one_command_with_its_figure_in_the_first_lines(
    task, line, tmp_path
):
    done = run(*shlex.split(line)[1:], cwd=tmp_path)
    assert done.returncode in (0, 3), done.stderr
    assert re.search(r"\d", " ".join(done.stdout.splitlines()[:2])) or "sheet" in line


def test_there_are_eleven_of_them():
    assert len(TASKS) == 11
