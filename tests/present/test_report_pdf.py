"""The report as a file from the command line: HTML with every answer, and the same answers as PDF."""

import html
import re
from dataclasses import replace
from datetime import date

import pdfplumber
import pytest
from envelopes import limit_at, made_envelope
from program import run

from tanksolve.geometry.parts import box
from tanksolve.present.as_html import document_html
from tanksolve.present.as_text import as_text
from tanksolve.present.document import (
    Column,
    Document,
    Fact,
    Quantity,
    Sure,
    Table,
    Verdict,
    say,
)
from tanksolve.present.envelope_document import envelope_document
from tanksolve.present.report_answers import Answer, open_suction_document
from tanksolve.present.report_pdf import save_report_pdf
from tanksolve.present.understood import Inputs
from tanksolve.present.wording import cell_words, fact_words, sentence, words
from tanksolve.unit_systems import METRIC, US, using

ODD = "<b>tank & 'co'</b> Ø 38 ½"


def squeezed(text):
    return "".join(text.split())


def test_every_word_and_number_of_a_document_is_in_the_pdf(tmp_path):
    table = Table(
        "rows",
        [Column("port"), Column("held", "volume", "down"), Column("limit", "slope", "down")],
        [(ODD, 0.04213 + k / 1000.0, 0.1 + k / 300.0) for k in range(60)],
        brief=(),
    )
    document = Document(
        "envelope",
        "How steep?",
        Verdict.NO,
        say("short by {lack} at {port}", lack=Quantity(0.0123, "length", "up"), port=ODD),
        facts=(Fact("hidden", Quantity(0.5, "slope"), Sure.BOUND, brief=False),),
        tables=[table],
        cautions=("hot oil burns",),
        understood=(Fact("tank", ODD),),
    )
    path = tmp_path / "report.pdf"
    save_report_pdf([Answer("How steep", "steep", document)], ODD, date(2026, 1, 2), path)
    with pdfplumber.open(path) as file:
        text = squeezed(" ".join(page.extract_text() for page in file.pages))
        first = file.pages[0].extract_text().splitlines()[0]
    assert first.startswith("✗ No: short by 12.3 mm")
    told = [sentence(document.verdict, document.sentence), "hot oil burns", "2026-01-02"]
    told += [fact_words(fact) for fact in (*document.facts, *document.understood)]
    told += [
        cell_words(c, cell)
        for row in table.rows
        for c, cell in zip(table.columns, row, strict=True)
    ]
    missing = [one for one in told if squeezed(one) not in text]
    assert missing == []
    assert words(document.question) == "How steep?"


def test_the_paper_is_the_usual_one_of_the_units(tmp_path):
    answer = Answer("t", "a", Document("envelope", "How?", Verdict.TOLD, "so"))
    for system, size in ((METRIC, (210.0, 297.0)), (US, (215.9, 279.4))):
        path = tmp_path / f"{system.name}.pdf"
        with using(system):
            save_report_pdf([answer], "t", date(2026, 1, 2), path)
        with pdfplumber.open(path) as file:
            page = file.pages[0]
            found = [float(c) * 25.4 / 72.0 for c in (page.width, page.height)]
        assert found == pytest.approx(size, abs=0.05)


TANK = (
    *("--box", "600x300x300mm", "--fill", "16L..18L"),
    *("--pickup", "suction=300,150,30mm,bore=20mm,facing=down"),
)
LINE = (
    "--line",
    "38.1mm,1.5m,drop tube",
    "--liquid",
    "ISO VG 46",
    "--level",
    "200mm",
    "--from",
    "10C",
)
ANCHORS = (
    *("bench", "limits", "steep", "liquid", "dip", "plate", "place", "suction", "try"),
    *("words", "cautions", "inputs"),
)
TYPED = re.compile(r"(?<![\w-])--[a-z]")


def said(page):
    """The words of a page, without its programs, its style and its tags."""
    body = re.sub(r"<(script|style).*?</\1>", "", page, flags=re.S)
    return html.unescape(re.sub(r"<[^>]+>", " ", body))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "report.html"
    asked = ("--require", "5deg", "--flow", "30L/min", *LINE)
    found = run("report", *TANK, *asked, "-o", path)
    assert found.returncode == 0, found.stderr
    return path


