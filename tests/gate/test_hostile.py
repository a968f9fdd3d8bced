"""Inputs made to hang, to fill the memory, or to say something to the terminal that they should not.

Each was seen to succeed once. Each ends in one message, or in a right answer, within 10 s of processor time
and 1 GB.
"""

import gzip
import json
import os
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from pathlib import Path

import pytest
from program import run
from solids_by_hand import box, write_stl

from tanksolve.errors import OutputError
from tanksolve.geometry import stl
from tanksolve.plain_text import clean
from tanksolve.questions.replay import log_file
from tanksolve.study.rows_file import RowsFile, read_row

ROOT = Path(__file__).resolve().parents[2]
SECONDS, BYTES = 10.0, 1 << 30
AXES = ("--unit", "mm", "--forward", "+x", "--up", "+z")
BOX = ("--box", "900x300x300mm", "--fill", "42L")
TANK = """tanksolve_file = 1
name = "t"
fill = "42 L"
[tank]
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"
"""
PORT = '[[port]]\nname = "p"\nkind = "pickup"\nat = "20, 150, 30 mm"\nbore = "38 mm"\n'
MODEL = (
    b'<?xml version="1.0"?><model unit="millimeter" '
    b'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
)


# A process begins with the peak memory of the one that started it, here a test runner that may be large:
# so a small one starts the program and tells what it took.
LAUNCH = (
    "import os, sys; pid = os.posix_spawn(sys.argv[2], sys.argv[2:], os.environ); "
    "_, status, used = os.wait4(pid, 0); "
    "open(sys.argv[1], 'w').write(f'{used.ru_utime + used.ru_stime} {used.ru_maxrss}'); "
    "os._exit(os.waitstatus_to_exitcode(status) & 255)"
)


class Ended:
    """A run of the program in a process of its own: what a shell sees, and what it took."""

    def __init__(self, *words, cwd, stdout=subprocess.PIPE, act=None):
        command = [sys.executable, "-m", "tanksolve_cli", *map(str, words)]
        with tempfile.NamedTemporaryFile() as report:
            launched = [sys.executable, "-c", LAUNCH, report.name, *command]
            self._run(command if act else launched, cwd, stdout, act)
            told = Path(report.name).read_text().split()
        if told:
            self.seconds, kilobytes = float(told[0]), int(told[1])
            self.bytes = kilobytes * (1 if sys.platform == "darwin" else 1024)

    def _run(self, command, cwd, stdout, act):
        process = subprocess.Popen(
            command,
            env={**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'cli'}"},
            cwd=cwd,
            stdout=stdout,
            stderr=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
        )
        timer = threading.Timer(300.0, process.kill)
        timer.start()
        if act is not None:
            act(process)
        streams = [stream for stream in (process.stdout, process.stderr) if stream is not None]
        texts = [stream.read().decode() for stream in streams]
        _, status, used = os.wait4(process.pid, 0)
        timer.cancel()
        for stream in streams:
            stream.close()
        self.stderr = texts[-1]
        self.returncode = process.returncode = os.waitstatus_to_exitcode(status)
        self.seconds = used.ru_utime + used.ru_stime


def one_message(stderr, *words):
    """Whether stderr holds one message of the program, fit for a terminal, with these words."""
    told = stderr[stderr.index("tanksolve: ") :]
    assert "Traceback" not in stderr
    assert stderr.count("tanksolve: ") == 1
    assert clean(stderr) == stderr
    assert len(told) < 3000
    for word in words:
        assert word in told


def archive_of_spaces(path):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        with archive.open("3D/3dmodel.model", "w", force_zip64=True) as file:
            file.write(MODEL)
            for _ in range(20):
                file.write(b" " * 10_000_000)


def glb_of(count):
    """A glTF of a few hundred bytes whose positions are ``count`` points of nothing, but for one."""

    def write(path):
        sparse = {
            "count": 1,
            "indices": {"bufferView": 0, "componentType": 5125},
            "values": {"bufferView": 0},
        }
        tree = {
            "asset": {"version": "2.0"},
            "scene": 0,
            "scenes": [{"nodes": [0]}],
            "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
            "accessors": [
                {"componentType": 5126, "count": count, "type": "VEC3", "sparse": sparse},
                {"componentType": 5125, "count": 300, "type": "SCALAR"},
            ],
            "bufferViews": [{"buffer": 0, "byteLength": 12}],
            "buffers": [{"byteLength": 12}],
        }
        text = json.dumps(tree).encode()
        text += b" " * (-len(text) % 4)
        body = struct.pack("<II", len(text), 0x4E4F534A) + text
        body += struct.pack("<II", 12, 0x004E4942) + bytes(12)
        path.write_bytes(struct.pack("<III", 0x46546C67, 2, 12 + len(body)) + body)

    return write


