"""What somebody who has the README alone is told: what was asked, what is missing, and what to type next."""

import io
import sys

import pytest
from program import run

from tanksolve.present import refusals

BOX = ["--box", "800x400x350mm", "--fill", "60L"]
PICKUP = ["--pickup", "suction=400,200,60mm,bore=32mm,facing=down"]
LINE = ["--liquid", "ISO VG 46", "--flow", "60L/min", "--line", "38.1mm,1.5m,2 elbow"]


def refused(*words):
    """The refusal, without regard to where lines end."""
    done = run(*words)
    assert done.returncode == 2, done.stdout
    assert done.stdout == ""
    return " ".join(done.stderr.split())


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("pitch=15deg", "pitch alone up to nose up 15.0° (26.7 % grade), nose down 15.0° "
         "(26.7 % grade), with roll 0.0° (every heading: --require 15deg)"),
        ("roll=10deg", "roll alone up to left side down 10.0° (17.6 % grade), right side down 10.0° "
         "(17.6 % grade), with pitch 0.0° (every heading: --require 10deg)"),
        ("nose_up=5deg,nose_down=8deg", "with roll 0.0° (every heading: --require 8deg)"),
    ],
)  # fmt: skip
def test_pitch_or_roll_alone_says_so_in_line_one(asked, says):
    told = run("envelope", *BOX, *PICKUP, "--require", asked).told
    assert told.startswith("Yes: kept in ")
    assert says in told.split(". In every heading")[0]


def test_pitch_with_roll_is_told_without_that():
    told = run("envelope", *BOX, *PICKUP, "--require", "pitch=10deg,roll=5deg").told
    assert "every pitch and roll (inclinometer) up to nose up 10.0°" in told
    assert "every heading: --require" not in told


def test_a_slope_without_heading_is_refused_wherever_it_is_written():
    required = refused("envelope", *BOX, *PICKUP, "--require", "slope=15deg")
    assert "slope=15deg has no heading" in required
    assert (
        "next: write --require 15deg for every heading, or --require slope=15deg,heading="
        in required
    )
    assert "left out" not in required
    at = refused("level", *BOX, *PICKUP, "--attitude", "slope=15deg")
    assert "slope=15deg has no heading" in at
    assert "--attitude slope=15deg,heading=0deg for nose up, heading=90deg for right side" in at
    right = run("level", *BOX, *PICKUP, "--attitude", "slope=15deg,heading=90deg").told
    assert "right side down" in right.split(":")[0]


def test_two_angles_are_asked_what_each_is():
    told = refused("envelope", *BOX, *PICKUP, "--require", "15deg,0deg")
    assert "'15deg,0deg' does not say what each angle is" in told
    assert "next: write pitch=15deg,roll=0deg for all up to these" in told
    assert "at_pitch=15deg,at_roll=0deg for that one attitude; 15deg for every heading" in told


@pytest.mark.parametrize("source", ["none", "?", "n/a", "N/A.", "unknown", "-"])
def test_no_plate_is_made_of_a_source_that_is_none(source):
    limit = ["--machine-limit", f"20deg, {source}", "--allowance", "3deg"]
    assert f"'{source}' is no source of the machine maker's limit" in refused(
        "plate", *BOX, *PICKUP, *limit
    )


def test_a_plate_tells_which_of_figure_and_source_is_missing():
    plate = ["plate", *BOX, *PICKUP, "--allowance", "3deg", "--machine-limit"]
    assert "'20deg' lacks its source: where the figure stands" in refused(*plate, "20deg")
    assert "', manual' has no figure before its source" in refused(*plate, ", manual")


def test_suction_tells_what_passes_of_what_was_asked():
    told = run("suction", *LINE, "--level", "300mm", "--from", "0C", "--to", "80C").told
    assert "only 3.0 °C to 80.0 °C does" in told
    assert "at 0.0 °C, at sea level, 60.0 L/min" in told
    assert "smallest bore that passes 50.8 mm" in told
    high = run("suction", *LINE, "--level", "300mm", "--altitude", "2000m").told
    assert "2000.0 m above the sea" in high
    cold = run("suction", *LINE, "--level", "300mm", "--from=-10C", "--to=-5C").told
    assert "nothing of -10.0 °C to -5.0 °C passes: 3.0 °C to 150.0 °C would" in cold


def test_suction_shows_where_the_pumps_least_pressure_is_from_with_a_tank_too():
    told = run(
        "suction", *LINE, *BOX, *PICKUP, "--pump", "400,200,-300mm", "--require", "10deg"
    ).told
    assert "--full tells" in told
    assert "common practice, no source; use the pump maker's figure" in told


