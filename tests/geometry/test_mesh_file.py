"""Mesh files as tanks: what is read, what is refused and with which words, what has to be chosen."""

import runpy
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold
from solids_by_hand import ball, box, inverted, turned, write_stl

from tanksolve.errors import MeshError, QuantityError
from tanksolve.geometry.axes import axes_rotation
from tanksolve.geometry.mesh_file import read_mesh

BROKEN = Path(__file__).parents[2] / "meshes" / "broken"
AXES = ("mm", "+x", "+z")


def refusal(path, *args, **kwargs) -> str:
    with pytest.raises(MeshError) as caught:
        read_mesh(path, *(args or AXES), **kwargs)
    assert str(path) in caught.value.message
    return caught.value.message


def ascii_text(corners) -> str:
    facets = "".join(
        "  facet normal 0 0 1\n    outer loop\n"
        + "".join(f"      vertex {x!r} {y!r} {z!r}\n" for x, y, z in face.tolist())
        + "    endloop\n  endfacet\n"
        for face in corners
    )
    return f"solid a tank of facets\n{facets}endsolid a tank of facets\n"


def write(path, corners):
    """Write corners in the format of the suffix, each face with corners of its own."""
    points = corners.reshape(-1, 3).tolist()
    count = len(corners)
    if path.suffix == ".stl":
        write_stl(path, corners)
    elif path.suffix == ".obj":
        lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in points]
        lines += [f"f {3 * k + 1} {3 * k + 2} {3 * k + 3}" for k in range(count)]
        path.write_text("\n".join(lines) + "\n")
    else:
        head = f"ply\nformat ascii 1.0\nelement vertex {3 * count}\n"
        head += "".join(f"property double {c}\n" for c in "xyz")
        head += f"element face {count}\nproperty list uchar int vertex_indices\nend_header\n"
        rows = "".join(f"{x!r} {y!r} {z!r}\n" for x, y, z in points)
        rows += "".join(f"3 {3 * k} {3 * k + 1} {3 * k + 2}\n" for k in range(count))
        path.write_text(head + rows)
    return path


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply"])
def test_formats_give_the_same_tank(tmp_path, suffix):
    corners = box((900, 300, 200), (10, 20, 30), cells=3)
    tank = read_mesh(write(tmp_path / f"tank{suffix}", corners), *AXES)
    assert tank.name == "tank"
    assert tank.capacity == pytest.approx(0.054, rel=1e-7)  # thirds of 200 in single precision
    assert tank.lower == pytest.approx([0.01, 0.02, 0.03])
    assert tank.upper == pytest.approx([0.91, 0.32, 0.23])
    assert len(tank.vertices) == 2 + len(tank.faces) / 2  # Euler: corners are merged
    assert tank.volume_error is None


def test_ascii_stl_keeps_every_digit(tmp_path):
    corners = turned(ball(6, 100.0), 3)
    path = tmp_path / "tank.STL"
    path.write_text(ascii_text(corners))
    tank = read_mesh(path, "m", "x", "z")
    assert {tuple(v) for v in tank.vertices} == {tuple(v) for v in corners.reshape(-1, 3)}


def test_ascii_stl_of_two_solids_in_capitals(tmp_path):
    text = ascii_text(box()) + ascii_text(box(low=(3, 0, 0)))
    path = tmp_path / "two.stl"
    path.write_text(text.upper().replace("\n", "\r\n"))
    assert read_mesh(path, "m", "x", "z", body="all").capacity == pytest.approx(2.0)


def test_a_binary_stl_may_begin_with_the_word_solid(tmp_path):
    path = tmp_path / "tank.stl"
    write_stl(path, box())
    path.write_bytes(b"solid facet" + path.read_bytes()[11:])
    assert read_mesh(path, "m", "x", "z").capacity == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("unit", "litres"), [("mm", 6e-6), ("cm", 6e-3), ("in", 6 * 0.016387064), ("m", 6000.0)]
)
def test_units(tmp_path, unit, litres):
    write_stl(tmp_path / "t.stl", box((1, 2, 3)))
    tank = read_mesh(tmp_path / "t.stl", unit, "x", "z")
    assert tank.capacity * 1000 == pytest.approx(litres, rel=1e-12)
    assert any(f"lengths in {unit}" in note for note in tank.notes)


