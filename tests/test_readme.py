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


def test_the_table_of_speed_is_one_that_its_command_printed():
    """Its lines have the form that the command gives them; figures are its own, of one machine and day."""
    source = (ROOT / "tests" / "benchmarks" / "table.py").read_text()
    start, end = re.search(r'START, END = "(.*?)", "(.*?)"', source).groups()
    (made,) = re.findall(f"{re.escape(start)}\n(.*?)\n{re.escape(end)}", README, flags=re.S)
    heads = re.findall(r'"(\| (?:volume|what) .*?)",', source)
    assert next(line for line in made.splitlines() if line.startswith("| ")) == heads[0]
    assert heads[1] in made
    cell = r" [0-9,.]+ x(?: \(wrong on \d+ of \d+\))? \|"
    row = rf"^\| [a-z ]+, [0-9,]+ faces \| 1 \([0-9,]+ nodes visited\) \|(?:{cell}){{4}}$"
    assert len(re.findall(row, made, flags=re.M)) == 3
    assert re.search(
        r"in one run \(\d{4}-\d\d-\d\d\)\. .*processors.*numba [0-9.]+.*vtk [0-9.]+", made
    )
