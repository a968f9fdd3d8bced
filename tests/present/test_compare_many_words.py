"""What the screen says, as a user runs it. ``tanksolve compare`` over tanks, pickups and fills."""

import re
from pathlib import Path

import pytest
from program import run

MESHES = Path(__file__).parents[2] / "meshes"


BASE = ["compare", "--box", "900x300x300mm", "--fill", "42L", "--pickup", "rear=100,150,50mm"]


def test_one_pickup_at_two_fills_is_enough_and_the_table_says_the_measure(tmp_path):
    plan = tmp_path / "plan.svg"
    shown = run(*BASE, "--also-fill", "30L", "--rank-by", "area", "--picture", plan)
    assert shown.returncode == 0, shown.stderr
    assert "the area of the envelope, greatest first" in shown.stdout
    assert re.search(r"\[square\s.*degrees\]", shown.stdout, re.DOTALL)
    assert " is best: kept in every heading up to " in shown.stdout.replace("\n", " ")
    assert plan.exists()


CASES = {
    "box": ["--box", "900x300x300mm", "--pickup", "rear=100,150,50mm"],
    "bays": [str(MESHES / "two_bays.toml")],
}


def test_a_port_that_fails_on_the_level_is_told_as_such(tmp_path):
    words = ("--also-fill", "2L", "--search-to", "20deg", "--csv", tmp_path / "rows.csv")
    shown = run("compare", *CASES["bays"], *words).stdout
    rows = [line for line in (tmp_path / "rows.csv").read_text().splitlines() if "2.00 L" in line]
    assert any("not kept on level ground" in row for row in rows)
    assert "caution: walls part the liquid" in shown


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--also", "not_there.toml"], "not_there.toml"),
        (["--also-fill", "30"], "30"),
        (["--also-box", "900x300mm"], "900x300mm"),
        (["--also-fill", "30L", "--require", "steep"], "steep"),
        (["--also-fill", "30L", "--search-to", "60"], "--search-to"),
        (["--also-fill", "30L", "--picture", "plan.gif"], ".gif"),
        (["--also-fill", "30L", "--picture", "no/such/plan.png"], "folder"),
        (["--also-fill", "3000L"], "3000"),
    ],
)
def test_bad_input_is_refused_in_words(words, told):
    refused = run(*BASE, *words)
    assert refused.returncode == 2
    assert told in refused.stderr
    assert "Traceback" not in refused.stderr
