"""What the screen says, as a user runs it. ``tanksolve size`` and ``tanksolve tolerance`` as a user runs th."""

import math
import re
from pathlib import Path

import pytest
from program import answer, run

DOCUMENTED = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()


BOX = ["--box", "900x300x300mm", "--pickup", "p=300,150,50mm"]


CAP = ["--breather", "cap=450,150,300mm"]


def test_size_keys_and_figures(tmp_path):
    picture = tmp_path / "size.svg"
    found = answer(
        "size", *BOX, *CAP, "--require", "0deg", "--usable", "20L", "--vary", "height",
        "--sump", "300,150mm,diameter=150mm,depth=80mm", "--picture", picture,
    )  # fmt: skip
    (height,) = found["sizes"]
    assert height["smallest_m"] == pytest.approx(0.05 + 0.02 / 0.27)
    assert found["sump"]["gain_m3"] > 0.012
    assert height["ends_on"] == "rule"
    for key in [*found, *height, *found["sump"]]:
        assert f"`{key}`" in DOCUMENTED, key
    assert "side elevation" in picture.read_text()


def test_size_says_that_it_ends_on_a_jump():
    shown = run("size", *BOX, "--fill", "42L", "--require", "15deg", "--vary", "length")
    assert shown.returncode == 0
    assert (
        "length ends on a jump, not on a rule: 466.7 mm is the smallest that holds the fill at all; "
        "every rule is kept there with "
    ) in " ".join(shown.stdout.split())
    shown = run("size", *BOX, "--fill", "20L", "--require", "0deg", "--vary", "length")
    told = " ".join(shown.stdout.split())
    assert "300.0 mm is the smallest with every port in the liquid space" in told
    assert "every rule is kept there with 15.50 L to spare" in told


def test_size_table_and_no():
    words = ("--usable", "20L", "--vary", "scale", "--full")
    shown = run("size", *BOX, *CAP, "--require", "8deg", *words)
    assert shown.returncode == 0
    told = " ".join(shown.stdout.split())
    assert told.startswith("With 20.00 L between the marks, at least one of: scale ")
    assert "jump" not in told
    assert "scale set by p at 8.0° (14.0 % grade), nose" in told
    assert "a smaller one further off is not ruled out" in told
    assert "not met" not in told
    low = ["--breather", "cap=450,150,51mm"]
    shown = run("size", *BOX, *low, "--require", "0deg", "--usable", "20L", "--vary", "height")
    assert shown.returncode == 3
    assert "not met up to 50 times it" in shown.stdout
    told = " ".join(shown.stdout.split())
    assert "a smaller size, or one between two steps, is not ruled out" in told
    assert "further off" not in shown.stdout


def test_tolerance_keys_and_figures(tmp_path):
    picture = tmp_path / "off.svg"
    found = answer(
        "tolerance", *BOX, "--fill", "42L", "--fill-error", "2L", "--gauge-error", "1deg",
        "--picture", picture,
    )  # fmt: skip
    assert "adverse limit" in picture.read_text()
    row = next(limit for limit in found["limits"] if limit["side"] == "nose down")
    exact = math.degrees(math.atan((0.040 / 0.27 - 0.05) / 0.15)) - 1.0
    assert row["adverse_deg"] <= exact + 1e-9
    for key in [*found, *row, "fill", "position", "walls", "gauge"]:
        assert f"`{key}`" in DOCUMENTED, key
    shown = run("tolerance", *BOX, "--fill", "42L", "--position-error", "2in", "--full")
    assert "position" in shown.stdout
    assert "off by  each opening 50.8 mm, either way" in shown.stdout
    assert "is jumped to" not in shown.stdout
    assert run("tolerance", *BOX, "--fill", "42L", "--position-error", "5in").returncode == 3


def test_tolerance_without_any_is_a_mistake():
    for nought in ([], ["--fill-error", "0L"]):
        shown = run("tolerance", *BOX, "--fill", "42L", *nought)
        assert shown.returncode == 2
        assert "no tolerance is given" in shown.stderr
        assert "--gauge-error 0.5deg" in shown.stderr
    assert run("tolerance", *BOX, "--fill", "42L", "--wall-error", "").returncode == 2


def test_tolerance_tells_shares_with_grade_and_why_there_is_none():
    """Nose up a pickup near the rear wall has no limit, until it is 150 mm out of place."""
    near = ["--box", "900x300x300mm", "--pickup", "p=20,150,50mm", "--fill", "42L"]
    shown = run("tolerance", *near, "--wall-error", "2mm", "--gauge-error", "5%", "--full")
    assert "inclinometer 2.8° (5.0 % grade)" in shown.stdout
    assert "walls" in shown.stdout
    nose_up = next(line for line in shown.stdout.splitlines() if line.startswith("nose up"))
    assert nose_up.split()[-4:] == ["-"] * 4
    assert "so there is no limit to take from side" in shown.told
    (*_, nose_down) = (line for line in shown.stdout.splitlines() if line.startswith("nose down"))
    slope = math.atan((0.042 / 0.27 - 0.05) / 0.43)
    gauge = math.atan(0.05)
    grade = 100 * gauge / math.cos(slope) ** 2
    degrees, percent = re.search(r"([\d.]+)° +([\d.]+) %$", nose_down).groups()
    assert float(degrees) == pytest.approx(math.degrees(gauge), abs=0.0051)
    assert float(percent) == pytest.approx(grade, abs=0.051)
    shown = run("tolerance", *near, "--position-error", "150mm", "--wall-error", "2mm")
    assert shown.returncode == 3
    assert "is jumped to, no derivative tells of it" in shown.told
