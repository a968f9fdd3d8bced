import pytest

from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.geometry.mesh_out import obj_text, stl_bytes
from tanksolve.geometry.parts import cylinder


@pytest.mark.parametrize(("unit", "metres"), [("mm", 0.001), ("in", 0.0254)])
def test_a_tank_written_and_read_again_is_the_same(tmp_path, unit, metres):
    tank = cylinder(0.45, 1.2, "across")
    stl, obj = tmp_path / "a.stl", tmp_path / "a.obj"
    stl.write_bytes(stl_bytes(tank, metres))
    obj.write_text(obj_text(tank, metres), encoding="ascii")
    assert read_mesh(stl, unit, "+x", "+z").capacity == pytest.approx(tank.capacity, rel=1e-6)
    again = read_mesh(obj, unit, "+x", "+z")
    assert again.capacity == pytest.approx(tank.capacity, rel=1e-13)
    assert again.upper == pytest.approx(tank.upper, rel=1e-13)
    assert stl.read_bytes()[:80].startswith(b"cylinder, 1 unit = ")
