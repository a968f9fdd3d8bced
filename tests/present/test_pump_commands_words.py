"""What the screen says, as a user runs it. The pump side's commands as a user runs them: figures, JSON keys."""

import math
from pathlib import Path

import pytest
from program import answer, run

BOX = ["--box", "900x300x300mm"]


FILL = ["--fill", "42L"]


SUCTION = ["--pickup", "suction=150,150,40mm,bore=25mm,facing=down"]


LINE = ["--flow", "60L/min", "--line", "38.1mm,1.5m,drop tube,2 elbow"]


JSON = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()


def documented(command: str, found: dict[str, object]) -> None:
    section = JSON.split(f"## `{command}`")[1].split("\n## ")[0]
    common = {"format", "version", "inputs", "cautions", "answer"}
    missing = [name for name in found if name not in common and f"`{name}`" not in section]
    assert missing == []
    assert found["format"] == f"tanksolve-{command}"
    assert found["cautions"]


def test_suction_says_yes_or_no() -> None:
    words = ["suction", "--liquid", "ISO VG 46", *LINE, "--level", "300mm", "--from", "5C"]
    found = answer(*words)
    documented("suction", found)
    assert found["passes"] is True
    assert found["coldest_k"] == pytest.approx(276.8, abs=0.1)
    assert found["inputs"]["liquid"] == "ISO VG 46"
    assert found["cover"]["rule_of_thumb_m"] == pytest.approx(0.0762)
    shown = run(*words)
    assert shown.returncode == 0
    assert "typical, check the data sheet" in run(*words, "--full").stdout
    assert "coldest start that passes   3.7 °C" in shown.stdout
    assert "burns skin" in shown.stdout
    assert answer(*words[:-1], "-10C", code=3)["passes"] is False


REGION = ["suction", *BOX, "--fill", "42L..60L", "--liquid", "ISO VG 46", *LINE, "--from", "5C"]


def test_suction_judges_the_whole_region_and_its_own_pickup() -> None:
    pump = ["--pump", "900,150,-300mm", "--require", "5deg"]
    kept = ["--pickup", "s=450,150,30mm,bore=38mm,facing=down"]
    found = answer(*REGION, *kept, *pump)
    documented("suction", found)
    assert (found["verdict"], found["passes"]) == ("yes", True)
    assert found["required"] == ["level ground", "every heading up to 5.0° (8.7 % grade)"]
    assert found["pickup"]["verdict"] == "yes"
    depth, lever = 0.042 / 0.27, math.hypot(0.45, 0.0)
    slope = math.radians(5.0)
    assert found["head"]["level_over_pump_m"] == pytest.approx(
        (depth + 0.3) * math.cos(slope) - lever * math.sin(slope), abs=1e-5
    )
    assert sum(found["losses_pa"].values()) == pytest.approx(found["worst"]["needed_pa"])
    shown = run(*REGION, *kept, *pump).stdout
    full = " ".join(run(*REGION, *kept, *pump, "--full").stdout.split())
    assert "s keeps its rule, by " in full
    assert "friction 9.72 kPa (55.4 %)" in full
    assert shown.startswith("Yes: the pump gets its liquid from 5.0 °C to 80.0 °C")


def test_suction_says_no_where_its_own_pickup_is_out_of_the_liquid() -> None:
    words = [*REGION, "--pickup", "s=30,150,200mm,bore=38mm", "--level", "300mm"]
    found = answer(*words, code=3)
    assert found["worst"]["pressure_margin_pa"] > 0.0
    assert found["pickup"]["verdict"] == found["verdict"] == "no"
    shown = run(*words)
    assert shown.returncode == 3
    assert "s is out of the liquid" in shown.stdout
    assert "pickup s breaks its rule" in shown.stdout


def test_suction_does_not_know_a_cold_start_without_a_pour_point() -> None:
    own = ["--viscosity", "46cSt@40C,6.8cSt@100C", "--liquid-density", "870kg/m3"]
    words = ["suction", *own, *LINE, "--level", "300mm", "--from", "5C"]
    assert answer(*words, code=4)["verdict"] == "not known"
    assert run(*words).stdout.startswith("Not known: ")
    assert answer(*words, "--pour-point", "-20C")["verdict"] == "yes"
    assert answer(*words, "--pour-point", "6C", code=3)["verdict"] == "no"