def hollow(path):
    with path.open("wb") as file:
        file.truncate(1_900_000_000)


def endless_solid(path):
    with path.open("wb") as file:
        file.write(b"solid a\nfacet normal 0 0 1\n")
        file.truncate(1_900_000_000)


def late_endsolid(path):
    path.write_bytes(b"solid a\nfacet normal 0 0 1\nendsolid" + b" " * 1_000_000 + b"x\ny")


MESHES = {
    "spaces.3mf": (archive_of_spaces, "inflate to"),
    "points.glb": (glb_of(400_000_000), "memory"),
    "fewer.glb": (glb_of(30_000_000), "memory"),
    "hollow.stl": (hollow, "no faces"),
    "endless.stl": (endless_solid, "malformed"),
    "late.stl": (late_endsolid, "truncated STL"),
    "pipe.obj": (os.mkfifo, "a pipe or a device"),
    "device.stl": (lambda path: path.symlink_to("/dev/zero"), "a pipe or a device"),
    "folder.ply": (Path.mkdir, "a folder"),
}


@pytest.mark.parametrize("name", MESHES)
def test_a_mesh_made_to_hang_or_to_fill_the_memory_is_refused(tmp_path, name):
    make, words = MESHES[name]
    make(tmp_path / name)
    done = Ended("inspect", name, *AXES, cwd=tmp_path)
    assert done.returncode == 2
    one_message(done.stderr, name, words)
    assert done.seconds < SECONDS
    assert done.bytes < BYTES
    assert [p.name for p in tmp_path.iterdir()] == [name]


def ports(count):
    return "".join(PORT.replace('"p"', f'"p{k}"') for k in range(count))


def baffles(count):
    plate = '[[baffle]]\nname = "b{0}"\nstands = "across"\nat = "{1} mm"\nthickness = "0.3 mm"\n'
    return "".join(plate.format(k, 0.8 * k + 5.0) for k in range(count))


def profile(count):
    corners = ";".join(f"{k % 10},{k % 7}" for k in range(count))
    return f'tanksolve_file = 1\n[tank]\nshape = "extrusion"\nlength = "1 m"\nprofile = "{corners} mm"\n'


TANKS = {
    "spaces": (TANK.replace("42 L", "42" + " " * 19_000 + "L x"), "too long for a quantity"),
    "many spaces": (TANK.replace("42 L", "42" + " " * 50_000 + "L x"), "50,005 characters"),
    "dots": (TANK + ".".join(["a"] * 300_000) + " = 1\n", "too many parts"),
    "dots in a header": (TANK + "[" + ".".join(["a"] * 300_000) + "]\n", "too many parts"),
    "dots in a table": (TANK + "x = { " + ".".join(["a"] * 300_000) + " = 1 }\n", "too many parts"),
    "quoted dots": (TANK + ".".join(['""'] * 200_000) + " = 1\n", "too many parts"),
    "spaces in a header": (TANK + '["a' + " " * 300_000 + 'b"]\n', "line 9, a  "),
    "arrays": (TANK + "".join(f"a{k} = []\n" for k in range(70_000)), "70,004 are given"),
    "brackets": (TANK + "a = " + "[" * 100_000, "not a sensible TOML text"),
    "ports": (TANK + ports(9_000), "9,000 are given"),
    "baffles": (TANK + baffles(1_000), "1,000 are given"),
    "corners": (profile(200_000), "a text of"),
    "bore": (TANK + PORT.replace('"38 mm"', '"1e300 mm"'), "greater than any length"),
    "place": (TANK + PORT.replace("20, 150, 30 mm", "9e307, 150, 30 m"), "greater than any"),
    "colours": (TANK + PORT.replace('"p"', '"p\\u001b[31m\\u009b2J"'), "not seen"),
    "direction": (TANK.replace('"t"', '"\\u202egnp.t"'), "not seen"),
    "long name": (TANK + PORT.replace('"p"', '"' + "q" * 20_000 + '"'), "20,000 characters"),
    "zero byte": (
        'tanksolve_file = 1\n[tank]\nshape = "mesh"\nfile = "a\\u0000b.stl"\n',
        "not seen",
    ),
    "long key": (TANK + "q" * 300_000 + " = 1\n", "tank.qqq"),
    "long value": (TANK.replace('"box"', '"' + "q" * 19_000 + '"'), "is not known"),
}


