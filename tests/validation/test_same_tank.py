"""One tank in every form in which it may come: the same volume and envelope within 0.05 %.

894 x 294 x 194 mm inside, as a parametric box, as STL, OBJ, 3MF, GLB and STEP of the liquid, and as a
wall of 3 mm with a filler neck and two hose ports that are plugged.
"""

import numpy as np
import pytest
import trimesh
from solids_by_hand import box as box_corners
from solids_by_hand import write_stl
from step_by_hand import write_box
from walled_tank import save, walled

from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.geometry.parts import box
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.envelope.envelope import envelope

SIZE, LOW = (894.0, 294.0, 194.0), (3.0, 3.0, 3.0)
AXES = ("mm", "+x", "+z")


def as_mesh():
    corners = box_corners(SIZE, LOW, cells=4)
    return trimesh.Trimesh(
        corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False
    )


def stl(folder):
    write_stl(folder / "t.stl", box_corners(SIZE, LOW))
    return read_mesh(folder / "t.stl", *AXES)


def obj(folder):
    as_mesh().export(folder / "t.obj")
    return read_mesh(folder / "t.obj", *AXES)


def three_mf(folder):
    trimesh.Scene(as_mesh()).export(folder / "t.3mf")
    return read_mesh(folder / "t.3mf", forward="+x")


def glb(folder):
    mesh = as_mesh()
    mesh.vertices = mesh.vertices[:, [1, 2, 0]] / 1000.0  # glTF: x left, y up, z forward, metres
    trimesh.Scene(mesh).export(folder / "t.glb")
    return read_mesh(folder / "t.glb")


def step(folder):
    pytest.importorskip("cascadio")
    write_box(folder / "t.step", SIZE, LOW)
    return read_mesh(folder / "t.step", forward="+x", up="+z")


def wall(folder):
    return read_mesh(save(folder / "t.stl", walled()), *AXES, plug="all")


@pytest.mark.parametrize("make", [stl, obj, three_mf, glb, step, wall])
def test_same_volume_and_envelope(tmp_path, make):
    parametric, offset = box(0.894, 0.294, 0.194), np.full(3, 0.003)
    foreign = make(tmp_path)
    assert foreign.capacity == pytest.approx(parametric.capacity, rel=5e-4)

    def limits(tank, shift):
        suction = pickup("suction", tuple(np.array([0.15, 0.05, 0.02]) + shift))
        vent = breather("vent", tuple(np.array([0.4, 0.15, 0.19]) + shift))
        return envelope(tank, [suction, vent], 0.012, every_deg=30.0).limits

    expected = limits(parametric, 0 * offset)
    assert sum(limit.limited for limit in expected) >= 6
    for mine, theirs in zip(expected, limits(foreign, offset), strict=True):
        assert theirs.limited == mine.limited
        if mine.limited:
            assert theirs.port == mine.port
            assert theirs.slope_deg == pytest.approx(mine.slope_deg, rel=5e-4)
