"""Repairs: what can be mended is, with a bound on the volume; the rest is refused, inputs are kept."""

from pathlib import Path

import numpy as np
import pytest
from solids_by_hand import ball, box, inverted, write_stl

from tanksolve.errors import MeshError, OutputError
from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.geometry.repair import repair_mesh

BROKEN = Path(__file__).parents[2] / "meshes" / "broken"
AXES = ("mm", "+x", "+z")
VOLUME = 4.0**3


def mend(tmp_path, corners, name="out.stl", **kwargs):
    write_stl(tmp_path / "in.stl", corners)
    before = (tmp_path / "in.stl").read_bytes()
    try:
        return repair_mesh(tmp_path / "in.stl", tmp_path / name, **kwargs)
    finally:
        assert (tmp_path / "in.stl").read_bytes() == before


def kinds(repair):
    return {step.kind: step.count for step in repair.steps}


def litres(path, **kwargs):
    return read_mesh(path, "m", "+x", "+z", **kwargs).capacity


TANK = box((4, 4, 4), cells=8)


def without(*faces):
    return np.delete(TANK, faces, axis=0)


def flipped(*faces):
    corners = TANK.copy()
    corners[list(faces)] = corners[list(faces), ::-1]
    return corners


def pulled_open(by):
    """One corner of one face moved, as a careless export does: a slit."""
    corners = TANK.copy()
    corners[5, 0] += by
    return corners


@pytest.mark.parametrize("name", ["out.stl", "out.obj", "out.ply"])
@pytest.mark.parametrize(
    ("corners", "done", "exact"),
    [
        (TANK, {}, True),
        (np.concatenate([TANK, TANK[7:9]]), {"duplicate faces": 2}, True),
        (np.concatenate([TANK, TANK[7:8], inverted(TANK[7:8])]), {"duplicate faces": 2}, True),
        (np.concatenate([TANK, [[(1, 1, 1), (1, 1, 1), (2, 2, 2)]]]), {"collapsed faces": 1}, True),
        (flipped(3, 4, 90), {"flipped faces": 3}, True),
        (inverted(TANK), {"inside-out": 768}, True),
        (without(8), {"small holes": 1}, True),  # a hole in a flat wall
        (pulled_open(2e-6), {"equal corners": 1}, False),
        (pulled_open(3e-5), {"near corners": 1}, False),
    ],
)
def test_what_is_mended(tmp_path, corners, done, exact, name):
    repair = mend(tmp_path, corners, name, hole=2.0)
    assert kinds(repair) == done
    assert litres(tmp_path / name) == pytest.approx(VOLUME, rel=1e-12 if exact else 1e-5)
    assert abs(repair.volume - VOLUME) <= repair.volume_bound + 1e-12 * VOLUME
    assert repair.change <= 0.01 or "small holes" in done


def test_the_bound_holds_where_the_missing_part_was_bent(tmp_path):
    whole = ball(40, 2.0)
    exact = float(np.einsum("ij,ij->", whole[:, 0], np.cross(whole[:, 1], whole[:, 2])) / 6)
    repair = mend(tmp_path, np.delete(whole, range(900, 902), axis=0))
    assert kinds(repair) == {"small holes": 1}
    assert 0.0 < abs(repair.volume - exact) <= repair.volume_bound < 0.01 * exact


def test_a_void_stays_a_void(tmp_path):
    corners = np.concatenate([flipped(3), inverted(box((1, 1, 1), (1, 1, 1)))])
    repair = mend(tmp_path, corners)
    assert repair.volume == pytest.approx(VOLUME - 1.0)
    assert litres(tmp_path / "out.stl", meaning="liquid") == pytest.approx(VOLUME - 1.0)


def test_a_void_stays_a_void_when_all_is_turned(tmp_path):
    corners = inverted(np.concatenate([TANK, inverted(box((1, 1, 1), (1, 1, 1)))]))
    assert mend(tmp_path, corners).volume == pytest.approx(VOLUME - 1.0)


def test_one_of_two_bodies_is_turned(tmp_path):
    corners = np.concatenate([TANK, inverted(box((2, 2, 2), (9, 0, 0)))])
    assert mend(tmp_path, corners).volume == pytest.approx(VOLUME + 8.0)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("self_crossing.stl", r"cross another at \("),
        ("folded.stl", "cross another"),
        ("touching.stl", "upon another"),
        ("touching_along_an_edge.stl", "more than two faces"),
        ("flat.stl", "nothing is left"),
        ("leaking.stl", "one side only"),
    ],
)
def test_what_is_refused(tmp_path, name, words):
    with pytest.raises(MeshError, match=words):
        repair_mesh(BROKEN / name, tmp_path / "out.stl")
    assert list(tmp_path.iterdir()) == []


