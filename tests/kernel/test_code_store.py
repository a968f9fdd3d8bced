"""Compiled code kept between runs: never stale, never in the package, never someone else's.

A copy of the package gets two small kernels in two files, one calling the other.
"""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from program import run

from tanksolve.kernel import code_store

PACKAGE = Path(code_store.__file__).resolve().parent.parent
CALLEE = """
from tanksolve.kernel.compiled import compiled_inner

@compiled_inner
def times(a):
    return 2 * a
"""
CALLER = """
from tanksolve.kernel.compiled import compiled
from tanksolve.kernel.trial_callee import times

@compiled
def outer(a):
    return times(a) + 1
"""
ASK = """
import sys
from tanksolve.kernel.trial_caller import outer
kind = {"int": int, "float": float, "bool": bool, "complex": complex}[sys.argv[1]]
print(outer(kind(1)).real, sum(outer._cache_hits.values()))
"""
ALONE = """
from numba import types
from tanksolve.kernel.trial_callee import times
times.compile((types.int64,))
"""


@pytest.fixture
def trial(tmp_path):
    """A folder with a copy of the package and an empty cache folder beside it."""
    copy = tmp_path / "copy" / "tanksolve"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "kernel" / "trial_callee.py").write_text(CALLEE)
    (copy / "kernel" / "trial_caller.py").write_text(CALLER)
    return tmp_path


def start(trial, kind="int", **more):
    away = {"PYTHONPATH", "XDG_CACHE_HOME", "HOME", "TMPDIR", "NUMBA_CACHE_DIR"}
    env = {name: value for name, value in os.environ.items() if name not in away}
    env |= {"PYTHONPATH": str(trial / "copy"), "PYTHONDONTWRITEBYTECODE": "1"}
    env |= more or {"XDG_CACHE_HOME": str(trial / "cache")}
    command = [sys.executable, "-W", "error", "-c", ASK, kind]
    return subprocess.Popen(
        command, env=env, cwd=trial, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def ended(process):
    """The number that the kernel gave, and how many of its signatures came from disk."""
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    value, hits = out.split()
    return float(value), int(hits)


def ask(trial, *words, **more):
    return ended(start(trial, *words, **more))


def kept(trial):
    return sorted(p for p in (trial / "cache" / "tanksolve").rglob("*") if p.is_file())


def test_an_edit_in_a_file_that_is_called_from_another_is_seen(trial):
    callee = trial / "copy" / "tanksolve" / "kernel" / "trial_callee.py"
    assert ask(trial) == (3.0, 0)
    callee.write_text(CALLEE.replace("2 * a", "5 * a"))
    assert ask(trial) == (6.0, 0)
    callee.write_text(CALLEE)
    assert ask(trial) == (3.0, 1)  # the old key is still there, and right


def test_a_second_run_compiles_nothing_and_the_package_is_not_written_to(trial):
    before = sorted((trial / "copy").rglob("*"))
    assert ask(trial) == (3.0, 0)
    files = kept(trial)
    assert len(files) == 2  # the kernel, and the one that it calls
    assert all(p.parent.stat().st_mode & 0o077 == 0 for p in files)
    assert ask(trial) == (3.0, 1)
    assert kept(trial) == files
    assert ask(trial, "float") == (3.0, 0)
    assert sorted((trial / "copy").rglob("*")) == before


def test_first_runs_at_once_do_not_take_each_others_code(trial):
    kinds = ["int", "float", "bool", "complex"]
    for process in [start(trial, kind) for kind in kinds + kinds]:
        assert ended(process)[0] == 3.0
    assert [ask(trial, kind) for kind in kinds] == [(3.0, 1)] * 4
    assert not [p for p in kept(trial) if p.name.endswith(".part")]


def test_a_damaged_file_is_compiled_anew(trial):
    ask(trial)
    file = next(p for p in kept(trial) if p.name.startswith("outer"))
    file.write_bytes(file.read_bytes()[:-7])
    assert ask(trial) == (3.0, 0)
    assert ask(trial) == (3.0, 1)


def test_without_a_home_a_private_temporary_folder_is_used(trial):
    (trial / "tmp").mkdir()
    places = {"HOME": "/dev/null/nobody", "TMPDIR": str(trial / "tmp")}
    assert ask(trial, "int", **places) == (3.0, 0)
    assert ask(trial, "int", **places) == (3.0, 1)
    (made,) = (trial / "tmp").iterdir()
    assert made.stat().st_mode & 0o077 == 0


@pytest.fixture
def apart(trial):
    """A trial in which every kernel is called, as large ones are, and not copied into its callers."""
    plumbing = trial / "copy" / "tanksolve" / "kernel" / "compiled.py"
    text = plumbing.read_text()
    limit = next(line for line in text.splitlines() if line.startswith("_CALLED_APART = "))
    plumbing.write_text(text.replace(limit, "_CALLED_APART = 0"))
    return trial


def named(trial, name):
    (file,) = [p for p in kept(trial) if p.name.startswith(name)]
    return file


def test_a_kernel_that_is_called_is_loaded_with_its_caller(apart):
    assert ask(apart) == (3.0, 0)
    copied = named(apart, "outer").stat().st_size
    assert ask(apart) == (3.0, 1)
    named(apart, "times").unlink()
    assert ask(apart)[0] == 3.0
    assert ask(apart) == (3.0, 1)
    assert named(apart, "outer").stat().st_size == copied


def test_a_caller_that_one_process_kept_calls_what_another_compiled(apart):
    """The other one compiled more before it; numba by itself would count, and name it differently."""
    ask(apart)
    named(apart, "times").unlink()
    later = "import numba; [numba.njit(lambda a: a)(k) for k in range(3)]\n" + ALONE
    env = os.environ | {"PYTHONPATH": str(apart / "copy"), "XDG_CACHE_HOME": str(apart / "cache")}
    subprocess.run([sys.executable, "-c", later], env=env, cwd=apart, check=True)
    assert ask(apart) == (3.0, 1)


@pytest.fixture
def fresh(tmp_path, monkeypatch):
    """The store of this process, pointed at an empty folder."""
    caches = (code_store._store, code_store.key_folder)
    for each in caches:
        each.cache_clear()
    monkeypatch.setattr(code_store, "_user_cache", lambda: tmp_path / "tanksolve")
    monkeypatch.setattr(code_store, "_temporary", lambda: None)
    yield tmp_path / "tanksolve"
    for each in caches:
        each.cache_clear()


def loosened(folder):
    folder.mkdir()
    folder.chmod(0o777)


def linked(folder):
    (folder.parent / "elsewhere").mkdir()
    folder.symlink_to(folder.parent / "elsewhere")


def occupied(folder):
    folder.write_text("")


@pytest.mark.parametrize("spoil", [loosened, linked, occupied])
def test_a_folder_that_others_could_have_filled_is_not_used(fresh, spoil):
    spoil(fresh)
    assert code_store.key_folder("1") is None
    done = run("--version")
    assert done.returncode == 0
    assert "kept nowhere" in done.stdout


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no owners here")
def test_a_folder_of_someone_else_is_not_used(fresh, monkeypatch):
    fresh.mkdir(mode=0o700)
    owner = os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: owner + 1)
    assert code_store.key_folder("1") is None


