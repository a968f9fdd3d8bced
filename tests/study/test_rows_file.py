"""The rows' file: whatever a killed run or a full disk leaves, whole rows stay and torn ones go."""

import resource

import pytest

from tanksolve.errors import OutputError
from tanksolve.study.rows_file import RowsFile


def row(k, status="ok"):
    return {"status": status, "values": {"capacity_m3": k / 7}, "reason": "é"}


def filled(path, numbers):
    rows = RowsFile(path, 10)
    for k in numbers:
        rows.append(k, row(k))
    rows.close()
    return path.read_bytes()


def test_rows_come_back_as_they_were_in_order(tmp_path):
    filled(tmp_path / "rows", [3, 0, 9])
    rows = RowsFile(tmp_path / "rows", 10)
    assert list(rows.rows()) == [(k, row(k)) for k in (0, 3, 9)]
    assert list(rows.missing()) == [1, 2, 4, 5, 6, 7, 8]
    assert rows.row(3) == row(3)
    rows.close()


def test_a_file_cut_anywhere_loses_its_last_row_and_no_other(tmp_path):
    whole = filled(tmp_path / "rows", [3, 0, 9])
    start = whole.index(b"\n", whole.index(b"\n") + 1) + 1  # of the last row
    for cut in range(start, len(whole)):
        (tmp_path / "cut").write_bytes(whole[:cut])
        rows = RowsFile(tmp_path / "cut", 10)
        assert [k for k, _ in rows.rows()] == [0, 3]
        rows.append(9, row(9))
        rows.close()
        assert (tmp_path / "cut").read_bytes() == whole


def test_a_row_that_was_changed_is_computed_anew(tmp_path):
    whole = bytearray(filled(tmp_path / "rows", [3, 0, 9]))
    for at in range(0, len(whole), 7):
        other = bytearray(whole)
        other[at] ^= 1
        (tmp_path / "other").write_bytes(other)
        rows = RowsFile(tmp_path / "other", 10)
        assert all(found == row(k) for k, found in rows.rows())
        assert rows.done < 3
        rows.close()


def test_lost_rows_are_tried_again_and_rows_are_not_written_twice(tmp_path):
    rows = RowsFile(tmp_path / "rows", 10)
    rows.append(1, row(1, "lost"))
    rows.append(2, row(2))
    rows.append(2, row(5))
    rows.close()
    again = RowsFile(tmp_path / "rows", 10)
    assert list(again.rows()) == [(2, row(2))]
    again.close()


def test_two_runs_do_not_write_at_once(tmp_path):
    rows = RowsFile(tmp_path / "rows", 10)
    with pytest.raises(OutputError, match="another run"):
        RowsFile(tmp_path / "rows", 10)
    rows.close()
    RowsFile(tmp_path / "rows", 10).close()


def test_a_full_disk_is_told_and_what_was_written_stays(tmp_path):
    size = len(filled(tmp_path / "rows", [0, 1, 2])) + 20
    rows = RowsFile(tmp_path / "rows", 10)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        with pytest.raises(OutputError, match="what is done is kept"):
            rows.append(3, row(3))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    rows.close()
    again = RowsFile(tmp_path / "rows", 10)
    assert [k for k, _ in again.rows()] == [0, 1, 2]
    assert again.dropped == 1
    again.close()
