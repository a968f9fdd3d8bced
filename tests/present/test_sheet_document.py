"""The commissioning sheet as a page: places, dips and tilts with their units, cautions and blanks to fill in."""

import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import breather, pickup
from tanksolve.present.as_markdown import as_markdown
from tanksolve.present.document import Verdict
from tanksolve.present.sheet_document import sheet_document
from tanksolve.present.understood import Inputs
from tanksolve.questions.sheet import commissioning_sheet
from tanksolve.unit_systems import METRIC, US, using

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


def test_a_tank_that_is_not_kept_on_level_ground_says_so_first():
    _, told = document(0.03)
    assert told.verdict is Verdict.NO
    assert as_markdown(told).splitlines()[2].startswith("**No: a port breaks its rule on level")