def test_an_unusual_unit_goes_through_the_unit_library(tmp_path):
    write_stl(tmp_path / "t.stl", box())
    tank = read_mesh(tmp_path / "t.stl", "yard", "x", "z")
    assert tank.capacity == pytest.approx(0.9144**3, rel=1e-12)


@pytest.mark.parametrize("unit", ["furlongish", "kg", "25mm", "", "-mm"])
def test_no_unit_of_length(tmp_path, unit):
    write_stl(tmp_path / "t.stl", box())
    with pytest.raises((QuantityError, MeshError), match="unit"):
        read_mesh(tmp_path / "t.stl", unit, "x", "z")


def test_axes_are_turned_and_told_in_words(tmp_path):
    write_stl(tmp_path / "t.stl", box((900, 300, 200), (100, 0, 0)))
    tank = read_mesh(tmp_path / "t.stl", "mm", "-y", "x")
    # forward = -y spans 300; left = up x forward = x x -y = -z spans 200; up = x spans 900
    assert tank.lower == pytest.approx([-0.3, -0.2, 0.1])
    assert tank.upper == pytest.approx([0.0, 0.0, 1.0])
    assert "mesh -y is forward, mesh +x is up, so mesh -z is left" in tank.notes[0]
    assert "forward -300.0 to 0.0, left -200.0 to 0.0, up 100.0 to 1000.0 mm" in tank.notes[1]


@given(st.sampled_from("xyz"), st.sampled_from("xyz"), st.sampled_from("+-"), st.sampled_from("+-"))
def test_no_choice_of_axes_mirrors(a, b, s, t):
    if a == b:
        with pytest.raises(MeshError, match="same axis"):
            axes_rotation(s + a, t + b)
    else:
        rotation = axes_rotation(s + a, t + b)
        assert np.linalg.det(rotation) == pytest.approx(1.0)
        assert (rotation @ rotation.T == np.eye(3)).all()


@pytest.mark.parametrize("axis", ["w", "xy", "", "++x", "1"])
def test_unknown_axis(tmp_path, axis):
    write_stl(tmp_path / "t.stl", box())
    with pytest.raises(MeshError):
        read_mesh(tmp_path / "t.stl", "mm", axis, "z")


def test_the_broken_files_are_what_their_script_writes():
    made = runpy.run_path(str(BROKEN.parent / "make_broken.py"))["files"]()
    assert {path.name: path.read_bytes() for path in BROKEN.iterdir()} == made


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("empty.stl", "the file is empty"),
        ("truncated.stl", "truncated STL: the header announces 12 faces, the file holds 9"),
        ("truncated_ascii.stl", "truncated STL"),
        ("no_faces.stl", "no faces"),
        ("nan.stl", "not a usable number (nan); the first is face 6"),
        ("leaking.stl", "leaking: 3 edges have a face on one side only, at (600, 150, 100) mm"),
        (
            "flipped.stl",
            "flipped faces: 1 face is wound against the neighbours, at (600, 100, 133.333",
        ),
        ("inside_out.stl", "inside-out"),
        ("flat.stl", "zero volume"),
        ("doubled.stl", "duplicate faces: 1 face lies on another"),
        ("self_crossing.stl", "self-crossing"),
        ("folded.stl", "self-crossing"),
        ("touching.stl", "overlapping faces"),
        ("touching_along_an_edge.stl", "non-manifold edges: 1 edge has more than two faces"),
        (
            "wall.stl",
            "is the mesh the liquid or the metal? As liquid it holds 2.12 L, as metal 33.88 L",
        ),
        ("two_bodies.stl", "2 separate bodies: 1: 36.00 L, shell 1; 2: 36.00 L, shell 2"),
    ],
)
def test_refusals(name, words):
    message = refusal(BROKEN / name)
    assert words in message
    assert "next:" in message