@pytest.mark.parametrize("name", TANKS)
def test_a_tank_file_made_to_hang_is_refused(tmp_path, name):
    text, words = TANKS[name]
    (tmp_path / "t.toml").write_text(text)
    begun = time.process_time()
    done = run("level", "t.toml", "--attitude", "5deg,0deg", cwd=tmp_path)
    assert time.process_time() - begun < SECONDS
    assert done.returncode == 2
    one_message(done.stderr, "t.toml", words)
    assert done.stdout == ""


@pytest.mark.parametrize("make", [os.mkfifo, lambda path: path.symlink_to("/dev/zero")])
def test_a_tank_file_that_never_ends_is_refused(tmp_path, make):
    make(tmp_path / "t.toml")
    done = run("level", "t.toml", "--attitude", "5deg,0deg", cwd=tmp_path)
    assert done.returncode == 2
    one_message(done.stderr, "t.toml", "a pipe or a device")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--fill", "42" + " " * 50_000 + "L"), "too long for a quantity"),
        (("--pickup", "a=20,150,30mm,bore=1e300mm"), "greater than any length"),
        (("--pickup", "a=9e307,150,30m"), "greater than any length"),
        (("--pickup", "\x1b]0;gone\x07=20,150,30mm"), "'\\u001b]0;gone\\u0007' holds"),
        (("--pickup", "\u202ea=20,150,30mm"), "not seen"),
        (("--pickup", "a" * 15_000 + "=20,150,30mm"), "15,000 characters"),
        (("--pickup", "a=" + "1," * 10_000 + "mm"), "10001 numbers"),
        (("--cylinder", "\x1b[2J"), "\\u001b[2J"),
    ],
)
def test_an_option_made_to_hang_or_to_speak_is_refused(words, told):
    first = () if "--cylinder" in words else BOX
    begun = time.process_time()
    done = run("level", *first, "--attitude", "5deg,0deg", *words)
    assert time.process_time() - begun < SECONDS
    assert done.returncode == 2
    one_message(done.stderr, told)


@pytest.mark.parametrize("name", ["x" * 300 + ".png", "x" * 250 + "/" + "y.png"])
def test_a_name_that_no_file_can_have_is_refused_before_solving(tmp_path, name):
    port = ("--pickup", "a=20,150,30mm,bore=38mm")
    done = run("envelope", *BOX, *port, "--plan", name, cwd=tmp_path)
    assert done.returncode == 2
    one_message(done.stderr)


def test_a_name_as_long_as_a_file_can_have_is_taken(tmp_path):
    name = "x" * 250 + ".toml"
    assert run("new", name, cwd=tmp_path).returncode == 0
    assert [p.name for p in tmp_path.iterdir()] == [name]


def test_names_in_the_answer_cannot_speak_to_the_terminal(tmp_path):
    name = "t\x1b[31m\u202e.stl"
    write_stl(tmp_path / name, box((900, 300, 300)))
    done = run("level", name, *AXES, "--fill", "42L", "--attitude", "5deg,0deg", cwd=tmp_path)
    assert done.returncode == 0
    assert clean(done.stdout + done.stderr) == done.stdout + done.stderr


LOG = b"time s,pitch deg,roll deg\n"
REPLAY = ("replay", *BOX, "--pickup", "a=20,150,30mm,bore=38mm,facing=down", "--log")


def packed(path):
    with gzip.open(path, "wb", compresslevel=1) as file:
        file.write(LOG)
        file.write(b"1,0,0\n" * 2_000_000)


LOGS = {
    "one line.csv": (
        lambda path: path.write_bytes(LOG + b"0,0,0\n" + b"1" * 40_000_000),
        "a line of",
    ),
    "header.csv": (lambda path: path.write_bytes(b"x" * 40_000_000), "a line of"),
    "returns.csv": (lambda path: path.write_bytes(b"a,b\r1,2\r" + b"1" * 9_000_000), "a line of"),
    "times.csv": (lambda path: path.write_bytes(LOG + b"-1e308,1,x\n1e308,1,x\n" * 40), "time s"),
    "rows.csv.gz": (packed, "no log shrinks so far"),
    "pipe.csv": (os.mkfifo, "a pipe or a device"),
    "device.csv": (lambda path: path.symlink_to("/dev/zero"), "a pipe or a device"),
    "circle.csv": (lambda path: path.symlink_to(path.name), "too many levels"),
    "folder.csv": (Path.mkdir, "a folder"),
}


