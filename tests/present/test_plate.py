"""The plate: the smaller limit less the allowance, rounded down; read back from the file at its true size."""

import math
from datetime import date
from fractions import Fraction

import pytest
from drawn_back import pdf_page
from hypothesis import given
from hypothesis import strategies as st
from program import run

from tanksolve.geometry.parts import box
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import pickup
from tanksolve.present.document import Verdict
from tanksolve.present.drawn import as_svg, save_sheets
from tanksolve.present.plate import Plate, open_plate_document, plate_document, plate_sheet
from tanksolve.present.understood import Inputs
from tanksolve.present.wording import fact_words, words
from tanksolve.questions.envelope.envelope import envelope_under
from tanksolve.state.conditions import Conditions

BOX = [
    "--box",
    "900x300x300mm",
    "--fill",
    "42L",
    "--pickup",
    "suction=450,150,40mm,bore=38mm,facing=down",
]


def plate(tank=40.1, machine=15.0, allowance=3.0, **more):
    facts = {
        "tank": "box",
        "fill": Fill(0.034, 0.046),
        "liquid": "spray mix",
        "source": "manual p. 12",
    }
    facts |= {"limited": True, **more}
    return Plate(tank_limit_deg=tank, machine_limit_deg=machine, allowance_deg=allowance, **facts)


@pytest.mark.parametrize(
    ("tank", "machine", "allowance", "degrees", "grade"),
    [
        (40.1, 15.0, 3.0, 12, 21),
        (18.19, 25.0, 0.0, 18, 32),
        (17.99, 25.0, 2.0, 15, 26),
        (18.0, 25.0, 0.0, 18, 32),
        (45.0, 45.0, 0.0, 45, 100),
        (9.0, 12.0, 8.5, 0, 0),
        (0.0, 12.0, 0.0, 0, 0),
        (5.0, 12.0, 9.0, 0, 0),
    ],
)
def test_whole_degrees_rounded_down_and_their_grade(tank, machine, allowance, degrees, grade):
    made = plate(tank, machine, allowance)
    assert (made.whole_deg, made.grade_percent) == (degrees, grade)


@given(st.floats(0.0, 60.0), st.floats(0.1, 60.0), st.floats(0.0, 20.0))
def test_never_above_either_limit(tank, machine, allowance):
    made = plate(tank, machine, allowance)
    exact = Fraction(min(tank, machine)) - Fraction(allowance)
    assert made.whole_deg <= max(exact, 0) + Fraction(1, 10**8)
    assert made.grade_percent <= 100.0 * math.tan(math.radians(made.whole_deg)) + 1e-6


def test_the_file_says_all_at_its_true_size(tmp_path):
    path = tmp_path / "plate.pdf"
    save_sheets([plate_sheet(plate(), date(2026, 1, 2), (120.0, 80.0))], path)
    size, _, boxes, _, text, _ = pdf_page(path)
    assert size == pytest.approx((120.0, 80.0), abs=0.05)
    assert boxes[0] == pytest.approx((0.25, 0.25, 119.75, 79.75), abs=0.05)
    told = " ".join(text.split())
    for said in (
        *(
            "12° = 21 % grade",
            "34.00 L",
            "46.00 L",
            "spray mix",
            "manual p. 12",
            "40.1° (84.2 % grade)",
        ),
        *("less 3° for rough ground", "SAYS NOTHING ABOUT ROLL-OVER", "2026-01-02", "tanksolve"),
    ):
        assert said in told


def test_words_from_users_are_escaped_and_long_ones_stay_inside(tmp_path):
    odd = plate(liquid="</svg><script>alert(1)</script>" + "x" * 150, source="long " * 60)
    sheet = plate_sheet(odd, date(2026, 1, 2))
    assert "<script" not in as_svg(sheet)
    path = tmp_path / "plate.pdf"
    save_sheets([sheet], path)
    import pdfplumber

    with pdfplumber.open(path) as file:
        page = file.pages[0]
        assert all(
            c["x0"] > 0.0 and c["x1"] < page.width and c["bottom"] < page.height for c in page.chars
        )


def test_a_report_without_the_makers_figure_leaves_the_plate_open():
    tank, ports = (
        box(0.9, 0.3, 0.3),
        (pickup("suction", (0.45, 0.15, 0.04), bore=0.038, facing="down"),),
    )
    conditions = Conditions.of(tank, ports, 0.042)
    limits = envelope_under(
        conditions, every_deg=90.0, search_to_deg=60.0, tolerance_deg=0.5, islands=False
    )
    told = open_plate_document(Inputs(tank, ports, conditions.fill), limits)
    assert told.verdict is Verdict.UNKNOWN
    whole = math.floor(limits.worst.held_to_deg)
    assert f"the tank alone allows at most {whole}°" in words(told.sentence)
    assert any("--machine-limit" in words(fact.value) for fact in told.facts)


def test_it_needs_the_makers_figure_with_its_source_and_an_allowance(tmp_path):
    file = tmp_path / "plate.svg"
    without = run("plate", *BOX, "--allowance", "3deg", "-o", file)
    assert (without.returncode, "--machine-limit" in without.stderr) == (2, True)
    bare = run("plate", *BOX, "--machine-limit", "15deg", "--allowance", "3deg", "-o", file)
    assert (bare.returncode, "source" in bare.stderr) == (2, True)
    none = run("plate", *BOX, "--machine-limit", "15deg, manual p. 12", "-o", file)
    assert (none.returncode, "--allowance" in none.stderr) == (2, True)
    steep = run(
        "plate", *BOX, "--machine-limit", "2deg, manual p. 12", "--allowance", "3deg", "-o", file
    )
    assert (steep.returncode, file.exists()) == (3, False)
    good = run(
        "plate", *BOX, "--machine-limit", "15deg, manual p. 12", "--allowance", "3deg", "-o", file
    )
    assert good.returncode == 0
    assert "12° (21 % grade)" in good.stdout
    assert "12° = 21 % grade" in file.read_text()


def test_the_answer_tells_the_fill_that_the_plate_holds_for():
    document = plate_document(Inputs(box(0.9, 0.3, 0.3)), plate())
    told = {fact.label: fact_words(fact) for fact in document.facts}
    assert told["keep in"] == "34.00 L to 46.00 L"
    assert document.data["plate"]["fill"] == {"unit": "m3", "least": 0.034, "most": 0.046}