def test_suction_without_a_level_says_what_to_type():
    told = refused("suction", *LINE)
    assert (
        "next: add --level 300mm, how high the liquid's surface stands over the pump's inlet"
        in told
    )
    assert "--level=-300mm where the pump lifts it" in told
    assert run("suction", *LINE, "--level=-300mm", "--from", "20C").returncode in (0, 3)


SPOT = ["--require", "15deg", "--opening", "bore=38mm,facing=down", "--at", "450,150mm"]


def test_a_pickup_at_a_spot_is_kept_off_the_floor():
    told = run("place", *BOX, *SPOT).told
    assert "lowest 25.4 mm above the floor, to leave 25.4 mm under the mouth" in told
    assert "under the mouth: fill more" not in told
    wide = run("place", *BOX, *SPOT[:2], "--opening", "bore=60mm,facing=down", *SPOT[4:]).told
    assert "lowest 30.0 mm above the floor" in wide
    low = run("place", "--box", "800x400x350mm", "--fill", "35L", *SPOT).told
    assert "that leaves less than 25.4 mm under the mouth" in low.split("highest")[0]
    assert (
        "above the floor: the roof"
        in run("place", *BOX, *SPOT[:2], "--kind", "breather", *SPOT[4:]).told
    )


def test_off_floor_at_a_spot_says_what_is_told_there():
    told = refused("place", *BOX, *SPOT, "--off-floor", "20mm")
    assert "leave out --at to search the tank with --off-floor" in told
    assert "with room under its mouth" in told


@pytest.mark.parametrize("option", ["--baffle", "--baffles", "--sump", "--internal"])
def test_what_stands_in_a_tank_is_written_in_a_tank_file(option):
    told = refused("envelope", *BOX, *PICKUP, option, "x=400mm")
    assert told.startswith(f"tanksolve: envelope: there is no option {option} next: ")
    assert "tanksolve new my_tank.toml" in told


def test_a_misspelt_option_is_answered_with_the_nearest_first():
    told = refused("envelope", *BOX, *PICKUP, "--requre", "15deg")
    assert "there is no option --requre next: did you mean --require" in told
    assert "did you mean --pickup" in refused("envelope", *BOX, "--pikcup", "a=1,1,1mm")
    assert "did you mean" not in refused("envelope", *BOX, "--xyzzy")
    for words in (("envelop",), ("envelope", "--fill"), ("envelope", "--requre")):
        assert "Usage" not in run(*words).stderr
        assert "--help tells the options" in refused(*words)


def test_a_mesh_that_may_be_metal_says_what_to_type(tmp_path):
    trimesh = pytest.importorskip("trimesh")
    outer, inner = (trimesh.creation.box(size) for size in ((1000, 500, 400), (990, 490, 390)))
    inner.invert()
    trimesh.util.concatenate([outer, inner]).export(tmp_path / "wall.stl")
    axes = ["--unit", "mm", "--forward=+x", "--up=+z", "--fill", "60L"]
    told = refused("envelope", tmp_path / "wall.stl", *axes, *PICKUP)
    assert "next: write --meaning metal or --meaning liquid; tanksolve inspect " in told
    assert "tanksolve new my_tank.toml --from" in told


def test_compare_says_at_which_attitudes_volumes_are_unusable():
    both = ["compare", *BOX, *PICKUP, "--pickup", "b=20,200,60mm,bore=32mm,facing=down"]
    assert "unusable on level ground; then b: " in run(*both).told
    assert "unusable at what is required; then b: " in run(*both, "--require", "5deg").told


LONG = (
    "tanksolve: "
    + "word " * 40
    + "\n  allowed: "
    + "a=1, " * 40
    + "\n  next: write --require "
    + "b " * 60
)


def test_a_refusal_wraps_where_the_width_is_known_but_not_what_is_typed():
    rows = refusals.wrapped(LONG, 80).split("\n")
    assert all(len(row) <= 80 for row in rows[:-1])
    assert rows[-1] == LONG.split("\n")[-1]
    assert " ".join(" ".join(rows).split()) == " ".join(LONG.split())
    assert refusals.wrapped(LONG, None) == LONG


def test_a_terminal_gets_its_refusal_wrapped(monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setenv("COLUMNS", "70")
    assert refusals.width_of(Terminal()) == 70
    assert refusals.width_of(io.StringIO()) is None
    monkeypatch.setattr(refusals, "width_of", lambda stream: 70 if stream is sys.stderr else None)
    rows = run("envelope", *BOX, *PICKUP, "--require", "slope=15deg").stderr.splitlines()
    assert all(len(row) <= 70 for row in rows if "next:" not in row)
