"""Every command that a page of the docs shows is run, and what pools.md says is what comes out."""

import itertools
import re
import shlex
from pathlib import Path

import pytest
from program import answer, run

from tanksolve.units import slope_words

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted((ROOT / "docs").glob("**/*.md"))
POOLS = (ROOT / "docs" / "pools.md").read_text()


def commands():
    for page in PAGES:
        for block in re.findall(r"```sh\n(.*?)```", page.read_text(), flags=re.S):
            for line in block.splitlines():
                if line.startswith("tanksolve "):
                    yield pytest.param(line, id=f"{page.stem}: {line[:60]}")


def arguments(line):
    return [str(ROOT / w) if w.startswith("meshes/") else w for w in shlex.split(line)[1:]]


@pytest.mark.parametrize("line", list(commands()))
def test_a_command_of_the_docs_answers(line, tmp_path):
    done = run(*arguments(line), cwd=tmp_path)
    assert done.returncode in (0, 3), done.stderr
    words = shlex.split(line)
    written = [word for word in words if word.endswith((".png", ".svg", ".gif", ".html"))]
    written += [after for word, after in itertools.pairwise(words) if word == "--out"]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(written)


def test_from_a_cad_file_to_the_limits_in_two_commands(tmp_path):
    """Two commands, three options at most; the tank holds what its sizes say, less nothing but its plate."""
    pytest.importorskip("cascadio")
    page = (ROOT / "docs" / "from_cad.md").read_text()
    lines = re.findall(r"^\$ (tanksolve .*)$", page, flags=re.M)
    assert len(lines) == 2
    assert sum(line.count(" --") for line in lines) <= 3
    for line in lines:
        done = run(*arguments(line), cwd=tmp_path)
        assert done.returncode in (0, 3), done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plate_tank.png", "plate_tank.toml"]
    assert "56.96 L" in done.stdout  # 794 x 294 x 244 mm


def test_the_study_that_the_page_shows_is_the_one_that_runs():
    shown = re.search(
        r"```toml\n(tanksolve_study.*?)```", (ROOT / "docs/study.md").read_text(), re.S
    )
    assert (ROOT / "meshes/sump_study.toml").read_text().endswith("\n" + shown[1])


def test_the_volumes_of_the_pools_page():
    tank = str(ROOT / "meshes" / "two_bays.toml")
    down = answer("level", tank, "--attitude", "slope=25deg,heading=180deg")
    up = answer("level", tank, "--attitude", "slope=32deg,heading=0deg")
    assert down["ports"][0]["holds"] is False
    assert up["ports"][0]["holds"] is True
    assert f"{1000.0 * down['trapped_m3']:.2f} L" in POOLS
    assert f"{1000.0 * up['trapped_m3']:.2f} L" in POOLS
    assert up["pools"][1]["volume_m3"] == pytest.approx(0.4 * 0.2**2 / (2 * 0.624869), rel=1e-5)
    assert slope_words(0.5585053606).replace(".0°", "°") in POOLS


DESIGNER = (ROOT / "docs" / "designer.md").read_text()


def told_by(command, start=""):
    """What a command of the designer's page answers; the nth of its name by how it goes on."""
    lines = re.findall(rf"^tanksolve ({command} .*)$", DESIGNER, flags=re.M)
    (line,) = [line for line in lines if start in line]
    return run(*shlex.split(re.sub(r" --picture \S+", "", line)))


@pytest.mark.parametrize(
    ("command", "start", "code", "figures"),
    [
        ("marks", "suction=60,", 0, ["63.22 L", "68.43 L"]),
        ("place", "--kind pickup --opening bore=32mm,facing=down --require 20deg --picture", 0,
         ["5.95 L", "65.8 mm"]),
        ("place", "--at", 3, ["No: no height"]),
        ("marks", "--dipstick", 0, ["124.2 mm", "219.3 mm", "the fill given, 46.00 L, lies"]),
        ("size", "", 0, ["571.6 mm", "201.7 mm", "217.0 mm", "set by cap"]),
        ("tolerance", "", 0,
         ["30.0° (57.7 %)", "21.6° (39.5 %)", "4.58°", "10.7 %", "2.49°", "5.8 %", "2.06°", "4.8 %",
          "0.50°", "1.2 %"]),
        ("compare", "", 0, ["28.48 L", "63.22 L"]),
    ],
)  # fmt: skip
def test_the_designers_page_tells_what_comes_out(command, start, code, figures):
    done = told_by(command, start)
    assert done.returncode == code
    for figure in figures:
        assert figure in done.told
        if re.match(r"[\d.]+ (L|mm)$|[\d.]+°", figure):
            assert figure.removesuffix(")") in DESIGNER
