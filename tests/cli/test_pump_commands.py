"""The pump side's commands as a user runs them: figures, JSON keys, exit codes, bad input."""

from pathlib import Path

import pytest
from program import answer, run

BOX = ["--box", "900x300x300mm"]


FILL = ["--fill", "42L"]


SUCTION = ["--pickup", "suction=150,150,40mm,bore=25mm,facing=down"]


LINE = ["--flow", "60L/min", "--line", "38.1mm,1.5m,drop tube,2 elbow"]


def test_suction_finds_the_level_over_the_pump_in_the_tank(tmp_path: Path) -> None:
    picture = tmp_path / "inlet.png"
    found = answer(
        *("suction", *BOX, *FILL, "--liquid", "water", *LINE, "--from", "5C", "--to", "60C"),
        *("--pump", "900,150,0mm", "--require", "slope=10deg,heading=0deg", "--picture", picture),
    )
    assert found["head"]["pitch_deg"] == pytest.approx(10.0)
    assert found["head"]["level_over_pump_m"] == pytest.approx(0.07506, abs=1e-5)
    assert picture.stat().st_size > 10_000


def test_suction_takes_the_highest_of_a_range_of_sites() -> None:
    words = ["suction", "--liquid", "water", *LINE, "--level", "300mm", "--from", "5C"]
    high = answer(*words, "--altitude", "0m..3000m", code=3)
    assert high["altitude_m"] == 3000.0
    assert high["worst"] == answer(*words, "--altitude", "3000m", code=3)["worst"]


@pytest.mark.parametrize(
    "words",
    [
        ("sheet", *BOX, *FILL, *SUCTION, "--write", "sheet.pdf"),
        ("dip", *BOX, "--csv", "table.pdf"),
        ("new", "tank.pdf"),
    ],
    ids=lambda words: words[0],
)
def test_text_is_not_written_under_the_ending_of_another_format(words, tmp_path: Path) -> None:
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert "allowed: ." in done.stderr
    assert not any(tmp_path.iterdir())


BAD = {
    "no line": (["suction", "--liquid", "water", "--level", "1m"], "no suction line"),
    "no level": (["suction", "--liquid", "water", *LINE], "level over the pump"),
    "no liquid": (["suction", *LINE, "--level", "1m"], "no liquid"),
    "unknown liquid": (["suction", *LINE, "--level", "1m", "--liquid", "mercury"], "not a liquid"),
    "inverted points": (
        [
            *("suction", *LINE, "--level", "1m", "--viscosity", "6cSt@40C,46cSt@100C"),
            *("--liquid-density", "870kg/m3"),
        ],
        "thicker when hotter",
    ),
    "absolute zero": (
        ["suction", *LINE, "--level", "1m", "--liquid", "water", "--from", "-300C"],
        "absolute zero",
    ),
    "bore larger than the tank": (
        [
            *("suction", *BOX, *FILL, "--liquid", "water", "--level", "1m", "--flow", "60L/min"),
            *("--line", "350mm,1m"),
        ],
        "larger than the tank",
    ),
    "region without a tank": (
        ["suction", *LINE, "--level", "1m", "--liquid", "vg46", "--require", "5deg"],
        "no tank is given",
    ),
    "plot nowhere": (
        ["suction", *LINE, "--level", "1m", "--liquid", "vg46", "--picture", "/nowhere/a.png"],
        "/nowhere",
    ),
    "no capacity": (["budget", "--cold-fill", "50L", "--liquid", "vg46"], "--capacity 72L"),
    "no cold fill": (["budget", "--capacity", "50L", "--liquid", "vg46"], "no cold fill"),
    "unknown rule": (
        [
            *("budget", "--capacity", "50L", "--cold-fill", "40L", "--liquid", "vg46"),
            *("--air-space", "plenty"),
        ],
        "no rule",
    ),
    "no manoeuvre": (["motion", *BOX, *FILL, *SUCTION], "nothing to do"),
    "no log": (["replay", *BOX, *FILL, *SUCTION], "no log"),
    "missing log": (["replay", *BOX, *FILL, *SUCTION, "--log", "no.csv"], "no.csv"),
    "no pair": (["replay", *BOX, *FILL, *SUCTION, "--log", "a", "--column", "x"], "no pair"),
    "no such reading": (
        ["replay", *BOX, *FILL, *SUCTION, "--log", "a", "--reading", "tea"],
        "no reading",
    ),
    "no step": (["sheet", *BOX, *FILL, *SUCTION, "--pour", "0L"], "no table"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_mistake_is_one_message_and_exit_code_2(name: str, tmp_path: Path) -> None:
    words, part = BAD[name]
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2, done.stdout + done.stderr
    assert part in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
