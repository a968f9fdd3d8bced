"""What the screen says, as a user runs it. Twin tanks and a collector bay as a user runs them: inspect, lev."""

from pathlib import Path

import pytest
from program import answer, run

JSON_PAGE = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("links")
    for name in ("collector", "twin"):
        made = run("new", f"{name}.toml", "--template", name, cwd=folder)
        assert made.returncode == 0, made.stderr
    return folder


def test_inspect_lists_flaps_and_pipes(files):
    shown = run("inspect", str(files / "collector.toml")).told
    assert shown.count("lets liquid through rearward only, from") == 2
    assert "sealed off" not in shown
    pipe = run("inspect", str(files / "twin.toml")).told
    assert "balance pipe: cross pipe: open both ways, from 15.0 mm above the floor" in pipe
    found = answer("inspect", str(files / "collector.toml"))
    assert [link["way"] for link in found["links"]] == ["rearward", "rearward"]
    assert sorted(way["flap"] for way in found["division"]["passages"]) == [
        "",
        "rearward",
        "rearward",
    ]
    for key in (*found["links"][0], "links", "flap"):
        assert f"`{key}`" in JSON_PAGE, key