def test_missing_file_folder_and_unknown_format(tmp_path):
    assert "no such file" in refusal(tmp_path / "none.stl")
    (tmp_path / "folder.stl").mkdir()
    assert "folder" in refusal(tmp_path / "folder.stl")
    (tmp_path / "tank.dwg").write_bytes(b"x")
    assert ".stl" in refusal(tmp_path / "tank.dwg")


def test_a_silent_format_needs_unit_and_axes(tmp_path):
    write_stl(tmp_path / "t.stl", box())
    assert "does not say its unit nor its forward nor its up" in refusal(tmp_path / "t.stl", None)
    assert "does not say its up" in refusal(tmp_path / "t.stl", "mm", "x")


@pytest.mark.parametrize(
    ("low", "crosses_at"), [((0.5, 0.5, 0.5), [0.5, 1.0]), ((0.9, 0.2, 0.3), [0.9, 1.0])]
)
def test_the_place_of_a_crossing_is_on_the_crossing(tmp_path, low, crosses_at):
    write_stl(tmp_path / "t.stl", np.concatenate([box(), box(low=low)]))
    message = refusal(tmp_path / "t.stl", "m", "x", "z")
    x = float(message.split("at (")[1].split(",")[0])
    assert crosses_at[0] - 1e-6 <= x <= crosses_at[1] + 1e-6


def test_a_shallow_crossing_is_still_one(tmp_path):
    write_stl(tmp_path / "t.stl", np.concatenate([box(), box(low=(0.9999, 0.2, 0.3))]))
    assert "self-crossing" in refusal(tmp_path / "t.stl", "m", "x", "z")


def test_a_body_in_the_hole_of_another_is_not_inside_it(tmp_path):
    ring = Manifold.cube((9, 9, 9)) - Manifold.cube((3, 3, 20)).translate((3, 3, -5))
    mesh = ring.to_mesh64()
    corners = np.asarray(mesh.vert_properties)[np.asarray(mesh.tri_verts)]
    write_stl(tmp_path / "t.stl", np.concatenate([corners, box(low=(4, 4, 4))]))
    assert "2 separate bodies" in refusal(tmp_path / "t.stl")


@pytest.mark.parametrize("inner_outward", [False, True])
def test_a_wall_as_metal_is_the_space_inside(tmp_path, inner_outward):
    inner = box((894, 294, 194), (3, 3, 3))
    faces = [box((900, 300, 200)), inner if inner_outward else inverted(inner)]
    write_stl(tmp_path / "t.stl", np.concatenate(faces))
    tank = read_mesh(tmp_path / "t.stl", *AXES, meaning="metal")
    assert tank.capacity == pytest.approx(0.894 * 0.294 * 0.194, rel=1e-12)
    assert tank.lower == pytest.approx([0.003] * 3)
    assert any("metal" in note for note in tank.notes)


def test_a_void_as_liquid_is_taken_away(tmp_path):
    corners = np.concatenate([box((900, 300, 200)), inverted(box((100, 100, 100), (50, 50, 50)))])
    write_stl(tmp_path / "t.stl", corners)
    tank = read_mesh(tmp_path / "t.stl", *AXES, meaning="liquid")
    assert tank.capacity == pytest.approx(0.054 - 0.001, rel=1e-12)


def test_an_outward_shell_inside_would_count_twice(tmp_path):
    write_stl(tmp_path / "t.stl", np.concatenate([box((9, 9, 9)), box((1, 1, 1), (2, 2, 2))]))
    assert "counts twice" in refusal(tmp_path / "t.stl")
    assert "counted twice" in refusal(tmp_path / "t.stl", meaning="liquid")


def test_metal_standing_free_in_a_cavity_displaces(tmp_path):
    shells = [box((900, 300, 200)), inverted(box((880, 280, 180), (10, 10, 10)))]
    shells.append(box((100, 100, 100), (50, 50, 50)))
    write_stl(tmp_path / "t.stl", np.concatenate(shells))
    assert "as metal 43.35 L" in refusal(tmp_path / "t.stl")
    tank = read_mesh(tmp_path / "t.stl", *AXES, meaning="metal")
    assert tank.capacity == pytest.approx(0.88 * 0.28 * 0.18 - 0.001, rel=1e-12)


