"""The report as a file from the command line: HTML with every answer, and the same answers as PDF."""

from datetime import date

import pdfplumber
from program import run

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
from tanksolve.present.report_page import Answer
from tanksolve.present.report_pdf import save_report_pdf
from tanksolve.present.wording import cell_words, fact_words, sentence, words

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
    assert first.startswith("No: short by 12.3 mm")
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


def test_the_command_writes_every_answer(tmp_path):
    tank = [
        "--box",
        "600x300x300mm",
        "--fill",
        "16L",
        "--pickup",
        "suction=300,150,30mm,bore=20mm,facing=down",
    ]
    path = tmp_path / "report.html"
    found = run("report", *tank, "--require", "5deg", "-o", path)
    assert found.returncode == 0, found.stderr
    page = path.read_text(encoding="utf-8")
    for anchor in (
        "bench",
        "limits",
        "steep",
        "liquid",
        "plate",
        "place",
        "try",
        "cautions",
        "inputs",
    ):
        assert f'<section id="{anchor}"' in page or f'id="{anchor}">' in page
        assert f'href="#{anchor}"' in page
    assert page.index("Yes: kept in every heading up to 5.0°") < page.index("<section")
    assert path.stat().st_size < 6_000_000
    again = run("report", *tank, "-o", path)
    assert (again.returncode, "there already" in again.stderr) == (2, True)
    odd = run("report", *tank, "-o", tmp_path / "report.docx")
    assert (odd.returncode, ".html, .pdf" in odd.stderr) == (2, True)
