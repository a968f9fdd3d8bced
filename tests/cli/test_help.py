"""Help that fits a screen, with examples that run; and one rule for files and for options that have gone."""

import re
import shlex
import shutil
from dataclasses import fields
from pathlib import Path

import pytest
from program import run
from tanksolve_cli.main import program
from tanksolve_cli.tank_options import TankWords, option_name
from typer.main import get_command

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = {info.name: info for info in program().registered_commands}
BOX = ["--box", "900x300x300mm"]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_fits_a_screen(command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    shown = run(command, "--help").stdout.splitlines()
    assert max(map(len, shown)) <= 80
    assert len(shown) <= 60
    assert "--box" not in " ".join(shown) or "Example:" in " ".join(shown)


@pytest.mark.parametrize("topic", ["", "tank", "attitude"])
def test_pages_of_help_fit_a_screen(topic):
    shown = run("help", *([topic] if topic else [])).stdout.splitlines()
    assert max(map(len, shown)) <= 100
    assert 0 < len(shown) <= 60


def test_the_page_of_the_tank_names_every_shared_option():
    shown = run("help", "tank").stdout
    names = {f"--{f.name.rstrip('_').replace('_', '-')}" for f in fields(TankWords)}
    assert names - set(re.findall(r"--[a-z-]+", shown)) == {"--tank", "--units"}


def examples():
    for name, info in COMMANDS.items():
        for text in re.findall(r"tanksolve [^\n]+", info.epilog or ""):
            for one in re.split(r"   or   ", text):
                if not one.startswith("tanksolve help") or name == "help":
                    yield pytest.param(one, id=one[:60])


@pytest.mark.parametrize("text", list(examples()))
def test_examples_run(text, tmp_path):
    shutil.copytree(ROOT / "meshes", tmp_path / "meshes")
    shutil.copy(ROOT / "meshes" / "hillside_sprayer.stl", tmp_path / "tank.stl")
    shutil.copy(ROOT / "meshes" / "broken" / "flipped.stl", tmp_path / "scanned.stl")
    (tmp_path / "day.csv").write_text("time s,pitch deg,roll deg\n0,0,0\n1,2,1\n2,1,0\n")
    if text.startswith("tanksolve explain"):
        run("study", "meshes/sump_study.toml", "--out", "sump_study", cwd=tmp_path)
    done = run(*shlex.split(re.sub(r" >.*", "", text))[1:], cwd=tmp_path)
    assert done.returncode in (0, 3, 4), done.stderr


def test_the_program_alone_shows_what_most_people_want():
    shown = run().stdout
    told = [line.strip() for line in shown.splitlines() if line.startswith("    tanksolve ")]
    assert len(told) == 3
    assert {line.split()[1] for line in told} == {"envelope", "marks", "new"}
    assert "--install-completion" in shown
    assert run(*shlex.split(told[0])[1:]).returncode == 0


def test_a_file_is_not_written_over_unless_forced(tmp_path):
    table = tmp_path / "dip.csv"
    table.write_text("mine")
    done = run("dip", *BOX, "--csv", table)
    assert done.returncode == 2
    assert "is there already" in done.stderr
    assert "--force" in done.stderr
    assert table.read_text() == "mine"
    assert run("dip", *BOX, "--csv", table, "--force").returncode == 0
    assert table.read_text().startswith("depth_mm,volume_L,of_full_percent\n0.000,")


def options_of(command):
    return {
        (option, parameter.hidden)
        for parameter in get_command(program()).commands[command].params
        for option in parameter.opts
        if option.startswith("--")
    }


GONE = [
    (command, option)
    for command in COMMANDS
    for option, hidden in sorted(options_of(command))
    if hidden and option not in {option_name(f.name) for f in fields(TankWords)}
]


@pytest.mark.parametrize(("command", "option"), GONE)
def test_an_option_that_has_gone_names_what_took_its_place(command, option):
    value = () if option in ("--one-level", "--rotations") else ("x",)  # that took none
    done = run(command, *BOX, option, *value)
    assert done.returncode == 2
    assert f"{option}: this option has gone" in done.stderr
    advice = done.stderr.split("next: ")[1]
    named = set(re.findall(r"--[a-z-]+", advice))
    assert named <= {known for known, hidden in options_of(command) if not hidden}
    assert named or "leave it out" in advice


def test_old_options_of_every_kind_are_among_them():
    assert {"--one-level", "--plot", "--map", "--pump-flow", "--step", "--through"} <= {
        option for _, option in GONE
    }
    assert ("size", "--one-level") in GONE
    assert ("tolerance", "--one-level") in GONE


# a study's file says what is required of each variant
JUDGES_NOTHING = {
    "dip",
    "inspect",
    "repair",
    "new",
    "schema",
    "help",
    "study",
    "plate",
    "explain",
    "view",
}


@pytest.mark.parametrize("command", sorted(set(COMMANDS) - JUDGES_NOTHING))
def test_every_command_that_judges_takes_a_requirement(command):
    assert ("--require", False) in options_of(command)
