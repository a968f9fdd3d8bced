"""Ways to spoil a file, and small sound mesh and tank files to spoil."""

import base64
import json
import random
import struct
from pathlib import Path

import numpy as np
import trimesh
from solids_by_hand import box, write_stl
from step_by_hand import write_box

ROOT = Path(__file__).resolve().parents[1]
FORMATS = ("stl", "ascii.stl", "obj", "ply", "ascii.ply", "off", "3mf", "glb", "gltf", "step")
_HUGE = (b"99999999999", b"-1", b"4294967295", b"1e308", b"nan", b"0", b"inf", b"1e-320")


def sound_files(folder: Path) -> dict[str, bytes]:
    """One small tank in each format."""
    corners = np.concatenate([box((900, 300, 200), cells=2), box((90, 90, 90), (2000, 0, 0))])
    mesh = trimesh.Trimesh(
        corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False
    )
    write_stl(folder / "t.stl", corners)
    write_box(folder / "t.step", (900, 300, 200))
    gltf = trimesh.Scene(mesh).export(file_type="gltf", merge_buffers=True)
    tree = json.loads(gltf["model.gltf"])
    for buffer in tree["buffers"]:
        data = base64.b64encode(gltf[buffer["uri"]]).decode()
        buffer["uri"] = f"data:application/octet-stream;base64,{data}"
    exported = {
        "ascii.stl": mesh.export(file_type="stl_ascii"),
        "obj": mesh.export(file_type="obj"),
        "ply": mesh.export(file_type="ply"),
        "ascii.ply": mesh.export(file_type="ply", encoding="ascii"),
        "off": mesh.export(file_type="off"),
        "3mf": trimesh.Scene(mesh).export(file_type="3mf"),
        "glb": trimesh.Scene(mesh).export(file_type="glb"),
        "gltf": json.dumps(tree),
    }
    raw = {k: v.encode() if isinstance(v, str) else bytes(v) for k, v in exported.items()}
    for name in ("t.stl", "t.step"):
        raw[name[2:]] = (folder / name).read_bytes()
        (folder / name).unlink()
    return raw


def sound_tank_files() -> dict[str, bytes]:
    """The tank files that the repository holds, each under a kind ending in ``toml``."""
    files = [*ROOT.glob("meshes/*.toml"), *ROOT.glob("tanksolve/project/templates/*.toml")]
    return {f"{file.stem}.toml": file.read_bytes() for file in sorted(files)}


def mutated(data: bytes, chance: random.Random) -> bytes:
    """Spoil a file in one to three ways."""
    spoiled = bytearray(data)
    for _ in range(chance.randint(1, 3)):
        chance.choice(_WAYS)(spoiled, chance)
    return bytes(spoiled)


def _place(data: bytearray, chance: random.Random) -> int:
    # headers are short and matter most
    if chance.random() < 0.3:
        return chance.randrange(min(len(data), 200) or 1)
    return chance.randrange(len(data) or 1)


def _flip(data: bytearray, chance: random.Random) -> None:
    for _ in range(chance.choice((1, 1, 3, 20))):
        if data:
            data[_place(data, chance)] ^= 1 << chance.randrange(8)


def _truncate(data: bytearray, chance: random.Random) -> None:
    del data[_place(data, chance) :]


def _swap_lines(data: bytearray, chance: random.Random) -> None:
    lines = bytes(data).split(b"\n")
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    data[:] = b"\n".join(lines)


def _swap_words(data: bytearray, chance: random.Random) -> None:
    words = bytes(data).split(b" ")
    a, b = chance.randrange(len(words)), chance.randrange(len(words))
    words[a], words[b] = words[b], words[a]
    data[:] = b" ".join(words)


def _huge_word(data: bytearray, chance: random.Random) -> None:
    words = bytes(data).split(b" ")
    words[chance.randrange(len(words))] = chance.choice(_HUGE)
    data[:] = b" ".join(words)


def _huge_count(data: bytearray, chance: random.Random) -> None:
    count = chance.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0x00FFFFFF, 0x7F800000, 0x7FC00000))
    at = _place(data, chance) & ~3
    data[at : at + 4] = struct.pack("<I", count)


def _double(data: bytearray, chance: random.Random) -> None:
    a, b = sorted((_place(data, chance), _place(data, chance)))
    data[b:b] = data[a:b]


def _cut_out(data: bytearray, chance: random.Random) -> None:
    a = _place(data, chance)
    del data[a : a + chance.choice((1, 2, 10, 50))]


_WAYS = (
    _flip,
    _flip,
    _truncate,
    _swap_lines,
    _swap_words,
    _huge_word,
    _huge_count,
    _double,
    _cut_out,
)
