"""What the screen says of a study: rows refused, limits that nothing meets, a row that is not what it was."""

import json
import re
import zlib

import pytest
from program import run
from studies import STUDY, written

FEW = STUDY.replace('to = "1000 mm"', 'to = "700 mm"').replace('"20 mm", "40 mm"', '"40 mm"')


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    written(folder, FEW)
    return folder


def test_rows_that_are_refused_are_counted_with_their_place(folder):
    shown = run("study", "study.toml", "--full", cwd=folder).told
    assert "looked for up to 40.0°" not in shown  # no winner stands there
    assert re.search(r"4 x box.toml, line 12, port.1.at", shown)
    assert "tank limit" in shown


def test_limits_that_nothing_meets_are_told(folder):
    written(folder, FEW.replace('at_least = "5 deg"', 'at_least = "39 deg"'))
    shown = run("study", "study.toml", cwd=folder).told
    assert "none of the 4 variants computed meets all limits" in shown


def test_a_row_that_is_not_what_it_was_is_told(folder):
    rows = folder / "study_results" / "rows.log"
    run("study", "study.toml", cwd=folder)
    lines = rows.read_bytes().splitlines(keepends=True)
    k = next(k for k, line in enumerate(lines) if b"capacity_m3" in line)
    number, row = json.loads(lines[k][9:])
    row["values"]["capacity_m3"] *= 1.0 + 1e-15
    body = json.dumps([number, row]).encode()
    lines[k] = b"%08x %s\n" % (zlib.crc32(body), body)
    rows.write_bytes(b"".join(lines))
    assert "differs from what was kept" in run("explain", rows.parent, number + 1).told
