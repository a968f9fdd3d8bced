"""The return flow from the command line: orifice and equalising figures, limits, seconds, refusals."""

import math

import pytest
from program import answer, run
from two_bays_flow import MESH, PORTS, tank_file, walled_mesh


def test_head_of_20_square_centimetres_at_60_litres_per_minute(tmp_path):
    """0.0342554 m: Q = Cd a sqrt(2 g h), Cd 0.61 (tests/validation/test_midoux_orifice.py)."""
    running = answer("level", tank_file(tmp_path))["running"]
    (pickup,) = running["pickups"]
    slot = next(one for one in pickup["openings"] if one["name"].startswith("slot"))
    assert slot["drop_m"] == pytest.approx(0.0342554, abs=1e-7)
    assert slot["under"] == "whole"
    assert slot["flow_m3_s"] == pytest.approx(0.001, rel=1e-9)
    gap = next(one for one in pickup["openings"] if one["name"].startswith("top gap"))
    assert (gap["under"], gap["flow_m3_s"]) == ("dry", 0.0)
    # bays of 400 and 500 mm: the rear one gives five ninths
    assert pickup["lowered_m"] == pytest.approx(0.0342554 * 5 / 9, abs=1e-6)
    assert running["dwell_s"] == pytest.approx(50.0)
    level = (0.050 - 20e-4 * 0.003) / 0.27 - 0.0342554 * 5 / 9
    assert pickup["level_m"] == pytest.approx(level, abs=1e-6)
    assert pickup["left_m3"] == pytest.approx(0.12 * (level - 0.06), abs=1e-6)
    assert pickup["seconds_left"] == pytest.approx(120.0 * (level - 0.06), abs=1e-3)


def test_two_cells_of_0_3_square_metres_100_mm_apart_equalise(tmp_path):
    """17.5584 s to the last; to within 1 mm a tenth of the root of the head is left."""
    slope = math.radians(5.0)
    bay = 100.0 / math.sin(slope) - 3.0  # the middles of the bays are then 100 mm apart in height
    width = 1e9 * 0.3 * math.cos(slope) / bay / 1e3
    file = tank_file(tmp_path, "120 L", 2.0 * bay + 3.0, width, bay)
    (pair,) = answer("level", file, "--attitude", "slope=5deg,heading=0deg")["running"]["settling"]
    assert pair["bays"] == ["ahead of 'wall'", "behind 'wall'"]
    assert pair["from_m"] == pytest.approx(0.1, abs=1e-9)
    assert pair["to_m"] == pytest.approx(1e-3, abs=1e-9)
    assert pair["seconds"] == pytest.approx(17.5584 * (1.0 - math.sqrt(0.01)), abs=1e-4)
    assert pair["moved_m3"] == pytest.approx(0.099 * 0.15, rel=1e-6)


def test_the_envelope_names_the_allowance_and_is_lower(tmp_path):
    file = tank_file(tmp_path)
    found = answer("envelope", file, "--every", "90deg")
    stopped = answer("envelope", file, "--every", "90deg", "--flow", "0L/min")
    assert stopped["return_flow"] is None
    assert found["nose_down"] < stopped["nose_down"] - 1.0
    effect = found["return_flow"]
    assert effect["lowered_m"]["suction"] == pytest.approx(0.0342554 * 5 / 9, abs=1e-6)
    row = next(row for row in effect["limits"] if row["heading_deg"] == 180.0)
    assert row["at_rest_deg"] == stopped["nose_down"]
    assert row["running_deg"] == found["nose_down"]


def test_a_requirement_is_judged_with_the_pump_running(tmp_path):
    file = tank_file(tmp_path)
    limit = answer("envelope", file, "--every", "90deg")["worst"]["slope_deg"]
    words = ("envelope", file, "--every", "90deg", "--search-to", "20deg", "--require")
    (below,) = answer(*words, f"{limit - 0.1}deg")["requirements"]
    assert below["met"]
    assert 0.0 < below["held_margin_m"] <= below["margin_m"] < 0.002
    assert below["one_surface"]
    (above,) = answer(*words, f"{limit + 0.1}deg", code=3)["requirements"]
    assert not above["met"]
    (stopped,) = answer(*words, f"{limit + 0.1}deg", "--flow", "0L/min")["requirements"]
    assert stopped["met"]


