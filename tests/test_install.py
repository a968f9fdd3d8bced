"""The program as users get it: built, installed and run from outside of the clone.

Both README commands in one environment, in their order. What the packages need is taken from the
environment of the tests, so that only setuptools is downloaded.
"""

import json
import os
import re
import shutil
import subprocess
import sysconfig
import venv
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
BOX = ("--box", "900x300x300mm", "--fill", "42L", "--pickup", "suction=20,150,30mm,bore=38mm")
BUILD = """
import sys
from setuptools import build_meta
print(build_meta.build_sdist(sys.argv[1]))
"""


class Environment:
    """A virtual environment that sees the test environment's packages once they are needed."""

    def __init__(self, folder):
        self.folder = folder
        venv.create(folder / "env", with_pip=True)
        self.scripts = folder / "env" / ("Scripts" if os.name == "nt" else "bin")
        found = self.run("python", "-c", "import sysconfig; print(sysconfig.get_path('purelib'))")
        self.packages = Path(found.strip())
        self.pip("setuptools>=77")

    def pip(self, *words):
        self.run("python", "-m", "pip", "install", "-q", *words)

    def run(self, program, *words, cwd=None, code=0):
        keep = {"PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV"}
        done = subprocess.run(
            [str(self.scripts / program), *map(str, words)],
            env={name: value for name, value in os.environ.items() if name not in keep},
            cwd=cwd or self.folder,
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout or done.stderr

    def borrow(self):
        """Let the environment see what the tests run with; a path file in there is not followed."""
        (self.packages / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n")

    def answer(self, *words):
        return json.loads(self.run("tanksolve", *words, "--json"))


def home(env):
    return Path(env.run("python", "-c", "import tanksolve; print(tanksolve.__file__)").strip())


def sources(folder):
    return {
        str(p.relative_to(folder))
        for p in folder.rglob("*")
        if p.suffix in (".py", ".toml", ".typed")
    }


@pytest.fixture(scope="module")
def clone(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clone") / "tanksolve"
    away = shutil.ignore_patterns(".*", "__pycache__", "tests", "build", "*.egg-info")
    shutil.copytree(ROOT, folder, ignore=away)
    return folder


@pytest.fixture(scope="module")
def env(tmp_path_factory):
    return Environment(tmp_path_factory.mktemp("installed"))


def test_source_archive_and_wheel_hold_the_whole_program(env, clone):
    env.run("python", "-c", BUILD, env.folder, cwd=clone)
    (archive,) = env.folder.glob("tanksolve-*.tar.gz")
    env.pip("--no-deps", "--no-build-isolation", archive)
    env.borrow()
    assert home(env) == env.packages / "tanksolve" / "__init__.py"
    for package, source in (("tanksolve", "tanksolve"), ("tanksolve_cli", "cli/tanksolve_cli")):
        assert sources(env.packages / package) == sources(clone / source)
    assert "tanksolve 0." in env.run("tanksolve", "--version")


def test_the_second_readme_command_after_the_first_in_one_environment(env, clone):
    env.pip("--no-deps", "--no-build-isolation", clone)
    env.borrow()
    before = env.answer("level", *BOX, "--attitude", "5deg")
    installed = [p for p in (env.packages / "tanksolve").rglob("*") if p.is_file()]
    assert {p.suffix for p in installed} <= {
        ".py",
        ".pyc",
        ".toml",
        ".typed",
        ".js",
        ".css",
        ".html",
    }
    (env.packages / "borrowed.pth").unlink()
    env.pip("--no-deps", "--no-build-isolation", "-e", clone)
    env.borrow()
    assert home(env) == clone / "tanksolve" / "__init__.py"
    assert env.answer("level", *BOX, "--attitude", "5deg") == before
    assert env.answer("envelope", *BOX)["format"] == "tanksolve-envelope"
    assert (
        env.answer("marks", *BOX[:2], *BOX[4:], "--require", "5deg")["format"] == "tanksolve-marks"
    )


def test_what_an_earlier_version_left_behind_is_told(env, clone):
    env.pip("--no-deps", "--no-build-isolation", "-e", clone)
    env.borrow()
    leftover = env.packages / "tanksolve" / "kernel" / "__pycache__"
    leftover.mkdir(parents=True)
    told = env.run("tanksolve", "--version", code=1)
    assert told.startswith(f"tanksolve: '{env.packages / 'tanksolve'}' was left behind")
    assert "Traceback" not in told
    shutil.rmtree(env.packages / "tanksolve")
    assert "tanksolve 0." in env.run("tanksolve", "--version")


def test_every_test_file_is_collected(pytestconfig):
    """pytest passes over folders with some names, such as ``build``, without a word."""
    skipped, named = (pytestconfig.getini(key) for key in ("norecursedirs", "python_files"))
    for path in ROOT.glob("tests/**/*.py"):
        inside = path.relative_to(ROOT)
        folders = [part for part in inside.parts[:-1] if any(fnmatch(part, s) for s in skipped)]
        is_test = any(fnmatch(path.name, pattern) for pattern in named)
        tests = re.search(r"^(async )?def test_|^class Test", path.read_text(), re.MULTILINE)
        assert bool(tests) == is_test, f"{inside} is not taken for a file of tests, or has none"
        assert not (is_test and folders), f"{inside} is never run"
