"""A few tanks drawn with a CAD kernel, from STEP; 41 in tests/campaign_cad.py. Needs the extra `cad`."""

import pytest

pytest.importorskip("OCP")
from cad_tanks import TANKS, volume, write_step

from tanksolve.geometry.mesh_file import read_mesh_and_plugs


@pytest.mark.parametrize(
    "name",
    [
        "plain, 1.5 mm",
        "cup_on_the_floor, 2 mm",
        "welded_of_six_plates, 2 mm",
        "welded_with_gaps, 3 mm",
    ],
)
def test_capacity_is_the_cad_kernels_own(tmp_path, name):
    make, wall = TANKS[name]
    tank = make(wall)
    write_step(tmp_path / "t.step", tank.metal)
    several = "all" if len(tank.metal) > 1 else None
    found, plugs = read_mesh_and_plugs(
        tmp_path / "t.step", None, "+x", "+z", meaning="metal", plug="all", body=several
    )
    assert found.capacity == pytest.approx(volume(tank.inside) * 1e-9, rel=tank.slack + 1e-5)
    assert len(plugs) == tank.openings
