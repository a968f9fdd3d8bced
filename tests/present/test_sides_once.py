"""Headings and their mirror images in one row, where all that is told beside them reads alike."""

import math

from tanksolve.present.document import Column
from tanksolve.present.sides_once import sides_once

COLUMNS = (
    Column("machine stands"),
    Column("heading", "angle"),
    Column("held", "volume", "down"),
    Column("port"),
)


def test_only_what_reads_alike_is_folded():
    rows = [
        ("level ground", None, 0.01, "suction"),
        ("nose up", 0.0, 0.01, "suction"),
        ("nose up, right side down", math.radians(40.0), 0.0200001, "suction"),
        ("right side down", math.radians(90.0), 0.02, "suction"),
        ("nose down", math.radians(180.0), 0.03, "suction"),
        ("left side down", math.radians(270.0), 0.02, "other"),
        ("nose up, left side down", math.radians(320.0), 0.0200004, "suction"),
    ]
    folded = sides_once(COLUMNS, rows, 0, 1)
    assert [(row[0], row[1]) for row in folded] == [
        ("level ground", "-"),
        ("nose up", "0.0°"),
        ("nose up, left or right side down", "40.0° and 320.0°"),
        ("right side down", "90.0°"),
        ("nose down", "180.0°"),
        ("left side down", "270.0°"),
    ]
    assert [row[2] for row in folded] == [0.01, 0.01, 0.0200001, 0.02, 0.03, 0.02]