def test_suction_shows_no_pressure_that_cannot_be() -> None:
    """1474 cSt through 2 m of 25 mm: friction alone is more than the atmosphere gives."""
    words = [
        *("suction", "--liquid", "ISO VG 46", "--flow", "30L/min", "--level", "-100mm"),
        *("--line", "25mm,2m,drop tube,2 elbow", "--from", "-10C"),
    ]
    shown = " ".join(run(*words, "--full").stdout.replace("caution:", "").split())
    assert "-46." not in shown
    assert "147.6" not in shown
    assert "boils" not in shown.split("boiling at")[1]
    assert "The line cannot carry this flow at -10.0 °C: it needs 185." in shown
    assert "the atmosphere gives 101.33 kPa" in shown
    assert "is friction in hose, fittings and strainer, the liquid being 1474 cSt thick" in shown
    cold = answer(*words, code=3)["cold"]
    assert cold["carries_flow"] is False
    assert [cold[k] for k in ("inlet_pressure_pa", "vacuum_pa", "npsh_available_m")] == [None] * 3
    assert cold["needed_pa"] > cold["available_pa"] > 101_000
    assert answer(*words, code=3)["hot"]["carries_flow"] is True


def test_suction_says_signs_in_words_and_which_fill_was_used() -> None:
    shown = run(
        *("suction", *BOX, "--fill", "30L..42L", "--liquid", "water", *LINE, "--from", "5C"),
        *("--to", "60C", "--pump", "450,150,0mm", "--require", "slope=10deg,heading=330deg"),
    ).stdout
    shown = " ".join(shown.split())
    assert "8.6° (15.2 % grade) nose up, 4.9° (8.7 % grade) left side down" in shown
    assert "at 30.00 L" in shown
    level = run("suction", "--liquid", "water", *LINE, "--level", "300mm", "--from", "5C").stdout
    assert "300.0 mm over the pump's inlet, as given" in level
    assert "+0.0°" not in level


def test_budget_gives_a_fill_that_envelope_takes() -> None:
    words = [
        *("budget", "--capacity", "72L", "--cold-fill", "50L", "--liquid", "vg46"),
        *("--ram", "80,40,500mm,x2", "--hose", "25mm,2m", "--leakage", "1L", "--flow", "60L/min"),
    ]
    found = answer(*words)
    documented("budget", found)
    assert found["most_m3"] == pytest.approx(0.05 * (1 + 0.0007 * 65))
    assert found["passes"] is True
    shown = run(*words).stdout
    option = shown.split("for other commands  --fill ")[1].split()[0]
    assert answer("envelope", *BOX, "--fill", option, *SUCTION)["fill"]["most"] == (
        pytest.approx(found["most_m3"], abs=1e-5)
    )
    over = run("budget", "--capacity", "51L", "--cold-fill", "50L", "--liquid", "vg46")
    assert over.returncode == 3
    assert "runs over" in over.stdout


def test_motion_names_what_breaks() -> None:
    words = ["motion", *BOX, *FILL, *SUCTION, "--do", "brake 0.4g", "--do", "accelerate 0.1g"]
    found = answer(*words, "--excitation", "0.7Hz", "--baffle", "450mm", *LINE, code=3)
    documented("motion", found)
    assert [m["holds"] for m in found["manoeuvres"]] == [False, True]
    (first, *_) = found["slosh"]["bands"]
    assert [one["excitation_hz"] for one in first["near"]] == [0.7]
    assert found["running_left"]["seconds"] == pytest.approx(0.855, abs=1e-3)
    assert found["running_left"]["seconds_plug"] == pytest.approx(1.710, abs=1e-3)
    shown = run(*words).stdout
    assert "21.8° (40.0 %)  nose down" in shown
    assert "broken" in shown


