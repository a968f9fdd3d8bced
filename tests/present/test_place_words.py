"""What the screen says, as a user runs it. ``tanksolve place`` as a user runs it: keys that scripts rely on."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from program import answer, run
from tanks import ASKEW

from tanksolve.geometry.parts import box
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import pickup
from tanksolve.model.requirement import Requirement
from tanksolve.present.document import Verdict
from tanksolve.present.place_document import PlaceCase, place_document
from tanksolve.present.understood import Inputs
from tanksolve.present.wording import sentence
from tanksolve.questions.place.place import place

BOX = ["place", "--box", "900x300x300mm", "--fill", "42L"]


def test_at_a_spot_agrees_with_paper_and_says_so():
    found = answer(*BOX, "--require", "15deg", "--at", "20,150mm")
    paper = 0.042 / 0.27 - 0.43 * math.tan(math.radians(15))
    assert found["highest_m"] == pytest.approx(paper, abs=1e-9)
    assert found["paper"]["holds"] is True
    steep = run(*BOX, "--require", "30deg", "--at", "420,150mm")
    assert "it is not right here" in steep.told
    documented = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()
    for key in found:
        assert f"`{key}`" in documented, key


def test_3mf_and_pictures_are_written(tmp_path):
    picture, zone = tmp_path / "zone.svg", tmp_path / "zone.3mf"
    shown = run(*BOX, "--require", "15deg", "--picture", picture, "--zone", zone)
    assert shown.returncode == 0, shown.stderr
    assert zone.read_bytes()[:2] == b"PK"
    for words in ("floor plan", "side elevation", "right wall", "roof"):
        assert words in picture.read_text()


def test_a_breather_is_placed_high_and_no_is_said():
    found = answer(*BOX, "--require", "10deg", "--kind", "breather")
    assert found["best_point_m"][2] == pytest.approx(0.3)
    full = run(
        "place",
        "--box",
        "900x300x300mm",
        "--fill",
        "79L",
        "--require",
        "20deg",
        "--kind",
        "breather",
    )
    assert full.returncode == 3
    assert full.stdout.startswith("No: ")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--within", "1..2mm"], "--within"),
        (["--tube", "ceiling,height=1mm,run=2mm"], "no wall"),
        (["--tube", "rear,run=2mm"], "how high"),
        (["--zone", "zone.step"], "mesh format"),
        (["--port", "nobody"], "--port"),
        (["--kind", "funnel"], "--kind"),
        (["--within", "2000..2100,0..300,0..100mm"], "limits"),
        (["--tolerance", "20deg"], "tolerance"),
    ],
)
def test_mistakes_are_told(words, says):
    shown = run(*BOX, "--require", "15deg", *words)
    assert shown.returncode == 2
    assert says in shown.stderr
    assert "Traceback" not in shown.stderr


def test_a_tank_mounted_askew_is_told_in_its_own_axes(tmp_path):
    straight, turned = tmp_path / "straight.toml", tmp_path / "turned.toml"
    straight.write_text(ASKEW)
    turned.write_text(ASKEW + '[mounting]\nyaw = "90 deg"\n')
    words = ["--require", "10deg", "--tolerance", "1deg"]
    plain, other = (answer("place", path, *words) for path in (straight, turned))
    assert plain["tank_axes"] is None
    # every heading alike: the same place in the tank, whichever way the tank is turned
    own = other["tank_axes"]
    assert own["best_point_m"] == pytest.approx(plain["best_point_m"], abs=1e-3)
    assert own["recommended_point_m"] == pytest.approx(plain["recommended_point_m"], abs=1e-3)
    x, y, z = own["best_point_m"]
    assert other["best_point_m"] == pytest.approx([-y, x, z])
    assert any("mounted askew" in caution for caution in other["cautions"])
    shown = " ".join(run("place", turned, *words, "--full").stdout.split())
    assert "450.0 mm from the rear wall, 150.0 mm from the right wall, 40.0 mm below" in shown
    assert "from its rear end, 450.0 mm from its right end" in shown
    assert "mounted askew" in shown
    assert "mounted askew" not in run("place", straight, *words).stdout


TWO_BAYS = ["place", str(Path(__file__).resolve().parents[2] / "meshes" / "two_bays.toml")]


def test_walls_make_a_proved_zone_for_each_compartment():
    words = [
        *TWO_BAYS,
        "--fill",
        "70L",
        "--port",
        "pickup",
        "--require",
        "12deg",
        "--tolerance",
        "0.5deg",
    ]
    found = answer(*words)
    assert found["one_surface"] is False
    assert found["gap_m"] is None
    assert [zone["name"] for zone in found["zones"]] == ["zone 1", "zone 2"]
    told = " ".join(run(*words, "--full").stdout.split())
    assert "all of it proved, whatever the machine did before" in told
    assert "given no credit" in told
    for word in ("sampled", "pools", "no bound"):
        assert word not in told


def test_at_a_spot_the_worst_of_any_route_is_told():
    words = [*TWO_BAYS, "--port", "pickup", "--require", "20deg", "--at", "250,200mm"]
    found = answer(*words, code=3)  # the other bay can hold all 40 L
    assert found["one_surface"] is False
    assert found["held_m"] < 0.0
    done = run(*words, "--fill", "70L", "--require", "12deg")
    assert "walls part the liquid: told is the worst" in done.stdout


def test_no_place_is_told_with_the_least_bad_and_without_a_tube():
    done = run(*TWO_BAYS, "--port", "pickup", "--require", "40deg")
    assert done.returncode == 3
    assert "No: no place in the tank meets the requirement at this fill" in done.stdout
    assert "recommended" not in done.stdout
    assert "tube" not in done.stdout


def test_a_place_that_no_tube_reaches_is_no_yes():
    tank, port = box(0.9, 0.3, 0.3), pickup("suction", (0.45, 0.15, 0.05), bore=0.03, facing="down")
    asked = Requirement.every_heading(math.radians(5.0))
    found = place(tank, port, Fill.of(0.042), asked)
    case = PlaceCase(tank, port, asked, askew=False, in_tank_axes=lambda point: point)
    inputs = Inputs(tank, (port,))

    def told(result):
        document = place_document(inputs, result, case)
        return document.verdict, sentence(document.verdict, document.sentence)

    verdict, words = told(found)
    assert verdict is Verdict.YES
    assert words.startswith("Yes: suction may sit ")
    verdict, words = told(replace(found, tube=replace(found.tube, clear=False, near="a plate")))
    assert verdict.exit_code == 0
    assert words.startswith("Maybe: there is a zone of ")
    assert "no straight tube was found to its recommended place (it meets a plate)" in words
