"""What the screen says, as a user runs it. ``tanksolve marks`` as a user runs it: keys that scripts rely on."""

import math

from program import answer, run

from tanksolve.geometry.parts import box
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.present.document import Verdict
from tanksolve.present.marks_document import marks_document
from tanksolve.present.report_answers import marks_answer
from tanksolve.present.understood import Inputs
from tanksolve.present.wording import sentence
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.marks.marks import marks

ASKEW = """
tanksolve_file = 1
[tank]
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"
sizes = "inside"
[[port]]
name = "suction"
kind = "pickup"
at = "450, 150, 40 mm"
[mounting]
pitch = "5 deg"
"""


CASE = [
    "marks", "--box", "900x300x300mm", "--pickup", "suction=100,150,50mm",
    "--breather", "cap=450,150,300mm",
]  # fmt: skip


def test_table_says_units_source_and_picture_is_written(tmp_path):
    picture = tmp_path / "marks.svg"
    shown = run(
        *CASE, "--require", "modu-static", "--dipstick", "100,150,5mm,lean=10deg",
        "--sight-glass", "900,150,20mm", "--reading-error", "2mm", "--reading-tilt", "1deg",
        "--thermal", "3%", "--draw-down", "1L", "--picture", str(picture),
    )  # fmt: skip
    assert shown.returncode == 0, shown.stderr
    for words in (
        "check the edition that binds you",
        "26.7 %",
        "marks on",
        "sight glass",
    ):
        assert words in shown.stdout
    assert "suction" in picture.read_text()


def test_no_is_exit_code_3_and_says_by_how_much():
    shown = run(*CASE, "--require", "40deg")
    assert shown.returncode == 3
    assert shown.stdout.startswith("No: no fill will do: the least is above the most by")
    found = answer(*CASE, "--require", "40deg", code=3)
    assert found["feasible"] is False
    assert found["short_by_m3"] > 0.0


def test_out_of_reach_is_said():
    shown = run(
        "marks",
        "--box",
        "900x300x300mm",
        "--pickup",
        "s=10,150,250mm,cover=80mm",
        "--require",
        "5deg",
    )
    assert shown.returncode == 3
    assert "outside the tank" in shown.stdout


def test_a_requirement_is_needed():
    shown = run(*CASE)
    assert shown.returncode == 2
    assert "--require" in shown.stderr


def test_the_fill_given_is_held_against_the_marks():
    between = " ".join(run(*CASE, "--require", "10deg", "--fill", "40L").stdout.split())
    assert between.startswith("Yes: the fill given, 40.00 L, lies between the marks: ")
    assert "--reading-tilt" in between
    beyond = run(*CASE, "--require", "10deg", "--fill", "5L..80L", "--reading-error", "2mm").stdout
    assert beyond.startswith("NOT BETWEEN THE MARKS: the fill given is 5.00 L to 80.00 L; keep in ")
    assert "none given" not in beyond
    for fill, told in (("40L", True), ("5L..40L", False), ("40L..80L", False)):
        assert answer(*CASE, "--require", "10deg", "--fill", fill)["fill_between_marks"] is told
    assert answer(*CASE, "--require", "10deg")["fill_between_marks"] is None


def test_where_a_stick_stands_is_told_for_a_tank_askew(tmp_path):
    file = tmp_path / "askew.toml"
    file.write_text(ASKEW)
    stick = ["--require", "5deg", "--dipstick", "400,150,50mm"]
    told = run("marks", str(file), *stick)
    assert "places of dipsticks and sight glasses" in told.stdout, told.stderr
    assert "machine axes" in told.stdout
    file.write_text(ASKEW.replace('pitch = "5 deg"', 'pitch = "0 deg"'))
    assert "places of dipsticks" not in run("marks", str(file), *stick).stdout


def test_marks_say_what_they_are_for_and_that_nothing_is_to_spare():
    required = "for every heading up to 10.0° (17.6 % grade) only"
    told = " ".join(run(*CASE, "--require", "10deg", "--fill", "40L", "--full").stdout.split())
    assert f"{required}; at these marks nothing is to spare" in told
    assert "without allowances" not in told
    less = run(*CASE, "--require", "10deg", "--reading-error", "2mm", "--full").stdout
    assert required in " ".join(less.split())
    assert "nothing is to spare" not in less
    assert "without allowances" in less


def test_the_report_puts_no_yes_before_marks_at_which_nothing_is_to_spare():
    tank = box(0.9, 0.3, 0.3)
    ports = (pickup("suction", (0.45, 0.15, 0.05), bore=0.03), breather("cap", (0.45, 0.15, 0.3)))
    asked = Requirement.every_heading(math.radians(10.0))
    inputs = Inputs(tank, ports, Fill.of(0.04))
    document = marks_document(inputs, marks(tank, ports, asked), asked, (tank, ports))
    assert document.verdict is Verdict.YES
    limits = envelope(tank, ports, Fill.of(0.04), every_deg=90.0)
    answer = marks_answer(document, limits, asked, (0.0034, 0.0046))
    told = sentence(answer.document.verdict, answer.document.sentence)
    assert told.startswith("The fill given, 40.00 L, lies between the marks: ")
    assert "no allowance is taken off, and a dip is sure to within 4 mm to 5 mm only" in told
    assert answer.note.startswith(
        "For every heading up to 10.0° (17.6 % grade) only; at these marks nothing"
    )
    assert answer.note.endswith("is for 40.00 L only.")
