"""``tanksolve compare`` over tanks, pickups and fills."""

import json
from pathlib import Path

import pytest
from program import answer, run

MESHES = Path(__file__).parents[2] / "meshes"


BASE = ["compare", "--box", "900x300x300mm", "--fill", "42L", "--pickup", "rear=100,150,50mm"]


def test_tanks_times_pickups_times_fills():
    found = answer(
        *BASE, "--pickup", "middle=400,150,50mm", "--also-box", "800x300x340mm",
        "--also-fill", "35L", "--rank-by", "unusable", "--require", "5deg",
    )  # fmt: skip
    names = [c["name"] for c in found["contenders"]]
    assert len(names) == len(set(names)) == 8
    assert found["ranked_by"] == "unusable"
    unusable = [c["unusable_m3"] for c in found["contenders"]]
    assert unusable == sorted(unusable)
    assert all(c["area_deg2"] > 0.0 for c in found["contenders"])
    assert any("35" in name and "800" in name and "rear" in name for name in names)


def test_mistakes():
    assert "nothing to compare" in run(*BASE).stderr
    wrong = run(*BASE, "--also-fill", "30L", "--rank-by", "beauty")
    assert wrong.returncode == 2
    assert "--rank-by" in wrong.stderr


CASES = {
    "box": ["--box", "900x300x300mm", "--pickup", "rear=100,150,50mm"],
    "bays": [str(MESHES / "two_bays.toml")],
}


@pytest.mark.parametrize("name", CASES)
def test_every_row_is_what_the_other_commands_say_of_that_case(name):
    words, need = CASES[name], ("--require", "5deg")
    upto = ("--search-to", "20deg")
    fills = ("40L", "30L") if name == "box" else ("80L", "70L")  # the rear bay can keep 40 L
    rows = answer("compare", *words, "--fill", fills[0], "--also-fill", fills[1], *need, *upto)[
        "contenders"
    ]
    for row in rows:
        fill = next(text for text in fills if text[:2] in row["name"].split("fill")[1])
        alone = answer("envelope", *words, "--fill", fill, *upto)
        assert row["envelope"] == {key: alone[key] for key in row["envelope"]}
        assert row["worst_held_to_deg"] == alone["worst"]["held_to_deg"]
        held = [limit["held_to_deg"] for limit in alone["limits"]]
        assert row["mean_deg"] == pytest.approx(sum(held) / len(held))
    marked = run("marks", *words, "--fill", fills[0], *need, "--json")
    least = json.loads(marked.stdout)["least_m3"]
    assert [row["unusable_m3"] for row in rows] == pytest.approx([least] * 2, rel=1e-9)


def test_every_bare_pickup_of_every_tank_is_told_in_the_cautions():
    found = answer(*BASE, "--also-fill", "30L")
    assert any("edge of drawing air" in line for line in found["cautions"])
    assert found["inputs"]["also_fill"] == ["30L"]
