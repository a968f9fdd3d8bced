"""The commissioning sheet as a page: places, dips and tilts with their units, cautions and blanks to fill in."""

from dataclasses import replace
from pathlib import Path

import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import breather, pickup
from tanksolve.present.as_markdown import as_markdown
from tanksolve.present.as_text import as_text
from tanksolve.present.document import Verdict
from tanksolve.present.drawing_document import drawing_document
from tanksolve.present.sheet_document import how_far, sheet_document
from tanksolve.present.understood import Inputs
from tanksolve.present.welder import Welded
from tanksolve.project.load import load
from tanksolve.questions.sheet import commissioning_sheet
from tanksolve.unit_systems import METRIC, US, using

MESHES = Path(__file__).resolve().parents[2] / "meshes"
TANK = box(1.0, 0.4, 0.5)
PORTS = (
    pickup("suction", (0.3, 0.2, 0.04), bore=0.03, facing="down"),
    breather("vent", (0.5, 0.2, 0.49)),
)


def document(fill):
    sheet = commissioning_sheet(TANK, PORTS, fill)
    return sheet, sheet_document(Inputs(TANK, PORTS), sheet)


@pytest.mark.parametrize(("system", "unit"), [(METRIC, "5.00 L"), (US, "1.32 US gal")])
def test_the_page_has_the_tables_the_verdict_and_the_cautions(system, unit):
    with using(system):
        text = as_markdown(document(Fill(0.06, 0.093))[1])
    assert f"|                       {unit}" in text or f"| {unit}" in text
    assert "do not use these figures" in text
    for words in ("hot work", "hot oil", "solid supports", "roll-over", "clear tube"):
        assert words in text.lower()
    assert "____________" in text


def test_limits_have_grade_and_places_are_listed():
    sheet, told = document(Fill(0.06, 0.093))
    text = as_markdown(told)
    assert "(0.3 % grade) both ways" in text
    rows = [line for line in text.splitlines() if line.startswith("| nose")]
    assert rows
    assert all(line.count(" %)") >= 1 for line in rows)
    assert "| suction (pickup) | 300.0 mm           | 200.0 mm" in text
    assert "1000.0 mm long, 400.0 mm wide, 500.0 mm high, end to end" in text
    assert sheet.worst is not None
    assert sheet.worst.slope_deg <= min(r.limit_deg for r in sheet.tilts if r.limit_deg)


def test_an_opening_that_is_not_round_is_told_to_nobody_as_a_bore():
    """A hatch of 400 x 100 mm, 412.3 mm across its corners: who drills that spoils the tank."""
    rim = ((0.2, 0.05, 0.0), (-0.2, 0.05, 0.0), (-0.2, -0.05, 0.0), (0.2, -0.05, 0.0))
    hatch = replace(breather("hatch", (0.5, 0.2, 0.5), bore=0.41231, facing="up"), rim=rim)
    ports = (PORTS[0], hatch)
    for made in (
        sheet_document(Inputs(TANK, ports), commissioning_sheet(TANK, ports, Fill(0.06, 0.06))),
        drawing_document(Inputs(TANK, ports), Welded(TANK, ports), 10),
    ):
        (table,) = (t for t in made.tables if "mouth" in [c.title for c in t.columns])
        assert "412.3 mm across, not round" in table.rows[1]
        assert "bore 30.0 mm" in table.rows[0]
        assert max(len(line) for line in as_text(made, full=True).splitlines()) <= 80
    with using(US):
        told = sheet_document(
            Inputs(TANK, ports), commissioning_sheet(TANK, ports, Fill(0.06, 0.06))
        )
        assert "16.23 in across, not round" in as_markdown(told)


@pytest.mark.parametrize(
    ("system", "amount"), [(METRIC, "60.00 L of water (dip 150.0 mm)"), (US, "15.85 US gal")]
)
def test_steps_tell_amounts_in_the_units_in_force(system, amount):
    told = document(Fill(0.06, 0.093))[1]
    with using(system):
        assert f"fill with {amount}" in as_markdown(told)


def test_nothing_is_to_be_read_at_a_port_that_is_only_looked_at():
    told = document(Fill(0.06, 0.093))[1]
    table = told.tables[-1]
    titles = [column.title for column in table.columns]
    over, differs = titles.index("over centre"), titles.index("off by more than")
    for row in table.rows:
        looked_at = row[titles.index("port")] == "vent"
        assert (row[over] is None) is (row[differs] is None) is looked_at
    assert [c.title for t in told.tables for c in t.columns if c.write] == [
        "dip read",
        "measured",
        "read",
    ]
    assert "'Over centre' is liquid straight up over the centre" in table.title


def test_one_angle_is_told_as_one():
    sheet, _ = document(Fill(0.06, 0.093))
    assert how_far(sheet).startswith("each side is tilted to half")
    alike = replace(sheet, tilts=tuple(replace(row, slope_deg=15.0) for row in sheet.tilts))
    assert how_far(alike) == "tilt each side to 15.0° (26.7 % grade)"


def test_one_origin_of_depths_is_told_where_a_sump_lies_below_the_floor():
    project = load(MESHES / "hillside_sprayer.toml")
    sheet = commissioning_sheet(project.tank, project.ports, 0.034)
    text = as_markdown(sheet_document(Inputs(project.tank, project.ports), sheet))
    assert "over the lowest point of the liquid, 45.0 mm below the floor: all depths count" in text
    assert "345.0 mm high, 45.0 mm of it below the floor" in text


def test_a_tank_that_is_not_kept_on_level_ground_says_so_first():
    _, told = document(0.03)
    assert told.verdict is Verdict.NO
    assert as_markdown(told).splitlines()[2].startswith("**No: a port breaks its rule on level")