def test_old_keys_go_but_not_one_in_use(fresh):
    now = time.time()
    for k in range(20):
        folder = fresh / f"code-old{k:02}"
        folder.mkdir(mode=0o700, parents=True)
        (folder / "f").write_bytes(b"x")
        age = 60.0 if k < 10 else 1e6 + k
        os.utime(folder, (now - age, now - age))
    fresh.chmod(0o700)
    (fresh / "other").mkdir()
    made = code_store.key_folder("1")
    left = sorted(p.name for p in fresh.iterdir())
    assert left == sorted([made.name, "other", *(f"code-old{k:02}" for k in range(10))])


def test_what_cannot_be_written_is_not_kept_and_not_told(fresh, monkeypatch):
    folder = code_store.key_folder("1")

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(code_store.tempfile, "mkstemp", full)
        code_store.write(folder, "a", b"1")
    assert code_store.read(folder, "a") is None
    shutil.rmtree(folder)  # another run tidied up
    code_store.write(folder, "a", b"1")
    assert code_store.read(folder, "a") == b"1"


def test_code_is_not_kept_once_the_sources_have_changed(monkeypatch, tmp_path):
    assert code_store.is_fresh()
    monkeypatch.setattr(code_store, "_hash_at_start", lambda: "another")
    assert not code_store.is_fresh()
    assert code_store.sources_hash(str(tmp_path)) == ""


def test_the_program_says_where_code_is_kept_and_how_much(fresh):
    code_store.write(code_store.key_folder("1"), "a", bytes(5_000_000))
    done = run("--version")
    assert str(fresh) in done.stdout
    assert "5.0 MB" in done.stdout
