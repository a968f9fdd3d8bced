"""Pictures are written whole or not at all."""

import pytest
from envelopes import SHAPES

from tanksolve.errors import OutputError
from tanksolve.present.plan import plan_figure
from tanksolve.present.save import check_picture_path, save_picture

BEGINNINGS = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}


@pytest.fixture
def figure():
    return plan_figure(SHAPES["round"])


@pytest.mark.parametrize("suffix", BEGINNINGS)
def test_the_suffix_chooses_the_format(figure, tmp_path, suffix):
    path = save_picture(figure, tmp_path / f"limits.{suffix}", dpi=40)
    assert path.read_bytes().startswith(BEGINNINGS[suffix])
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("suffix", BEGINNINGS)
def test_the_same_picture_is_the_same_file(tmp_path, suffix):
    files = [
        save_picture(plan_figure(SHAPES["round"]), tmp_path / f"{k}.{suffix}", dpi=40)
        for k in (1, 2)
    ]
    assert files[0].read_bytes() == files[1].read_bytes()


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_where_writing_fails_the_older_picture_stays_and_no_part_is_left(
    figure, tmp_path, monkeypatch, error
):
    target = tmp_path / "limits.png"
    target.write_bytes(b"older")

    def half_written(path, **_):
        path.write_bytes(b"half")
        raise error

    monkeypatch.setattr(figure, "savefig", half_written)
    with pytest.raises(OutputError if isinstance(error, OSError) else KeyboardInterrupt):
        save_picture(figure, target)
    assert target.read_bytes() == b"older"
    assert [p.name for p in tmp_path.iterdir()] == ["limits.png"]


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("limits.gif", "no picture format"),
        ("limits", "no picture format"),
        ("nowhere/limits.png", "there is no folder"),
    ],
)
def test_a_path_that_cannot_be_is_refused_beforehand(tmp_path, name, message):
    with pytest.raises(OutputError, match=message):
        check_picture_path(tmp_path / name)


def test_a_folder_is_no_picture(tmp_path):
    (tmp_path / "limits.png").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        check_picture_path(tmp_path / "limits.png")
