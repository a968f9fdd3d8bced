"""What the README shows is run as it stands: the commands, and the lines of Python."""

import re
import shlex
from pathlib import Path

import pytest
from program import run

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, flags=re.S)


def commands():
    """Every ``tanksolve COMMAND`` line of the shell blocks, without the program's own path.

    The block of questions, each told in a comment, is run by ``tests/present/test_answers.py``.
    """
    shell = (text for kind, text in BLOCKS if kind == "sh" and not text.startswith("# "))
    lines = (line for text in shell for line in text.splitlines())
    parts = (part for line in lines for part in line.split("&&"))
    return [p.strip() for p in parts if re.match(r"\s*(\.venv/bin/)?tanksolve ", p)]


@pytest.mark.parametrize("line", commands())
def test_a_command_of_the_readme_answers(line, tmp_path):
    words = shlex.split(line)[1:]
    words = [str(ROOT / w) if w.startswith("meshes/") else w for w in words]
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "tank limit" in done.stdout
    for name in words:
        if name.endswith(".png"):
            assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")


def test_there_are_commands_to_run():
    assert len(commands()) >= 2


def test_the_python_of_the_readme_runs(capsys):
    for code in (text for kind, text in BLOCKS if kind == "python"):
        exec(compile(code, "README.md", "exec"), {})
        assert "tank limit" in capsys.readouterr().out


def test_the_test_command_is_the_one_that_ci_runs():
    line = next(t for k, t in BLOCKS if k == "sh" and "pytest" in t).strip()
    assert line.replace("pip install -q", "pip install -q") in (ROOT / ".ci" / "run").read_text()
