"""28 kinds of damage: mended within the bound that is told, or refused; nothing is silently wrong."""

import pytest
from damages import DAMAGES
from solids_by_hand import write_stl

from tanksolve.errors import MeshError
from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.geometry.repair import repair_mesh

SOUND = {"a slit closed by a face without area"}  # is one surface as it stands


@pytest.mark.parametrize("name", DAMAGES)
def test_mended_within_the_bound_or_refused(tmp_path, name):
    corners, meant = DAMAGES[name]
    write_stl(tmp_path / "in.stl", corners)
    if meant is None:
        with pytest.raises(MeshError) as refused:
            repair_mesh(tmp_path / "in.stl", tmp_path / "out.stl")
        assert "next:" in refused.value.message
        assert not (tmp_path / "out.stl").exists()
        return
    done = repair_mesh(tmp_path / "in.stl", tmp_path / "out.stl", hole=1.0)
    assert done.steps or name in SOUND
    assert abs(done.volume - meant) <= done.volume_bound + 1e-6 * meant
    tank = read_mesh(tmp_path / "out.stl", "m", "+x", "+z", meaning="liquid", body="all")
    assert tank.capacity == pytest.approx(done.volume, rel=1e-6)
