"""Scales read back from the PDF: every line where the closed form has it, on paper of true size."""

import math
from datetime import date
from pathlib import Path

import pytest
from drawn_back import pdf_page
from program import run

from tanksolve.geometry.parts import box
from tanksolve.present.drawn import Line, Path2D, save_sheets
from tanksolve.present.paper import paper_named
from tanksolve.present.strip import strip_sheets
from tanksolve.project.load import load
from tanksolve.questions.marks.gauge import Gauge, gauge_marks
from tanksolve.questions.marks.strip import strip

MESHES = Path(__file__).resolve().parents[2] / "meshes"


def test_lines_of_a_leaning_stick_in_a_box(tmp_path):
    tank, lean = box(0.9, 0.3, 0.3), math.radians(10.0)
    gauge = Gauge("dipstick", (0.1, 0.15, 0.005), lean)
    marks = gauge_marks(tank, gauge, 0.02, 0.06)
    made = strip(tank, gauge, 0.005, marks)
    path = tmp_path / "strip.pdf"
    save_sheets(strip_sheets([made], date(2026, 1, 2)), path)
    size, lines, boxes, _, words, _ = pdf_page(path)
    assert size == pytest.approx((210.0, 297.0), abs=0.05)
    readings = [(k * 0.005 / 0.27 - 0.005) / math.cos(lean) * 1000.0 for k in range(1, 17)]
    twice = [
        (y0 - 32.0 + (0.0 if x0 < 50.0 else 228.0), x0 > 50.0)
        for x0, y0, x1, y1 in lines
        if abs(x1 - x0 - 9.0) < 0.01 and abs(y1 - y0) < 1e-6
    ]
    first, second = ([y for y, k in twice if k is column] for column in (False, True))
    # the two columns share 12 mm
    assert sorted(first) == pytest.approx([r for r in readings if r <= 240.0], abs=0.05)
    assert sorted(second) == pytest.approx([r for r in readings if r >= 228.0], abs=0.05)
    joins = [(x0, y0 - 32.0) for x0, y0, x1, _ in lines if abs(x1 - x0 - 36.0) < 0.01]
    assert [y + (0.0 if x < 50.0 else 228.0) for x, y in joins] == pytest.approx([234.0, 234.0])
    both = sorted(
        y0 - 32.0 + (0.0 if x0 < 50.0 else 228.0)
        for x0, y0, x1, _ in lines
        if abs(x1 - x0 - 34.0) < 0.01
    )
    level = [(v / 0.27 - 0.005) / math.cos(lean) * 1000.0 for v in (0.02, 0.06)]
    assert both == pytest.approx(
        level, abs=0.15
    )  # marks lean inwards by the rounding of their bound
    check = max(lines, key=lambda one: one[2] - one[0])
    assert check[2] - check[0] == pytest.approx(100.0, abs=0.05)
    tall = max(b[3] - b[1] for b in boxes)
    assert tall == pytest.approx(240.0, abs=0.05)
    for said in ("5 L", "LEAST", "100 mm on this paper", "lay on", "2026-01-02"):
        assert said in words


def test_a_long_scale_on_letter_goes_on_and_fits_the_paper():
    tank = box(0.9, 0.3, 0.9)
    made = strip(tank, Gauge("dipstick", (0.1, 0.15, 0.0)), 0.005)
    paper = paper_named("letter")
    assert paper == (215.9, 279.4)
    sheets = strip_sheets([made], date(2026, 1, 2), paper)
    assert len(sheets) == 2  # 900 mm in columns of 222 that share 12
    told = {}
    column = 0
    for sheet in sheets:
        assert (sheet.width, sheet.height) == paper
        ends = [p for part in sheet.parts if isinstance(part, Line) for p in (part.start, part.end)]
        corners = [p for part in sheet.parts if isinstance(part, Path2D) for p in part.points]
        for x, y in (*ends, *corners):
            assert 6.0 <= x <= paper[0] - 6.0
            assert 6.0 <= y <= paper[1] - 6.0
        lefts = sorted(
            {round(p.start[0] - 11.0, 6) for p in sheet.parts if isinstance(p, Line) and volume(p)}
        )
        for left in lefts:
            for part in sheet.parts:
                if isinstance(part, Line) and volume(part) and abs(part.start[0] - 11.0 - left) < 1:
                    told[round(part.start[1] - 32.0 + column * (222.0 - 12.0), 6)] = column
            column += 1
    assert column == 5
    want = [1000.0 * k * 0.005 / 0.27 for k in range(1, 49)]
    assert sorted(told) == pytest.approx(want, abs=0.01)


def volume(line):
    """Whether it is a line of a volume: they are 9 mm long."""
    return abs(line.end[0] - line.start[0] - 9.0) < 1e-9


def test_a_stick_in_one_of_two_bays_is_silent_below_the_wall():
    tank = load(MESHES / "two_bays.toml").tank
    made = strip(tank, Gauge("dipstick", (0.8, 0.2, 0.0)), 0.005)
    # below the wall's top at 200 mm a bay may hold all or nothing of it; above it is one surface
    assert all(g.reading_m > 0.2 for g in made.graduations)
    assert min(g.volume_m3 for g in made.graduations) == pytest.approx(0.08)
    assert made.silent_m3[-1] == pytest.approx(0.075)


def test_the_command(tmp_path):
    words = [
        "strip",
        "--box",
        "36x12x12in",
        "--pickup",
        "suction=18,6,1.5in,bore=1.5in,facing=down",
    ]
    nothing = run(*words, "-o", tmp_path / "a.svg")
    assert (nothing.returncode, "--dipstick" in nothing.stderr) == (2, True)
    good = run(
        *words,
        "--dipstick",
        "4,6,0in",
        "--step",
        "1gal",
        "--require",
        "10deg",
        "-o",
        tmp_path / "a.svg",
    )
    assert good.returncode == 0
    text = (tmp_path / "a.svg").read_text()
    assert 'width="215.9mm" height="279.4mm"' in text  # US units: Letter
    assert ("5 US gal" in text, "1 in" in text, "LEAST" in text) == (True, True, True)
    asked = [*words, "--dipstick", "4,6,0in", "--step", "1gal", "--paper"]
    other = run(*asked, "A4", "-o", tmp_path / "b.svg")
    assert other.returncode == 0
    assert 'width="210mm" height="297mm"' in (tmp_path / "b.svg").read_text()
    odd = run(*asked, "a5", "-o", tmp_path / "c.svg")
    assert (odd.returncode, "a4, letter" in odd.stderr) == (2, True)