@pytest.mark.parametrize("name", LOGS)
def test_a_log_made_to_hang_or_to_fill_the_memory_is_refused(tmp_path, name, monkeypatch):
    """A line without end was read whole, megabyte by megabyte, copied each time: minutes of 700 MB."""
    make, words = LOGS[name]
    monkeypatch.setattr(log_file, "_PLENTY", 1_000_000)
    make(tmp_path / name)
    begun = time.process_time()
    done = run(*REPLAY, name, cwd=tmp_path)  # numpy's warnings are errors here
    assert time.process_time() - begun < SECONDS
    assert done.returncode == 2, done.stderr
    one_message(done.stderr, name, words)


def test_a_log_that_is_still_written_to_is_read_as_far_as_it_was(tmp_path):
    file = tmp_path / "day.csv"
    file.write_bytes(LOG + b"0,0,0\n")
    with log_file._Text(file) as text, file.open("ab") as more:
        more.write(b"1,1,0\n" * 1000)
        more.flush()
        assert text.read(10) + text.read(10_000) == LOG + b"0,0,0\n"
        assert text.read(10) == b""


def test_a_mesh_that_grows_shorter_while_it_is_read_is_refused(tmp_path, monkeypatch):
    """What was not there stood in memory as it was found, as corners."""
    write_stl(tmp_path / "t.stl", box((900, 300, 300)))
    once = stl._binary

    def shorter(file, *words):
        os.truncate(tmp_path / "t.stl", 300)
        return once(file, *words)

    monkeypatch.setattr(stl, "_binary", shorter)
    done = run("inspect", "t.stl", *AXES, cwd=tmp_path)
    assert done.returncode == 2
    one_message(done.stderr, "t.stl", "grew shorter")


ENDLESS = [os.mkfifo, lambda path: path.symlink_to("/dev/zero")]


@pytest.mark.parametrize("make", ENDLESS)
def test_results_of_a_study_that_never_end_are_refused(tmp_path, make):
    make(tmp_path / "study.json")
    done = run("explain", tmp_path)
    assert done.returncode == 2
    one_message(done.stderr, "is no result of a study")


@pytest.mark.parametrize("make", ENDLESS)
@pytest.mark.parametrize(
    "read", [lambda path: read_row(path, None), lambda path: RowsFile(path, 1)]
)
def test_rows_of_a_study_that_never_end_are_refused(tmp_path, make, read):
    make(tmp_path / "rows.log")
    with pytest.raises(OutputError, match="a pipe or a device"):
        read(tmp_path / "rows.log")


@pytest.mark.parametrize(
    ("words", "twice"),
    [
        ((*REPLAY, "day.csv", "--csv", "day.csv", "--force"), "day.csv"),
        ((*REPLAY, "day.csv", "--csv", "./link.csv", "--force"), "day.csv"),
        (("marks", *BOX, "--require", "5deg", "--picture", "a.png", "--picture", "a.png"), "a.png"),
    ],
)
def test_a_file_named_twice_is_not_written_over(tmp_path, words, twice):
    (tmp_path / "day.csv").write_bytes(LOG + b"0,0,0\n1,1,0\n")
    (tmp_path / "link.csv").symlink_to("day.csv")
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2
    one_message(done.stderr, twice, "named twice")
    assert (tmp_path / "day.csv").read_bytes() == LOG + b"0,0,0\n1,1,0\n"


def test_pictures_do_not_hang_on_the_preferences_of_the_drawing_library(tmp_path, monkeypatch):
    """A file of them in the folder named a font that there is not, and said so on the terminal."""
    words = (*BOX, "--pickup", "a=20,150,30mm,bore=38mm,facing=down", "--attitude", "5deg,0deg")
    plain, odd = Ended("level", *words, "--picture", "a.png", cwd=tmp_path), None
    (tmp_path / "matplotlibrc").write_text("text.usetex: True\nfont.family: no such font\n")
    monkeypatch.setenv("MPLBACKEND", "no such backend")
    odd = Ended("level", *words, "--picture", "b.png", cwd=tmp_path)
    assert plain.returncode == odd.returncode == 0, odd.stderr
    assert "font" not in odd.stderr
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


CLOSED = "import os, sys; [os.close(int(n)) for n in sys.argv[1].split(',')]; "
CLOSED += "os.execv(sys.executable, [sys.executable, '-m', 'tanksolve_cli', *sys.argv[2:]])"


