"""Sides that limit alike are told together, whichever of them a search came upon."""

import pytest
from program import answer, run

from tanksolve.present.sides import alike

BOX = ("--box", "900x300x300mm", "--fill", "42L", "--search-to", "50deg")


@pytest.mark.parametrize(
    ("worst", "headings", "told"),
    [
        (90.0, [], "right side down"),
        (90.0, [270.0], "right side down, and left side down alike"),
        (180.0, [175.0, 185.0], "nose down"),  # one run
        (180.0, [175.0, 0.0, 5.0, 355.0], "nose down, and nose up alike"),
        (40.0, [140.0, 220.0, 320.0], "nose up, right side down, and 3 other sides alike"),
        (10.0, range(0, 360, 5), "on every side alike"),
    ],
)
def test_runs_of_headings_in_words(worst, headings, told):
    assert alike(worst, headings, 7.5) == told


def test_both_sides_of_a_pickup_in_the_middle_are_told():
    port = ("--pickup", "suction=450,150,40mm,bore=38mm,facing=down")
    shown = run("envelope", *BOX, *port, "--require", "30deg").told
    assert "14.5 mm, left side down, and right side down alike" in shown or (
        "14.5 mm, right side down, and left side down alike" in shown
    )
    (met,) = answer("envelope", *BOX, *port, "--require", "30deg")["requirements"]
    both = {round(met["heading_deg"] / 90.0), *(round(d / 90.0) for d in met["alike_deg"])}
    assert both == {1, 3}
    off = ("--pickup", "suction=450,140,40mm,bore=38mm,facing=down")
    (met,) = answer("envelope", *BOX, *off, "--require", "30deg")["requirements"]
    assert all(d == pytest.approx(met["heading_deg"], abs=23.0) for d in met["alike_deg"])
    assert "alike" not in run("envelope", *BOX, *off, "--require", "30deg").told
