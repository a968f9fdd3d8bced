"""What somebody new must be told: air shut in by a plate, a cover that the flow asks for, what plates take."""

import pytest
from program import answer, run

TANK = """
tanksolve_file = 1
name = "welded"
fill = "60 L..80 L"
[tank]
shape = "box"
length = "1000 mm"
width = "400 mm"
height = "280 mm"
[[baffle]]
name = "plate"
stands = "across"
at = "400 mm"
thickness = "3 mm"
GAP
hole = [{ diameter = "60 mm", at = "80, 31 mm" }]
[[port]]
name = "suction"
kind = "pickup"
at = "SPOT, 200, 30 mm"
bore = "32 mm"
facing = "down"
FLOW
[[port]]
name = "breather"
kind = "breather"
at = "500, 200, 280 mm"
"""
SHUT = "no vent gap and no breather at its roof: filled past 61.0 mm above the floor"
COVER = "at 40.0 L/min ANSI/HI 9.8"


@pytest.fixture
def tank(tmp_path):
    """A function that writes the tank: with a gap, another place of the pickup, a flow."""

    def write(gap="", spot="100", flow="", name="tank.toml"):
        text = TANK.replace("GAP", gap).replace("SPOT", spot)
        (tmp_path / name).write_text(text.replace("FLOW", flow and f'flow = "{flow}"'))
        return tmp_path / name

    return write


@pytest.mark.parametrize(
    "words",
    [
        ["inspect"],
        ["envelope"],
        ["envelope", "--full"],
        ["marks", "--require", "5deg"],
        ["check"],
        ["level", "--attitude", "0deg"],
        ["sheet"],
        ["compare", "--also-fill", "70L"],
        ["plate", "--machine-limit", "15deg, made up", "--allowance", "1deg"],
        ["tolerance", "--fill-error", "2L"],
        ["motion", "--do", "brake 0.1g"],
        ["place", "--require", "3deg", "--at", "100,200mm"],
    ],
    ids=" ".join,
)
def test_every_answer_tells_once_of_air_that_a_plate_shuts_in(tank, tmp_path, words):
    shown = run(words[0], tank(), *words[1:], cwd=tmp_path)
    assert shown.told.count(SHUT) == 1, shown.told + shown.stderr


def test_nothing_is_told_of_air_where_there_is_a_gap_or_the_fill_stays_below(tank):
    assert "no vent gap" not in run("envelope", tank('top_gap = "20 mm"')).told
    assert "no vent gap" not in run("envelope", tank(), "--fill", "20L").told
    assert SHUT in run("envelope", tank(), "--fill", "26L").told
    # marks are beyond it, whatever the fill
    assert SHUT in run("marks", tank(), "--fill", "20L", "--require", "5deg").told


def test_the_most_mark_is_not_to_be_counted_on_and_that_stands_first(tank):
    lines = run("marks", tank(), "--require", "5deg").stdout.split("\n\n")
    assert lines[1].startswith("most mark")
    assert "NOT TO BE COUNTED ON past 61.0 mm above the floor: up to 35.03 L" in lines[1]
    free = run("marks", tank('top_gap = "20 mm"'), "--require", "5deg")
    assert "COUNTED ON" not in free.stdout


def test_json_tells_how_much_liquid_shuts_the_roof(tank):
    (roof,) = answer("inspect", tank())["roof_bays"]
    assert roof["from_m3"] == pytest.approx(0.4 * 0.06106 * 0.997, rel=2e-3)


@pytest.mark.parametrize(
    "words", [["envelope"], ["marks", "--require", "5deg"], ["place", "--require", "3deg"]]
)
def test_a_flow_that_asks_for_more_cover_is_told(tank, words):
    shown = run(words[0], tank(flow="40 L/min"), *words[1:]).told
    assert shown.count(COVER) == 1
    assert "cover=141mm in the port asks for it" in shown
    assert "ANSI/HI" not in run(words[0], tank(flow="5 L/min"), *words[1:]).told


def test_the_cover_that_is_told_is_enough_once_typed(tank):
    port = "suction=100,200,30mm,bore=32mm,facing=down,flow=40L/min"
    assert COVER in run("envelope", tank(), "--pickup", port).told
    assert "ANSI/HI" not in run("envelope", tank(), "--pickup", f"{port},cover=141mm").told


def test_the_pump_s_flow_of_an_option_counts(tank):
    back = ("--return", "back=900,200,100mm", "--flow", "40L/min")
    assert run("envelope", tank(), *back).told.count(COVER) == 1


def test_without_a_flow_one_line_of_the_whole_answer_says_where_to_ask(tank):
    words = "suction: its pump's flow may ask for more liquid over it than 2 x bore: see 'tanksolve suction'"
    assert words in run("envelope", tank(), "--full").told
    assert words not in run("envelope", tank()).told
    assert "may ask for more" not in run("envelope", tank(flow="5 L/min"), "--full").told


def test_suction_says_what_to_type():
    shown = run(
        *("suction", "--liquid", "ISO VG 46", "--flow", "40L/min", "--line", "32mm,1.5m"),
        *("--level", "300mm", "--from", "20C", "--to", "60C", "--vacuum", "5inHg", "--full"),
    )
    assert "type cover=141mm in the port to have limits with it" in shown.told


def test_a_cut_opening_is_told_once_and_keeps_its_place(tank):
    shown = run("level", tank(spot="410"), "--attitude", "0deg").told
    assert shown.count("a wall or plate goes through its opening") == 1
    assert "limits are those of the worse part; move it by at least 9.0 mm or turn it" in shown
    assert "suction (pickup, must stay wet): 410.0 mm from the rear wall" in shown


def test_the_tank_s_line_says_what_a_plate_takes(tank):
    taken = "plates and internals take 0.33 L, which lifts the level"
    assert run("envelope", tank()).told.count(taken) == 1
    box = ("--box", "900x300x300mm", "--fill", "42L", "--pickup", "s=450,150,40mm")
    assert "which lifts" not in run("envelope", *box).told


def test_the_starter_says_what_a_gap_is_for(tmp_path):
    run("new", "mine.toml", cwd=tmp_path)
    line = next(
        row for row in (tmp_path / "mine.toml").read_text().splitlines() if "top_gap" in row
    )
    assert "without it the plate is sealed to the roof and shuts in air" in line
