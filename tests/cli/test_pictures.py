"""Pictures from the command line: written where told, refused before the work, never in part."""

import pytest
from program import answer, run

CASE = ["--box", "900x300x300mm", "--fill", "42L", "--pickup", "rear=20,150,100mm"]
SECOND = ["--pickup", "middle=450,150,40mm"]


@pytest.mark.parametrize(
    ("command", "options"),
    [
        (["envelope", *CASE, "--every", "30deg"], ["--plan", "--map"]),
        (["compare", *CASE, *SECOND, "--search-to", "20deg"], ["--overlay"]),
        (["level", *CASE, "--pitch", "-14deg"], ["--side", "--front", "--solid", "--tree"]),
    ],
    ids=["envelope", "compare", "level"],
)
def test_pictures_land_where_told_and_json_stays_clean(tmp_path, command, options):
    wanted = [tmp_path / f"{option.lstrip('-')}.svg" for option in options]
    pairs = [part for pair in zip(options, map(str, wanted), strict=True) for part in pair]
    assert "cautions" in answer(*command, *pairs)
    assert sorted(tmp_path.iterdir()) == sorted(wanted)
    assert all(path.read_text().rstrip().endswith("</svg>") for path in wanted)


@pytest.mark.parametrize("place", ["nowhere/limits.png", "limits.bmp"])
def test_a_place_that_cannot_be_written_to_is_refused_before_the_work(tmp_path, place):
    done = run("envelope", *CASE, "--plan", str(tmp_path / place))
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert place.split("/")[0] in done.stderr
    assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_pictures_of_pools_are_refused_where_one_level_is_asked_for(tmp_path):
    done = run("level", *CASE, "--one-level", "--tree", str(tmp_path / "tree.png"))
    assert done.returncode == 2
    assert "--one-level" in done.stderr
    assert list(tmp_path.iterdir()) == []
