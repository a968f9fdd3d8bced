"""Pictures from the command line: written where told, refused before the work, never in part."""

from unittest import mock

import pytest
from program import answer, run

CASE = ["--box", "900x300x300mm", "--fill", "42L", "--pickup", "rear=20,150,100mm"]
SECOND = ["--pickup", "middle=450,150,40mm"]


@pytest.mark.parametrize("place", ["nowhere/limits.png", "limits.bmp"])
def test_a_place_that_cannot_be_written_to_is_refused_before_the_work(tmp_path, place):
    done = run("envelope", *CASE, "--picture", str(tmp_path / place))
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert place.split("/")[0] in done.stderr
    assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_each_view_lands_in_the_picture_beside_it(tmp_path):
    views = ["side", "front", "solid"]
    wanted = [tmp_path / f"{view}.svg" for view in views]
    pairs = [
        part for v, f in zip(views, wanted, strict=True) for part in ("--view", v, "--picture", f)
    ]
    assert "cautions" in answer("level", *CASE, "--attitude", "-14deg", *pairs)
    assert sorted(tmp_path.iterdir()) == sorted(wanted)
    assert all(path.read_text().rstrip().endswith("</svg>") for path in wanted)
    alone = run("level", *CASE, "--picture", tmp_path / "tree.png", "--view", "tree")
    assert alone.returncode == 2
    assert "one basin" in alone.stderr
    assert not (tmp_path / "tree.png").exists()
    again = run("level", *CASE, "--picture", wanted[0])
    assert again.returncode == 2
    assert "is there already" in again.stderr
    odd = run("level", *CASE, "--picture", tmp_path / "x.png", "--view", "plan")
    assert "allowed: side, front, solid, tree" in odd.stderr


WRITING = {
    "envelope": ["--picture", "--csv"],
    "compare": ["--picture", "--csv"],
    "level": ["--picture"],
    "marks": ["--picture"],
    "place": ["--picture", "--zone"],
    "size": ["--picture"],
    "tolerance": ["--picture"],
    "motion": ["--picture", "--csv"],
    "suction": ["--picture", "--csv"],
    "budget": ["--csv"],
    "sheet": ["--write", "--csv"],
    "dip": ["--csv"],
    "replay": ["--picture", "--csv"],
}


@pytest.mark.parametrize(
    ("command", "option"), [(c, option) for c, options in WRITING.items() for option in options]
)
@pytest.mark.parametrize("place", ["no/such/out", "out.gif"])
def test_every_command_that_writes_looks_at_the_path_before_the_tank(
    tmp_path, command, option, place
):
    ending = {"--csv": ".csv", "--write": ".txt", "--zone": ".stl"}.get(option, ".png")
    path = tmp_path / (place if place.endswith(".gif") else f"{place}{ending}")
    need = ["--require", "5deg"] if command in ("marks", "place", "size") else []
    need += ["--log", "made_up.csv"] if command == "replay" else []
    need += ["--do", "brake 0.2g"] if command == "motion" else []
    with mock.patch("tanksolve_cli.case.read_case", side_effect=AssertionError("tank was read")):
        done = run(command, *CASE, *need, option, path)
    assert done.returncode == 2, done.stderr
    assert ("folder" in done.stderr) if "such" in place else ("gif" in done.stderr)


def test_a_repair_looks_at_its_output_before_the_mesh(tmp_path):
    done = run("repair", tmp_path / "not_there.stl", tmp_path / "no" / "mended.stl")
    assert done.returncode == 2
    assert "there is no folder" in done.stderr
