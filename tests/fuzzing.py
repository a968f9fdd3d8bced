"""Fuzzing that is led by coverage: inputs that reach new lines of the program are kept and spoiled further.

A target takes bytes and hands them to a reader of the program. Each input must end in a result or in one
TanksolveError with a message fit for a terminal; anything else is a finding.
"""

import hashlib
import random
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

from mutations import mutated, sound_files, sound_tank_files

from tanksolve.errors import TanksolveError
from tanksolve.plain_text import clean

ROOT = Path(__file__).resolve().parents[1]
CORPUS = ROOT / "tests" / "corpus"
PACKAGE = str(ROOT / "tanksolve") + "/"
SECONDS = 10.0  # of processor time
_LARGEST = 4000  # bytes of a text: what takes long with more is bounded in test_hostile.py

_TOKENS = (
    b"mm cm in ft L gal deg rad % 1:4 .. x , = - + 1e308 1e-320 nan inf 0 -0.0 1_000 '' \" [ ] [[ ]] { } ; # ** ( "
    b"^ bore facing down cover 1,5 2026-01-01T00:00:00Z \xc2\xb0 \xe2\x80\xb3 \x00 \x1b[31m \xe2\x80\xae"
)
WORDS = [
    *_TOKENS.split(b" "),
    b"\n",
    b"\r\n",
    b"\t",
    b" ",
    b"US gal",
    b"pitch deg",
    b"roll deg",
    b"time s",
]

SEEDS: dict[str, list[bytes]] = {
    "unit": [b"42L", b"11 US gal", b"4in", b"15deg", b"26.8%", b"1:4", b"900x300x300mm", b"20,150,30mm",
             b"38.1 mm", b"-10 C", b"60L/min", b"1.5 bar", b"N", b"nose up 5deg", b"1 ft 3 in"],
    "inline": [b"900x300x300mm|suction=20,150,30mm,bore=38mm,facing=down|42L",
               b"450x1200mm|cap=10,10,10mm|30L..42L",
               b"36x12x12in|a=18,6,1.5in,bore=1.5in,cover=2in,facing=0;0;-1|120mm"],
    "log": [b"time s,pitch deg,roll deg\n0,0,0\n1,2,1\n2,1,0\n", b"t;nick;roll\n0;1,5;2\n1;2,5;3\n",
            b"time,ax m/s2,ay m/s2,az m/s2\n0,0,0,9.8\n1,1,0,9.7\n", b"distance m,elevation m\n0,0\n10,1\n20,3\n",
            b"timestamp,pitch,roll,fill L\n2026-01-01T00:00:00Z,1,2,40\n2026-01-01T00:00:01Z,2,2,39\n"],
}  # fmt: skip
MESHES = ("stl", "ascii.stl", "obj", "ply", "ascii.ply", "off", "3mf", "glb", "gltf")
TARGETS = ("unit", "inline", "tank", "log", *MESHES)


def run_unit(data: bytes) -> None:
    from tanksolve import units

    text = data.decode("utf-8", "replace")
    for read in (units.parse_length, units.parse_volume, units.parse_angle, units.parse_heading):
        _one_error(lambda read=read: read(text, "--try"))  # type: ignore[misc]
    for kind in ("flow", "time", "speed", "temperature", "pressure"):
        _one_error(lambda kind=kind: units.parse(text, kind, "--try"))  # type: ignore[misc]
    _one_error(lambda: units.parse_sizes(text, 3, "--try"))
    units.split_quantity(text, "--try")


def run_inline(data: bytes) -> None:
    from tanksolve.project.inline import parse_fill, parse_port, parse_tank

    tank, port, fill = [*data.decode("utf-8", "replace").split("|"), "", "", ""][:3]
    _one_error(lambda: parse_port("pickup", port, "--pickup"))
    _one_error(lambda: parse_tank(cylinder_text=tank))
    parse_fill(fill, parse_tank(box_text=tank))


def run_tank(data: bytes) -> None:
    from tanksolve.project.load import load

    _in_a_file(data, "t.toml", load)


def run_log(data: bytes) -> None:
    from tanksolve.questions.replay.replay import LogOptions, replay

    tank, ports, fill = _small_tank()
    _in_a_file(data, "t.csv", lambda file: replay(tank, ports, fill, file, LogOptions()))


