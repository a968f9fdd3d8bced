"""41 tanks drawn with a CAD kernel, from STEP: capacity, openings, and the kernel's own cut into faces.

Needs the extra ``cad`` (about four minutes of processor time then); without it these are skipped. The same as a
script, with a line for each: tests/campaign_cad.py.
"""

import numpy as np
import pytest

pytest.importorskip("OCP", reason="tanks drawn with a CAD kernel: pip install 'tanksolve[cad]'")
from cad_tanks import TANKS, corners_of_step, volume, write_step
from campaign_cad import allowed, read, told_error, written_otherwise
from solids_by_hand import write_stl

from tanksolve.geometry.mesh_file import read_mesh_and_plugs

ONE_OF_EACH = list({make: name for name, (make, _) in TANKS.items()}.values())


@pytest.fixture
def drawn(request, tmp_path):
    """A tank and its STEP file."""
    make, wall = TANKS[request.param]
    tank = make(wall)
    write_step(tmp_path / "t.step", tank.metal)
    return tank, tmp_path / "t.step"


@pytest.mark.parametrize("drawn", TANKS, indirect=True)
def test_capacity_is_the_cad_kernels_own(drawn):
    tank, file = drawn
    found, plugs = read(file, tank)
    off = found.capacity / (volume(tank.inside) * 1e-9) - 1.0
    assert abs(off) <= allowed(found, tank)
    told = told_error(found.notes)
    assert abs(off - told) <= 0.5 * abs(told) + tank.slack + 1e-5, (
        "told with the wrong sign or size"
    )
    assert len(plugs) == tank.openings


@pytest.mark.parametrize("drawn", ONE_OF_EACH, indirect=True)
def test_the_kernels_own_reader_and_faces_are_the_same_tank(tmp_path, drawn):
    """STEP read and cut into faces by the kernel in this process, handed over as STL."""
    tank, file = drawn
    found, plugs = read(file, tank)
    write_stl(tmp_path / "t.stl", corners_of_step(file, 0.1))
    again, there = read_mesh_and_plugs(
        tmp_path / "t.stl", "mm", "+x", "+z", meaning="metal", plug="all", body="all"
    )
    assert again.capacity == pytest.approx(
        found.capacity, rel=abs(told_error(found.notes)) + 2.0 * tank.slack + 1e-5
    )
    for one, other in zip(plugs, there, strict=True):
        assert other.bore == pytest.approx(one.bore, rel=0.02)
        assert np.linalg.norm(np.subtract(other.centre, one.centre)) < 1e-3


@pytest.mark.parametrize("chord", [2e-4, 5e-5])
@pytest.mark.parametrize("drawn", ["suction_tube, 3 mm", "lying_drum, 2 mm"], indirect=True)
def test_finer_and_coarser_faces_hold_what_they_are_told_to(drawn, chord):
    tank, file = drawn
    found, plugs = read(file, tank, chord=chord)
    off = found.capacity / (volume(tank.inside) * 1e-9) - 1.0
    assert abs(off) <= allowed(found, tank)
    assert len(plugs) == tank.openings


@pytest.mark.parametrize("name", ["lying_drum, 6 mm", "suction_tube, 6 mm"])
def test_inches_and_chords_leave_plugs_and_limits_where_they_are(tmp_path, name):
    """Fifteen tanks: campaign_cad.py --ways."""
    make, wall = TANKS[name]
    assert written_otherwise(tmp_path, make(wall)) == []