def test_replay_tells_excursions_and_writes_them(tmp_path: Path) -> None:
    (tmp_path / "day.csv").write_text(
        "t [s],pitch [deg],roll [deg]\n0,0,0\n1,-25,0\n2,-26,0\n3,0,0\nx,0,0\n"
    )
    words = ["replay", *BOX, *FILL, *SUCTION, "--log", "day.csv", *LINE, "--csv", "out.csv"]
    found = answer(
        *words,
        "--picture",
        "day.png",
        "--view",
        "margins",
        "--picture",
        "worst.svg",
        "--view",
        "worst",
        code=3,
        cwd=tmp_path,
    )
    documented("replay", found)
    (port,) = found["ports"]
    (excursion,) = port["excursions"]
    assert (excursion["start_s"], excursion["length_s"]) == (1.0, 2.0)
    assert excursion["running_left_s"] == pytest.approx(0.855 - 2.0, abs=1e-3)
    assert found["problems"] == [{"line": 6, "words": "no number in column 't [s]'"}]
    assert found["verdict"] == found["outcome"]["verdict"] == "broken"
    assert found["columns"][1]["sign"] == "nose up is positive"
    assert found["first_rows"][1] == [1.0, pytest.approx(math.radians(-25)), 0.0]
    assert (tmp_path / "out.csv").read_text().count("\n") == 2
    assert {p.name for p in tmp_path.iterdir()} == {"day.csv", "out.csv", "day.png", "worst.svg"}
    shown = run(*words[:-2], "--full", cwd=tmp_path)
    assert shown.returncode == 3
    assert "line 6: no number" in shown.stdout
    said = " ".join(shown.stdout.split())
    assert "first level, 25.00° (46.6 %) nose down, 26.00° (48.8 %) nose down" in said
    assert "usually 1 s from row to row" in said
    assert "count twice" in said


def test_replay_options(tmp_path: Path) -> None:
    (tmp_path / "day.csv").write_text("when,a,b\n0,25,0\n1000,25,0\n")
    words = [
        *("replay", *BOX, *FILL, *SUCTION, "--log", "day.csv", "--column", "time=when"),
        *("--column", "pitch=a", "--column", "roll=b", "--column-unit", "time=ms"),
        *("--column-unit", "pitch=deg", "--column-unit", "roll=deg"),
    ]
    assert answer(*words, cwd=tmp_path)["end_s"] == 1.0
    assert answer(*words, "--reverse", "pitch", code=3, cwd=tmp_path)["verdict"] == "broken"
    (tmp_path / "day.csv").write_text("when,a,b\n0,25,0\n1000,,0\n")
    assert answer(*words, code=4, cwd=tmp_path)["verdict"] == "not known"
    shown = run(*words, cwd=tmp_path).stdout
    assert shown.startswith("Not known: ")
    assert "1 rows tell no attitude" in shown


def test_check_counts_failures() -> None:
    words = ["check", *BOX, *FILL, *SUCTION, "--flow", "60L/min", "--suction-bore", "38mm"]
    found = answer(*words, "--case-drain", "the return filter", code=3)
    documented("check", found)
    verdicts = {f["rule"]: f["verdict"] for f in found["findings"]}
    assert verdicts["velocity in the suction line up to 1.20 m/s"] == "pass"
    assert verdicts["pump's case drain unpressurised, straight back to the tank"] == "fail"
    assert "not given" in verdicts.values()
    assert found["failed"] == sum(v == "fail" for v in verdicts.values())
    assert "0.88 m/s" in run(*words, "--full").stdout


def test_sheet_is_printed_and_written(tmp_path: Path) -> None:
    words = ["sheet", *BOX, *FILL, *SUCTION, "--pour", "10L"]
    found = answer(*words)
    documented("sheet", found)
    assert [row["poured_m3"] for row in found["pours"]] == pytest.approx(
        [0.01, 0.02, 0.03, 0.04, 0.042]
    )
    done = run(*words, "--write", "sheet.md", cwd=tmp_path)
    text = (tmp_path / "sheet.md").read_text()
    assert done.stdout.endswith("wrote sheet.md\n")
    assert "do not use these figures" in text
    assert run("sheet", *BOX, "--fill", "10L", *SUCTION).returncode == 3


@pytest.mark.parametrize("command", ["suction", "budget", "motion", "replay", "check", "sheet"])
def test_help_has_an_example(command: str) -> None:
    assert f"Example: tanksolve {command}" in " ".join(run(command, "--help").stdout.split())