def test_several_cavities_are_several_tanks(tmp_path):
    cavities = [inverted(box((400, 280, 180), (low, 10, 10))) for low in (10, 450)]
    write_stl(tmp_path / "t.stl", np.concatenate([box((900, 300, 200)), *cavities]))
    assert "2 cavities" in refusal(tmp_path / "t.stl")
    assert "2 separate cavities" in refusal(tmp_path / "t.stl", meaning="metal")
    second = read_mesh(tmp_path / "t.stl", *AXES, meaning="metal", cavity=2)
    assert second.lower[0] == pytest.approx(0.45)
    both = read_mesh(tmp_path / "t.stl", *AXES, meaning="metal", cavity="all")
    assert both.capacity == pytest.approx(2 * second.capacity)


def test_metal_without_a_cavity(tmp_path):
    write_stl(tmp_path / "t.stl", box())
    assert "encloses no cavity" in refusal(tmp_path / "t.stl", meaning="metal")


def test_one_of_several_bodies(tmp_path):
    write_stl(tmp_path / "t.stl", np.concatenate([box((2, 1, 1)), ball(6, 1.0, (9, 0, 0))]))
    args = ("m", "x", "z")
    assert read_mesh(tmp_path / "t.stl", *args, body=1).capacity == pytest.approx(2.0)
    assert "no body '3' among the 2" in refusal(tmp_path / "t.stl", *args, body=3)
    one_inverted = np.concatenate([box((2, 1, 1)), inverted(box(low=(5, 0, 0)))])
    write_stl(tmp_path / "t.stl", one_inverted)
    assert "inside-out: shell 2 looks inwards" in refusal(tmp_path / "t.stl", *args)


def test_collapsed_faces_are_left_out_with_a_note(tmp_path):
    corners = np.concatenate([box(), [[(0, 0, 0), (0, 0, 0), (1, 0, 0)]]])
    write_stl(tmp_path / "t.stl", corners)
    tank = read_mesh(tmp_path / "t.stl", "m", "x", "z")
    assert tank.capacity == pytest.approx(1.0)
    assert any("1 face with two corners in one point" in note for note in tank.notes)


def test_an_implausible_size_is_questioned(tmp_path):
    write_stl(tmp_path / "t.stl", box((900, 300, 200)))
    notes = " ".join(read_mesh(tmp_path / "t.stl", "m", "x", "z").notes)
    assert "is the unit right?" in notes
    assert "54.00 L in mm" in notes
    assert not any("right?" in n for n in read_mesh(tmp_path / "t.stl", *AXES).notes)


def test_a_capacity_under_ten_millilitres_is_questioned_however_it_lies(tmp_path):
    """Askew in a box of more than 100 ml: it is what the tank holds that counts."""
    write_stl(tmp_path / "t.stl", turned(box((100, 100, 0.5)), 3))
    tank = read_mesh(tmp_path / "t.stl", *AXES)
    assert np.prod(tank.upper - tank.lower) > 1e-4
    assert any(
        "is the unit right? The tank holds less than 0.010 L; it would" in note
        for note in tank.notes
    )


@pytest.mark.parametrize(
    ("old", "new"),
    [("vertex", "vortex"), ("0.5", "half"), ("endloop\n", ""), ("outer loop", "outer")],
)
def test_malformed_ascii_names_the_facet(tmp_path, old, new):
    path = tmp_path / "t.stl"
    text = ascii_text(box((0.5, 0.5, 0.5)))
    place = text.index(old, len(text) // 2)
    path.write_text(text[:place] + text[place:].replace(old, new, 1))
    message = refusal(path)
    assert "facet" in message
    assert "malformed" in message


@pytest.mark.parametrize("suffix", [".obj", ".ply"])
def test_damaged_files_of_other_formats(tmp_path, suffix):
    path = tmp_path / f"t{suffix}"
    path.write_bytes(b"ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\n" * 3)
    refusal(path)
