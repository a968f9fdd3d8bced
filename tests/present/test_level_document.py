"""What ``level`` says of the fill drawn, ports without a rule, any pickup, shut-in air, flaps and pipes."""

import json
import math
import re
from pathlib import Path

import pytest
from program import answer, run

CASE = (
    *("level", "--box", "900x300x300mm", "--fill", "20L..40L"),
    *("--pickup", "front=850,150,50mm", "--pickup", "rear=50,150,50mm"),
)
BOX = ("level", "--box", "900x300x300mm", "--fill", "42L", "--pickup", "suction=20,150,100mm")


def test_the_first_line_tells_the_attitude_with_its_sides_and_the_port_worst_off():
    first = run(*BOX, "--attitude", "10deg,-5deg").stdout.splitlines()[0]
    assert first.startswith(
        "At 11.2° (19.8 % grade), 10.0° nose up, 5.0° left side down: every port"
    )
    broken = run(*BOX, "--attitude", "-20deg").stdout
    assert "suction breaks its rule by " in broken.replace("\n", " ")
    assert "(uncovered)" in broken.replace("\n", " ")


def test_any_pickup_has_a_verdict():
    up, any_ = ("--attitude", "10deg"), "--any-pickup"
    assert "one pickup is enough  kept, by rear\n" in run(*CASE, *up, any_).stdout
    assert answer(*CASE, *up, any_)["any_pickup_holds"] is True
    assert "one pickup" not in run(*CASE, *up).stdout
    assert answer(*CASE, *up)["any_pickup_holds"] is None
    over = ("--attitude", "0deg,25deg", "--fill", "5L")
    assert "broken: every pickup's rule is broken" in run(*CASE, *over, any_).stdout
    assert answer(*CASE, *over, any_)["any_pickup_holds"] is False


def test_the_margin_of_a_port_without_a_rule_is_said_to_be_liquid_over_it():
    words = "of a port that sets no limit: the liquid over its highest point"
    assert words not in run(*CASE).stdout
    assert words in run(*CASE, "--return", "back=700,150,40mm").stdout


def test_a_picture_of_a_fill_range_says_which_end_it_shows(tmp_path):
    for option, end, volume in ((), "least", "20.00 L"), (("--most",), "most", "40.00 L"):
        for view in ("side", "front", "solid"):
            file = tmp_path / "view.svg"
            drawn = ("--picture", file, "--view", view, "--force")
            run(*CASE, *option, *drawn, "--return", "back=700,150,40mm")
            told = " ".join(words_of(file))
            assert f"the {end} fill is drawn, {volume}; for the" in told, view
            if view != "solid":
                deep = "34.1 mm under liquid" if end == "least" else "108.1 mm under liquid"
                assert f"back: {deep}" in told
    one = tmp_path / "one.svg"
    run(*CASE, "--fill", "20L", "--picture", one)
    assert "fill is drawn" not in " ".join(words_of(one))


def words_of(svg):
    """Words of a picture: matplotlib leaves each text as a comment where it draws letters as paths."""
    return re.findall(r"<!-- (.*?) -->", svg.read_text())


def test_one_vented_body_of_air_is_not_worth_a_word():
    shown = run(*BOX, "--breather", "vent=800,150,300mm").stdout
    assert "air body" not in shown
    assert "WARNING" not in shown


def test_a_breather_under_liquid_is_named():
    shown = run(*BOX, "--breather", "vent=800,150,300mm", "--attitude", "-30deg").stdout
    assert re.search(r"WARNING +breather vent is under liquid", shown)


def test_of_a_fill_range_the_air_at_the_most_says_so():
    words = ["level", "--box", "900x300x300mm", "--pickup", "p=20,150,20mm", "--attitude=-10deg"]
    words += ["--breather", "b=880,150,290mm", "--fill", "30L..65L"]
    shown = " ".join(run(*words).stdout.split())
    assert re.search(r"WARNING breather b is under liquid.*\(at 65\.00 L\)", shown)
    assert "at the most, 65.00 L:" in shown


@pytest.mark.parametrize("name", ["collector", "twin"])
def test_flaps_and_pipes_say_how_they_stand(name, tmp_path):
    assert run("new", f"{name}.toml", "--template", name, cwd=tmp_path).returncode == 0
    words = ("level", f"{name}.toml", "--attitude=-10deg", "--through", "15deg,0deg")
    shown = " ".join(run(*words, cwd=tmp_path).stdout.split())
    if name == "collector":
        assert "shut, held by the higher level behind it" in shown
        assert "caution: flaps are taken as tight" in shown
    else:
        assert "caution: balance pipes have all the time they need" in shown
        rolled = run("level", "twin.toml", "--attitude", "0deg,10deg", cwd=tmp_path).stdout
        assert "all at one level" in rolled


@pytest.mark.parametrize("option", ["--pitch", "--slope", "--side", "--tree"])
def test_what_has_gone_names_what_took_its_place(option):
    done = run(*BOX, option, "5deg")
    assert done.returncode == 2
    instead = "--picture FILE --view" if option in ("--side", "--tree") else "--attitude 10deg,5deg"
    assert instead in done.stderr


def test_where_walls_part_the_liquid_the_verdict_is_of_any_route():
    """40 L in two bays of 39.76 L each: all but 0.24 L may stand behind the wall, out of reach."""
    words = ("level", Path(__file__).resolve().parents[2] / "meshes" / "two_bays.toml")
    found = answer(*words)
    edge, bay = 0.015 + 0.010 + 0.020, 0.497 * 0.4
    left = (0.040 - 0.2 * bay) / bay
    assert found["any_route"]["port"] == "pickup"
    assert found["any_route"]["margin_m"] == pytest.approx(left - edge, abs=1e-9)
    along = {port["name"]: port["margin_m"] for port in found["ports"]}
    assert along["pickup"] == pytest.approx(0.040 / (2.0 * bay) - edge, abs=1e-9)
    told = run(*words).stdout.replace("\n", " ")
    assert "some route leaves pickup short of its rule by 43.8 mm" in told
    assert "whatever the machine did before:" in told
    assert "carried along this route" in told
    assert answer(*BOX)["any_route"] is None


def test_the_centroid_is_that_of_the_pools_and_no_one_depth_is_told():
    """Two triangles by hand: behind the wall what it keeps nose down, before it the rest."""
    words = ("level", Path(__file__).resolve().parents[2] / "meshes" / "two_bays.toml")
    found = json.loads(run(*words, "--attitude", "nose_down=25deg", "--json").stdout)
    parts = {"rear": (0.0, 0.497), "front": (0.503, 1.0)}
    rise = math.tan(math.radians(25.0))
    kept = 0.4 * 0.2**2 / (2.0 * rise)  # the rear bay keeps a wedge up to the top of the wall
    legs = {"rear": 0.2 / rise, "front": math.sqrt(2.0 * (0.04 - kept) / 0.4 / rise)}
    moment = kept * (parts["rear"][1] - legs["rear"] / 3.0)
    moment += (0.04 - kept) * (parts["front"][1] - legs["front"] / 3.0)
    assert found["liquid_centroid_m"][0] == pytest.approx(moment / 0.04, abs=1e-4)
    assert found["depth_m"] is None
    assert found["surface_area_m2"] == pytest.approx(
        sum(p["surface_area_m2"] for p in found["pools"])
    )