@pytest.mark.parametrize(("numbers", "code"), [("1", 1), ("0", 0), ("2", 0), ("0,1,2", 1)])
def test_streams_that_are_closed_from_the_start(tmp_path, numbers, code):
    """Without stdout the program ended in an AttributeError."""
    env = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'cli'}"}
    command = [sys.executable, "-c", CLOSED, numbers, "dip", "--box", "90x30x30cm", "--step", "5cm"]
    done = subprocess.run(
        command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == code
    if numbers == "1":
        one_message(done.stderr, "the answer cannot be written: Bad file descriptor")
    else:
        assert done.stderr == ""
    assert ("81.00 L" in done.stdout) == (code == 0)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device here")
def test_a_full_device_is_told_in_one_message(tmp_path):
    with Path("/dev/full").open("w") as full:
        done = Ended("level", *BOX, "--attitude", "5deg,0deg", cwd=tmp_path, stdout=full)
    assert done.returncode == 1
    one_message(done.stderr, "the answer cannot be written")


def test_a_closed_pipe_is_no_fault(tmp_path):
    here, there = os.pipe()
    os.close(here)
    with os.fdopen(there, "w") as pipe:
        done = Ended("level", *BOX, "--attitude", "5deg,0deg", cwd=tmp_path, stdout=pipe)
    assert done.returncode == 0
    assert "tanksolve:" not in done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


PAUSE = """
import signal
signal.signal(signal.SIGINT, signal.default_int_handler)  # a runner may have it ignored
signal.signal(signal.SIGHUP, signal.SIG_DFL)
import sys, time
from tanksolve import files
from tanksolve_cli.start import run
def slow(temporary):
    temporary.write_text("half")
    sys.stdout.write("writing\\n"); sys.stdout.flush()
    time.sleep(100)
files._write = lambda path, text: slow(path)
run()
"""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_in_one_line_and_leaves_nothing_half_written(tmp_path, number):
    process = subprocess.Popen(
        [sys.executable, "-c", PAUSE, "new", "t.toml"],
        env={**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'cli'}"},
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline() == "writing\n"
    assert len(list(tmp_path.iterdir())) == 1
    process.send_signal(number)
    _, stderr = process.communicate(timeout=60)
    assert process.returncode == 128 + number
    assert stderr == f"tanksolve: stopped by {number.name}; nothing half-written is left\n"
    assert list(tmp_path.iterdir()) == []


CALLED = """
import ctypes, os, signal, sys, time
signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)
from tanksolve_cli import main, start
number, name = int(sys.argv[1]), sys.argv[2]
def send():
    os.kill(os.getpid(), number)
    return sum(k for k in range(1000))
exec(f"def {name}(*_): send()")
def work():
    if name == "__del__":
        type("Going", (), {"__del__": __del__})()
    else:
        ctypes.CFUNCTYPE(None)(globals()[name])()
    time.sleep(20)
main.run = work
start.run()
"""


def ends_with_one_line(number, code, *words):
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        env={**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'cli'}"},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 128 + number
    assert done.stderr == f"tanksolve: stopped by {number.name}; nothing half-written is left\n"


@pytest.mark.parametrize(
    ("number", "name"),
    [
        (signal.SIGINT, "_raw_object_cache_notify"),
        (signal.SIGTERM, "_raw_object_cache_notify"),
        (signal.SIGHUP, "__del__"),
        (signal.SIGTERM, "another"),
    ],
)
def test_a_signal_is_heard_where_c_has_called_python(number, name):
    """So it comes while the solver is compiled: a traceback was printed, and the program went on."""
    ends_with_one_line(number, CALLED, str(int(number)), name)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_is_heard_while_the_program_loads(number):
    """Ctrl-C in the first third of a second printed a traceback of imports."""
    slow = (
        "import os, signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "signal.signal(signal.SIGHUP, signal.SIG_DFL); from tanksolve_cli import start; import builtins\n"
        "once = builtins.__import__\n"
        "def load(name, *words):\n"
        "    if name == 'typer': os.kill(os.getpid(), int(sys.argv.pop()))\n"
        "    return once(name, *words)\n"
        "builtins.__import__ = load\n"
        "start.run()"
    )
    ends_with_one_line(number, slow, "--version", str(int(number)))


def test_a_fault_of_the_program_is_one_message_with_what_to_report(monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("a \x1b[31m fault")

    monkeypatch.delenv("TANKSOLVE_DEBUG", raising=False)
    monkeypatch.setattr("tanksolve.project.inline.parse_tank", broken)
    done = run("level", *BOX, "--attitude", "5deg,0deg")
    assert done.returncode == 1
    one_message(done.stderr, "ZeroDivisionError", "report this", "TANKSOLVE_DEBUG")
    monkeypatch.setenv("TANKSOLVE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("level", *BOX, "--attitude", "5deg,0deg")