@cache
def _small_tank() -> tuple[Any, Any, Any]:
    from tanksolve.geometry.parts import box
    from tanksolve.model.liquid import Fill
    from tanksolve.model.ports import pickup

    return box(0.9, 0.3, 0.3), [pickup("p", (0.45, 0.15, 0.03))], Fill(0.042, 0.042)


def run_mesh(data: bytes, kind: str) -> None:
    from tanksolve.geometry.mesh_file import read_mesh

    _in_a_file(
        data, f"t.{kind.split('.')[-1]}", lambda file: read_mesh(file, "mm", "+x", "+z", body="all")
    )


def _in_a_file(data: bytes, name: str, read: Callable[[Path], Any]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / name
        file.write_bytes(data)
        try:
            read(file)
        finally:
            left = sorted(path.name for path in Path(folder).iterdir())
        assert left == [name], f"left behind: {left}"


def _one_error(read: Callable[[], Any]) -> None:
    try:
        read()
    except TanksolveError as error:
        _fit(error)


def _fit(error: TanksolveError) -> None:
    told = str(error)
    assert error.message.strip(), "an empty message"
    assert len(told) < 3000, f"a message of {len(told)} characters"
    assert clean(told) == told, "a message that is not clean"


def outcome(target: str, data: bytes) -> str:
    """``result``, ``refused``, or the traceback of a finding."""
    run = {"unit": run_unit, "inline": run_inline, "tank": run_tank, "log": run_log}.get(target)
    try:
        with _limited():
            if run is None:
                run_mesh(data, target)
            else:
                run(data)
    except TanksolveError as error:
        try:
            _fit(error)
        except AssertionError:
            return traceback.format_exc()
        return "refused"
    except BaseException:  # whatever it is: KeyboardInterrupt has its own handler meanwhile
        return traceback.format_exc()
    return "result"


class TooSlow(BaseException):
    """An input took longer than it may."""


@contextmanager
def _limited() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise TooSlow

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


class Coverage:
    """Lines of the package that any input has reached."""

    def __init__(self) -> None:
        self.lines: set[tuple[CodeType, int]] = set()

    def of(self, act: Callable[[], str]) -> tuple[str, bool]:
        """What ``act`` returns, and whether it reached a line that none did before."""
        before = len(self.lines)
        add = self.lines.add

        def line(frame: FrameType, event: str, _: object) -> Any:
            add((frame.f_code, frame.f_lineno))
            return line

        def call(frame: FrameType, event: str, _: object) -> Any:
            return line if frame.f_code.co_filename.startswith(PACKAGE) else None

        earlier = sys.gettrace()
        sys.settrace(call)
        try:
            told = act()
        finally:
            sys.settrace(earlier)
        return told, len(self.lines) > before


def seeds(target: str) -> list[bytes]:
    """Sound inputs to begin with, and what earlier runs kept."""
    kept = [file.read_bytes() for file in sorted((CORPUS / target).glob("*"))]
    if target in SEEDS:
        return SEEDS[target] + kept
    if target == "tank":
        return [*_small_tank_files(), *kept]
    with tempfile.TemporaryDirectory() as folder:
        return [sound_files(Path(folder))[target], *kept]


def _small_tank_files() -> list[bytes]:
    return [text for text in sound_tank_files().values() if len(text) < _LARGEST]


def spoiled(target: str, known: list[bytes], chance: random.Random) -> bytes:
    """One known input, spoiled: as files are, by words that matter, or joined with another."""
    data = chance.choice(known)
    if target in MESHES or chance.random() < 0.3:
        data = mutated(data, chance)
    for _ in range(chance.choice((0, 1, 1, 2, 4))):
        at = chance.randrange(len(data) + 1)
        end = min(len(data), at + chance.choice((0, 0, 1, 3)))
        data = data[:at] + chance.choice(WORDS) + data[end:]
    if chance.random() < 0.1:
        other = chance.choice(known)
        data = data[: chance.randrange(len(data) + 1)] + other[chance.randrange(len(other) + 1) :]
    return data if target in MESHES else data[:_LARGEST]


def keep(target: str, data: bytes) -> Path:
    """Write an input to the corpus under its hash."""
    folder = CORPUS / target
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / hashlib.sha256(data).hexdigest()[:16]
    file.write_bytes(data)
    return file
