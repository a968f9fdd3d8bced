"""A document's faces tell the same numbers: text and CSV read back are those of the JSON, in every system."""

import csv
import io
import json
import math
import re

import pytest
from documents import numbers_of, spoken
from hypothesis import given
from hypothesis import strategies as st

from tanksolve.present.as_json import as_csv, as_json, json_text
from tanksolve.present.as_text import WIDTH, as_text
from tanksolve.present.document import (
    Column,
    Document,
    Fact,
    Quantity,
    Sure,
    Table,
    Verdict,
    say,
    slope,
)
from tanksolve.present.wording import quantity_words
from tanksolve.unit_systems import SYSTEMS, US, using

SIDES = ["nearest", "up", "down"]
KINDS = ["length", "volume", "slope", "pressure", "temperature", "flow", "mass", "share"]


def quantities(kind):
    top = 1.2 if kind == "slope" else 50.0
    return st.builds(Quantity, st.floats(0.001, top), st.just(kind), st.sampled_from(SIDES))


ANY = st.sampled_from(KINDS).flatmap(quantities)


@pytest.mark.parametrize("system", SYSTEMS.values(), ids=SYSTEMS)
@given(first=ANY, second=ANY)
def test_text_tells_the_numbers_of_the_json(system, first, second):
    document = Document(
        "test",
        "Is it?",
        Verdict.YES,
        say("kept by {much}", much=first),
        facts=[Fact("margin", second, Sure.BOUND)],
    )
    with using(system):
        text = as_text(document)
    plain = json.loads(json_text(document))["answer"]
    assert text.startswith("Yes: kept by")
    assert f"({Sure.BOUND.value})" in " ".join(text.split())
    si = [plain["values"]["much"], plain["facts"][0]["values"]["value"]]
    assert si == [numbers_of(first), numbers_of(second)]
    for quantity in (first, second):
        with using(system):
            assert quantity_words(quantity) in " ".join(text.split())
            back = spoken(quantity_words(quantity), quantity)
        assert back == pytest.approx(quantity.value, abs=spoken.step(quantity, system))


@given(angle=st.floats(0.0, 1.5), side=st.sampled_from(SIDES))
def test_a_slope_leans_to_its_side_in_degrees_and_in_grade(angle, side):
    words = quantity_words(slope(angle, side))
    degrees, grade = map(float, re.match(r"([\d.]+)° \(([\d.]+) % grade\)", words).groups())
    off = degrees - math.degrees(angle), grade - 100.0 * math.tan(angle)
    if side == "down":
        assert max(off) <= 1e-6
    elif side == "up":
        assert min(off) >= -1e-6


TABLE = Table(
    "dips",
    [Column("depth", "length"), Column("limit", "slope", "down"), Column("side")],
    [(0.0254, math.radians(10.0), "nose up"), (0.0508, None, "nose down")],
    brief=[0],
)


def test_a_table_is_brief_unless_all_is_asked_for():
    document = Document("test", "?", Verdict.TOLD, "So.", tables=[TABLE], cautions=["mind."])
    assert "nose down" not in as_text(document)
    assert "--full tells 1 more line\n" in as_text(document)
    assert "nose down" in as_text(document, full=True)
    assert "more line" not in as_text(document, full=True)


def test_csv_names_the_units_and_gives_the_grade():
    with using(US):
        titles, first, last = csv.reader(io.StringIO(as_csv(TABLE)))
    assert titles == ["depth_in", "limit_deg", "limit_grade_percent", "side"]
    assert first == ["1.0000", "10.000", "17.632", "nose up"]
    assert last == ["2.0000", "", "", "nose down"]


def test_json_words_are_metric_whatever_the_screen_is_in():
    document = Document("test", "?", Verdict.NO, say("short {a}", a=Quantity(0.0254, "length")))
    with using(US):
        assert as_json(document)["answer"]["words"] == "No: short 25.4 mm"
        assert as_text(document) == "No: short 1.00 in\n"


def test_exit_codes_follow_from_the_verdict():
    codes = {verdict.value: verdict.exit_code for verdict in Verdict}
    assert codes == {"yes": 0, "told": 0, "no": 3, "not known": 4}


def test_lines_fit_the_screen():
    document = Document("test", "?", Verdict.TOLD, "word " * 80, facts=[Fact("a", "long " * 60)])
    assert max(map(len, as_text(document).splitlines())) <= WIDTH
