"""Twin tanks and a collector bay as a user runs them: inspect, level, envelope, save."""

import json
from pathlib import Path

import pytest
from program import answer, run

from tanksolve.project.load import load
from tanksolve.project.save import save

JSON_PAGE = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("links")
    for name in ("collector", "twin"):
        made = run("new", f"{name}.toml", "--template", name, cwd=folder)
        assert made.returncode == 0, made.stderr
    return folder


def test_level_after_a_climb_tells_what_the_collector_kept(files):
    tank = str(files / "collector.toml")
    straight = answer("level", tank, "--attitude=-10deg")
    climbed = answer("level", tank, "--attitude=-10deg", "--through", "15deg,0deg")
    kept, more = (
        next(pool["volume_m3"] for pool in one["pools"] if "suction" in pool["ports"])
        for one in (straight, climbed)
    )
    assert kept == pytest.approx(0.03 * 250 / 897, rel=1e-9)
    assert more > kept + 0.003
    assert {link["state"] for link in climbed["links"]} == {"shut"}
    for key in climbed["links"][0]:
        assert f"`{key}`" in JSON_PAGE, key
    assert any(caution.startswith("flaps are taken as tight") for caution in climbed["cautions"])
    refused = run("level", tank, "--through", "15")
    assert refused.returncode == 2
    assert "--through" in refused.stderr


def test_twin_tanks_at_one_level_and_their_envelope(files):
    tank = str(files / "twin.toml")
    found = answer("level", tank, "--attitude", "0deg,10deg")
    heights = [pool["level_height_m"] for pool in found["pools"]]
    assert len(heights) == 2
    assert heights[0] == pytest.approx(heights[1], abs=1e-9)
    assert sum(pool["volume_m3"] for pool in found["pools"]) == pytest.approx(0.06, rel=1e-12)
    limits = answer("envelope", tank, "--every", "90deg", "--search-to", "30deg")
    assert [row["port"] for row in limits["limits"]][3] == "suction"
    assert limits["limits"][3]["bounded"]
    assert any("balance pipes" in caution for caution in limits["cautions"])


def test_a_tank_file_with_links_is_saved_and_read_again(files, tmp_path):
    for name in ("collector", "twin"):
        project = load(files / f"{name}.toml")
        again = load(save(project, tmp_path / f"{name}.toml", {("fill",): "31 L"}))
        assert again.fill.least == pytest.approx(0.031)
        assert [(link.name, link.way) for link in again.tank.links] == [
            (link.name, link.way) for link in project.tank.links
        ]
        assert again.tank.capacity == project.tank.capacity


def test_faults_name_line_and_key(files, tmp_path):
    text = (files / "twin.toml").read_text()
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace("450, 700, 40 mm", "450, 600, 40 mm"))
    refused = run("inspect", str(bad))
    assert refused.returncode == 2
    assert "balance_pipe.1" in refused.stderr
    assert "does not open into the tank" in refused.stderr
    bad.write_text(text.replace('"0, 700, 0 mm"', '"0, 200, 0 mm"'))
    assert "touches or overlaps" in run("inspect", str(bad)).stderr
    flap = (files / "collector.toml").read_text().replace("rearward", "left")
    bad.write_text(flap)
    assert "does not open left" in run("inspect", str(bad)).stderr
    assert json.loads(run("schema").stdout)["$defs"]["BalancePipeTable"]
