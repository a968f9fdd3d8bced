"""``tanksolve size`` and ``tanksolve tolerance`` as a user runs them."""

import math
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
    for key in [*found, *height, *found["sump"]]:
        assert f"`{key}`" in DOCUMENTED, key
    assert "side elevation" in picture.read_text()


def test_size_table_and_no():
    shown = run("size", *BOX, *CAP, "--require", "8deg", "--usable", "20L", "--vary", "scale")
    assert shown.returncode == 0
    assert "m³" in shown.stdout
    assert "a smaller one further off is not ruled out" in shown.stdout
    assert "not met" not in shown.stdout
    low = ["--breather", "cap=450,150,51mm"]
    shown = run("size", *BOX, *low, "--require", "0deg", "--usable", "20L", "--vary", "height")
    assert shown.returncode == 3
    assert "not met up to 50 times it" in shown.stdout
    assert "a smaller size, or one between two steps, is not ruled out" in shown.stdout
    assert "further off" not in shown.stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--vary", "girth"], "--vary"),
        (["--sump", "1,2,3mm"], "--sump"),
        ([], "no fill is given"),
    ],
)
def test_size_mistakes(words, says):
    shown = run(
        "size", *BOX, *CAP, "--require", "8deg", *words, *(["--usable", "9L"] if words else [])
    )
    assert shown.returncode == 2
    assert says in shown.stderr


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
    shown = run("tolerance", *BOX, "--fill", "42L", "--position-error", "2in")
    assert "position takes" in shown.stdout
    assert run("tolerance", *BOX, "--fill", "42L", "--position-error", "5in").returncode == 3