def test_no_flow_is_the_envelope_without_any(tmp_path):
    file = tank_file(tmp_path)
    none = answer("envelope", file, "--every", "45deg", "--flow", "0L/min")
    file.write_text(file.read_text().replace('flow = "60 L/min"', ""))
    bare = answer("envelope", file, "--every", "45deg")
    for key in ("limits", "worst", "margin_at_level_m"):
        assert none[key] == bare[key]


def test_a_greater_coefficient_costs_less(tmp_path):
    file = tank_file(tmp_path)
    drops = []
    for coefficient in ("0.61", "0.8"):
        found = answer("level", file, "--discharge-coefficient", coefficient)["running"]
        drops.append(found["pickups"][0]["openings"][0]["drop_m"])
    assert drops[1] == pytest.approx(drops[0] * (0.61 / 0.8) ** 2, rel=1e-9)
    done = run("level", file, "--discharge-coefficient", "1.5")
    assert done.returncode == 2
    assert "'1.5' is not a discharge coefficient" in done.stderr


@pytest.fixture(scope="module")
def mesh(tmp_path_factory):
    return walled_mesh(tmp_path_factory.mktemp("mesh"))


def test_a_mesh_has_to_be_told_its_openings(mesh):
    words = (mesh, *MESH, *PORTS, "--flow", "60L/min")
    quick = ("--every", "90deg", "--search-to", "20deg")
    done = run("envelope", *words)
    assert done.returncode == 2
    assert "a mesh does not say where their openings are" in done.stderr
    assert "--opening-area 20cm2" in done.stderr
    stated = (*words, "--opening-area", "20cm2", "--opening-area", "20cm2")
    found = answer("envelope", *stated, *quick)
    drop = 2 * 0.0342554
    assert found["return_flow"]["lowered_m"]["suction"] == pytest.approx(drop, abs=1e-6)
    assert not found["return_flow"]["bounded"]
    raised = PORTS[1].replace("cover=10mm", f"cover={10 + 1000 * drop:.6f}mm")
    plain = answer("envelope", mesh, *MESH, "--pickup", raised, *quick)
    assert found["nose_down"] == pytest.approx(plain["nose_down"], abs=1e-4)
    running = answer("level", *stated)["running"]
    assert running["pickups"][0]["lowered_m"] == pytest.approx(drop, abs=1e-6)
    assert running["settling"] == []
    free = answer("envelope", *words, "--opening-area", "none", *quick)
    assert free["return_flow"]["lowered_m"]["suction"] == 0.0


def test_a_box_has_one_bay_and_nothing_to_cross():
    words = ("--box", "900x300x300mm", "--fill", "54L", "--pickup", "s=20,150,30mm,flow=60L/min")
    found = answer("level", *words, "--return", "r=800,150,200mm")["running"]
    assert found["pickups"][0]["lowered_m"] == 0.0
    assert found["pickups"][0]["seconds_left"] == pytest.approx(54.0 - 8.1)
    assert found["settling"] == []


def test_a_flow_in_the_file_turns_with_the_tank_in_its_machine(tmp_path):
    file = tank_file(tmp_path)
    straight = answer("envelope", file, "--every", "90deg")
    file.write_text(file.read_text() + '[mounting]\nyaw = "90 deg"\n')
    turned = answer("envelope", file, "--every", "90deg")
    # the tank's nose points to the machine's left: the tank stands nose down where the left side does
    assert turned["left_down"] == pytest.approx(straight["nose_down"], abs=1e-6)
    assert turned["return_flow"]["lowered_m"] == pytest.approx(straight["return_flow"]["lowered_m"])


def test_a_return_behind_a_plate_without_flow_is_told_to_be_at_rest(tmp_path):
    file = tank_file(tmp_path)
    text = file.read_text().replace('flow = "60 L/min"\n', "")
    quick = ("--every", "90deg")
    file.write_text(text)
    words = "limits are for the pump at rest: a plate or wall stands between back and suction"
    assert any(words in caution for caution in answer("envelope", file, *quick)["cautions"])
    running = answer("envelope", file, *quick, "--flow", "60L/min")["cautions"]
    assert "pump at rest" not in str(running)
    file.write_text(text.replace('at = "803', 'at = "100'))  # both in the rear bay
    assert "pump at rest" not in str(answer("envelope", file, *quick)["cautions"])
