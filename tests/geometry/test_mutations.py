"""A small sample of tests/campaign_mutations.py, and every case that ever failed there."""

from pathlib import Path

import pytest
from campaign_mutations import KEPT, outcome, spoil
from mutations import FORMATS, sound_files

from tanksolve.errors import MeshError
from tanksolve.geometry.mesh_file import read_mesh


@pytest.fixture(scope="module")
def sound(tmp_path_factory) -> dict[str, bytes]:
    return sound_files(tmp_path_factory.mktemp("sound"))


@pytest.mark.parametrize("kind", FORMATS)
def test_the_sound_file_is_a_tank(tmp_path, sound, kind):
    if kind == "step":
        pytest.importorskip("cascadio")
    file = tmp_path / f"t.{kind.split('.')[-1]}"
    file.write_bytes(sound[kind])
    tank = read_mesh(file, "mm", "+x", "+z", body="all")
    assert tank.capacity > 0.0


@pytest.mark.parametrize("kind", FORMATS)
def test_spoiled_files_end_in_a_tank_or_one_error(tmp_path, sound, kind):
    for kept in KEPT.glob(f"*.{kind.split('.')[-1]}"):
        assert outcome(kept) in ("tank", "refused")
    for seed in range(1 if kind == "step" else 25):
        file = spoil(kind, seed, sound, tmp_path)
        assert outcome(file) in ("tank", "refused")
        file.unlink()


def test_a_crash_or_a_stray_file_would_be_noticed(tmp_path, monkeypatch):
    file = tmp_path / "t.stl"
    file.write_bytes(b"x")
    assert outcome(file) == "refused"
    monkeypatch.setattr("tanksolve.geometry.intake.read_raw", lambda *_: 1 // 0)
    assert "ZeroDivisionError" in outcome(file)

    def littering(path: Path, *_):
        (path.parent / "litter").touch()
        raise MeshError("no mesh")

    monkeypatch.setattr("tanksolve.geometry.intake.read_raw", littering)
    assert outcome(file) == "files were left behind"