def test_a_great_hole_is_refused_by_its_bound(tmp_path):
    with pytest.raises(MeshError, match="could change the volume by up to"):
        mend(tmp_path, without(0, 1, 2, 3, 16, 17, 18, 19), hole=100.0)
    assert not (tmp_path / "out.stl").exists()


def test_half_flipped_is_refused(tmp_path):
    with pytest.raises(MeshError, match="wound against"):
        mend(tmp_path, flipped(*range(0, 768, 2)))


def test_the_input_is_never_the_output(tmp_path):
    write_stl(tmp_path / "in.stl", TANK)
    (tmp_path / "link.stl").symlink_to(tmp_path / "in.stl")
    (tmp_path / "hard.stl").hardlink_to(tmp_path / "in.stl")
    for name in ("in.stl", "link.stl", "hard.stl", "../" + tmp_path.name + "/in.stl"):
        with pytest.raises(OutputError, match="never overwrites"):
            repair_mesh(tmp_path / "in.stl", tmp_path / name)


def test_output_must_be_writable_and_known(tmp_path):
    write_stl(tmp_path / "in.stl", TANK)
    with pytest.raises(OutputError, match="no folder"):
        repair_mesh(tmp_path / "in.stl", tmp_path / "none" / "out.stl")
    with pytest.raises(OutputError, match="not a format"):
        repair_mesh(tmp_path / "in.stl", tmp_path / "out.step")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in.stl"]


def test_a_void_wound_outwards_is_found(tmp_path):
    """Taken as wound its volume counts twice; where it lies says that it is a void."""
    done = mend(tmp_path, np.concatenate([TANK, box((1, 1, 1), (1, 1, 1))]))
    assert kinds(done) == {"void": 12}
    assert done.volume == pytest.approx(VOLUME - 1.0, rel=1e-6)
    assert litres(tmp_path / "out.stl", meaning="liquid") == pytest.approx(VOLUME - 1.0, rel=1e-6)


@pytest.mark.parametrize("noise", [1e-5, 2e-4])
def test_noise_on_unmerged_corners_is_joined(tmp_path, noise):
    rng = np.random.default_rng(5)
    done = mend(tmp_path, TANK + noise * rng.uniform(-1, 1, TANK.shape))
    assert "near corners" in kinds(done)
    assert done.volume == pytest.approx(VOLUME, rel=1e-4)
    assert abs(done.volume - VOLUME) < done.volume_bound


def test_an_edge_that_meets_two_is_stitched(tmp_path):
    """A wall of large faces on a floor of small ones: no gap, but T-junctions all along."""
    small, large = box((4, 4, 4), cells=8), box((4, 4, 4))
    floor = small[:, :, 2].max(axis=1) == 0.0
    others = large[:, :, 2].max(axis=1) > 0.0
    done = mend(tmp_path, np.concatenate([small[floor], large[others]]))
    assert kinds(done) == {"T-junctions": 4}
    assert done.volume == pytest.approx(VOLUME, rel=1e-9)


@pytest.mark.parametrize("off", [1e-5, -4e-5])
def test_what_stitching_may_change_is_bounded(tmp_path, off):
    """The corners of the floor lie beside the wall's edges, not on them."""
    small, large = box((4, 4, 4), cells=8), box((4, 4, 4))
    floor = small[small[:, :, 2].max(axis=1) == 0.0]
    inner = (floor[:, :, :2] > 0.0).all(axis=2) & (floor[:, :, :2] < 4.0).all(axis=2)
    corner = np.isin(floor[:, :, :2], (0.0, 4.0)).all(axis=2)
    floor[:, :, 2] += np.where(inner | corner, 0.0, off)  # its rim only, between the corners
    walls = large[large[:, :, 2].max(axis=1) > 0.0]
    done = mend(tmp_path, np.concatenate([floor, walls]))
    assert "T-junctions" in kinds(done)
    assert 0.0 < abs(done.volume - VOLUME) <= done.volume_bound


def test_a_block_in_a_void_that_looks_inwards_is_turned_inside_out_and_a_void_in_it_bounds_one(
    tmp_path,
):
    """Four shells, one in another: the third and the fourth are wound wrongly, and each told as what it is."""
    of = ((9.0, 1), (7.0, 1), (5.0, 1), (3.0, 2))  # the last in 48 faces
    shells = [box((size,) * 3, ((9.0 - size) / 2.0,) * 3, cells=cells) for size, cells in of]
    corners = np.concatenate([shells[0], inverted(shells[1]), inverted(shells[2]), shells[3]])
    repair = mend(tmp_path, corners)
    assert kinds(repair) == {"inside-out": 12, "void": 48}
    assert repair.volume == pytest.approx(9.0**3 - 7.0**3 + 5.0**3 - 3.0**3)