def test_the_command_writes_every_answer(written):
    page = written.read_text(encoding="utf-8")
    for anchor in ANCHORS:
        assert f'<section id="{anchor}"' in page or f'id="{anchor}">' in page
        assert f'href="#{anchor}"' in page
    assert page.index("Yes: kept in every heading up to 5.0°") < page.index("<section")
    assert written.stat().st_size < 6_000_000
    suction = said(page[page.index('id="suction"') : page.index('id="try"')])
    assert "Yes: the pump gets its liquid" in suction
    assert re.search(r"Reynolds .*laminar", suction, flags=re.S)
    again = run("report", *TANK, "-o", written)
    assert (again.returncode, "there already" in again.stderr) == (2, True)
    odd = run("report", *TANK, "-o", written.with_suffix(".docx"))
    assert (odd.returncode, ".html, .pdf" in odd.stderr) == (2, True)


def test_a_reader_sees_no_options_of_commands_and_which_fill_each_figure_is_for(written):
    words_told = " ".join(said(written.read_text(encoding="utf-8")).split())
    assert TYPED.findall(words_told) == []
    assert "These limits are for 16.00 L to 18.00 L in the tank" in words_told
    note = "For every heading up to 5.0° (8.7 % grade) only; at these marks nothing is to spare; the limit above"
    assert note in words_told
    limit = re.search(r"The rules are kept up to|every heading ([\d.]+°)", words_told)
    assert limit
    assert "is for 16.00 L to 18.00 L only." in words_told
    # 16 and 18 L over 600 x 300 mm
    assert "a dip of 88.9 mm to 100.0 mm standing level" in words_told


def test_a_line_half_described_is_refused_and_none_is_told_as_open(tmp_path):
    half = run("report", *TANK, *LINE[:2], "-o", tmp_path / "half.html")
    assert (half.returncode, "--flow" in half.stderr) == (2, True)
    assert list(tmp_path.iterdir()) == []
    inputs = Inputs(box(0.6, 0.3, 0.3))
    told = document_html(open_suction_document(inputs), "Suction", "suction")
    assert "? </span>Not known: no suction line was described" in told
    assert TYPED.findall(told) == []
    assert TYPED.findall(as_text(open_suction_document(inputs)))  # who types is told what to type


def test_a_verdict_does_not_hang_on_its_colour():
    for verdict, mark in ((Verdict.YES, "✓ "), (Verdict.NO, "✗ "), (Verdict.UNKNOWN, "? ")):
        document = Document("envelope", "How?", verdict, "so")
        assert f'<span aria-hidden="true">{mark}</span>' in document_html(document, "t", "a")
    assert "aria-hidden" not in document_html(
        Document("envelope", "How?", Verdict.TOLD, "so"), "t", "a"
    )


def test_headings_with_both_sides_alike_are_told_once():
    limits = envelope_of({0.0: 20.0, 30.0: 25.0, 90.0: 31.0, 270.0: 31.0, 330.0: 25.0, 180.0: 40.0})
    odd = envelope_of({0.0: 20.0, 30.0: 25.0, 330.0: 25.2})
    rows = folded(limits)
    assert [(row[0], row[1]) for row in rows] == [
        ("nose up", "0.0°"),
        ("nose up, left or right side down", "30.0° and 330.0°"),
        ("left or right side down", "90.0° and 270.0°"),
        ("nose down", "180.0°"),
        ("nose up", "0.0°"),  # the worst of all
    ]
    assert rows[-1][-1] == "worst of all headings"
    assert [row[1] for row in folded(odd)][:3] == ["0.0°", "30.0°", "330.0°"]
    assert all(
        len(row) == 5 for row in folded(limits)
    )  # the figure solved is not told beside the bound


def envelope_of(slopes):
    limits = tuple(limit_at(heading, slope, "suction") for heading, slope in slopes.items())
    worst = min(limits, key=lambda one: one.held_to_deg)
    return replace(made_envelope(lambda heading: 20.0), limits=limits, worst=worst, islands=())


def folded(limits):
    inputs = Inputs(box(0.6, 0.3, 0.3), (), limits.fill)
    return [tuple(row) for row in envelope_document(inputs, limits).tables[0].reader.rows]
