"""Rows as numbers: both readers alike, what Python writes read back, dates and times by hand."""

import datetime
import math

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyarrow import parquet

from tanksolve.errors import FileFormatError
from tanksolve.geometry.parts import box
from tanksolve.model.ports import pickup
from tanksolve.questions.replay import log_rows
from tanksolve.questions.replay.log_columns import Column
from tanksolve.questions.replay.log_rows import Plan, Rows, read_rows, rows_one_by_one
from tanksolve.questions.replay.replay import LogOptions, replay

TANK = box(1.2, 0.5, 0.8)
EDGE = (pickup("edge", (1.2, 0.25, 0.0), cover=0.0),)


def plan(separator: str = ",", decimal: str = ".", width: int = 3, stamp: str = "") -> Plan:
    pitch = Column("pitch", 2, "pitch_deg", "deg")
    return Plan(separator, decimal, width, (Column("time", 0, "time", "s", stamp=stamp), pitch))


def at_once(text: str, how: Plan) -> Rows:
    """By the table library, down to single lines."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(log_rows, "SMALL", 0)
        return read_rows(text.encode(), how)


def same(text: str, how: Plan) -> None:
    one, other = at_once(text, how), rows_one_by_one(text.encode(), how)
    assert one.faults == other.faults
    for a, b in zip(one.values, other.values, strict=True):
        a, b = (np.where(np.isfinite(x), x, np.nan) for x in (a, b))
        np.testing.assert_allclose(a, b, rtol=1e-15, atol=0.0, equal_nan=True)


numbers = st.floats(-1e15, 1e15)


@given(st.lists(st.tuples(numbers, numbers, numbers), min_size=1, max_size=20))
def test_any_numbers_that_python_writes_are_read_back(rows: list[tuple[float, ...]]) -> None:
    text = "\n".join(",".join(repr(x) for x in row) for row in rows)
    same(text, plan())
    time, pitch = at_once(text, plan()).values
    assert time.tolist() == [row[0] for row in rows]
    assert pitch.tolist() == [row[2] for row in rows]


PIECES = """1|-2.5|3,5|"4,5"|"-6"|| 7 |x|nan|inf|1e3|+8|.5|5.|1_0|-|"|"a""b"|0x1|2026-05-01 10:00|#|\t|٣|9"|''"""
pieces = st.sampled_from(PIECES.split("|"))


@given(
    st.lists(st.lists(pieces, min_size=0, max_size=5), min_size=1, max_size=12),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from([",", "."]),
    st.sampled_from(["\n", "\r\n"]),
)
def test_both_readers_take_any_rows_alike(
    rows: list[list[str]], separator: str, decimal: str, end: str
) -> None:
    text = "".join(separator.join(row) + end for row in rows)
    same(text, plan(separator, decimal))


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("2026-05-01T10:00:00Z", "zoned", (2026, 5, 1, 10)),
        ("2026-05-01 12:00:00+02:00", "zoned", (2026, 5, 1, 10)),
        ("2026-05-01 12:00:00 +0200", "zoned", (2026, 5, 1, 10)),
        ("2026-05-01 10:00:00,250", "local", (2026, 5, 1, 10, 0, 0, 250_000)),
        ("2026-05-01 10:00", "local", (2026, 5, 1, 10)),
        ("03/04/2026 09:08:07", "d/m/y", (2026, 4, 3, 9, 8, 7)),
        ("3.4.2026 9:08:07", "m/d/y", (2026, 3, 4, 9, 8, 7)),
        ("2026-05-01 10:00:00", "zoned", None),
        ("2026-05-01 10:00:00Z", "local", None),
        ("2026-02-30 10:00:00", "local", None),
        ("31/31/2026 10:00:00", "d/m/y", None),
        ("2026-05-01", "local", (2026, 5, 1)),
        ("2026-05-01", "zoned", None),
        ("10:00:00", "local", None),
        ("", "local", None),
    ],
)
def test_dates_and_times(text: str, kind: str, expected: tuple[int, ...] | None) -> None:
    how = plan(separator=";", decimal=",", stamp=kind)
    same(f"{text};0;1\n", how)
    (value,), _ = at_once(f"{text};0;1\n", how).values
    if expected is None:
        assert math.isnan(value)
    else:
        moment = datetime.datetime(*expected, tzinfo=datetime.UTC)  # type: ignore[arg-type,misc]
        assert value == pytest.approx(moment.timestamp(), abs=1e-6)


def parquet_log(path, pitch, time=None):
    time = pa.array(np.arange(len(pitch), dtype=float)) if time is None else time
    table = {"time_s": time, "pitch_deg": pitch, "roll_deg": pa.array([0] * len(pitch), pa.int16())}
    parquet.write_table(pa.table(table), path)
    return path


@pytest.mark.parametrize(
    ("pitch", "right"),
    [
        (pa.array([0.0, 14.0, 0.0], pa.float32()), "kept"),
        (pa.array([0.0, 14.1, 0.0]), "broken"),
        (pa.array([0.0, None, 0.0]), "not known"),
        (pa.array([0, 95, 0], pa.int32()), "broken"),
    ],
)
def test_parquet(pitch, right, tmp_path) -> None:
    path, told = parquet_log(tmp_path / "day.parquet", pitch), []
    result = replay(TANK, EDGE, 0.09, path, progress=lambda *bytes_: told.append(bytes_))
    assert told[-1] == (path.stat().st_size,) * 2
    assert result.verdict == right
    assert result.rows == 3
    assert result.step_s == 1.0


def test_parquet_times_with_a_zone_and_words_for_numbers(tmp_path) -> None:
    at = [datetime.datetime(2026, 10, 25, h, tzinfo=datetime.UTC) for h in range(3)]
    pitch = pa.array([0.0, 0.0, 0.0])
    path = parquet_log(
        tmp_path / "a.parquet", pitch, pa.array(at, pa.timestamp("us", "Europe/Oslo"))
    )
    result = replay(TANK, EDGE, 0.09, path)
    assert (result.verdict, result.end_s - result.start_s, result.step_s) == (
        "kept",
        7200.0,
        3600.0,
    )
    assert result.start_s == at[0].timestamp()
    path = parquet_log(tmp_path / "b.parquet", pa.array(["0", "x", "0"]))
    with pytest.raises(FileFormatError, match="holds no numbers"):
        replay(TANK, EDGE, 0.09, path)


def test_without_the_library_parquet_is_refused_and_text_is_read(tmp_path, monkeypatch) -> None:
    path = parquet_log(tmp_path / "day.parquet", pa.array([0.0, 20.0]))
    monkeypatch.setattr("tanksolve.questions.replay.log_file.has_arrow", lambda: False)
    monkeypatch.setattr("tanksolve.questions.replay.log_rows.has_arrow", lambda: False)
    with pytest.raises(FileFormatError, match=r"tanksolve\[logs\]"):
        replay(TANK, EDGE, 0.09, path)
    text = tmp_path / "day.csv"
    text.write_text("time_s,pitch_deg,roll_deg\n" + "".join(f"{t},0,0\n" for t in range(20_000)))
    assert replay(TANK, EDGE, 0.09, text).outcome.kept_s == 19_999.0


def test_the_first_rows_are_said_back_as_understood(tmp_path) -> None:
    path = tmp_path / "day.csv"
    path.write_text('when,Neigung [%],quer [deg]\n0,"10,0","-2,5"\n500,x,"0,5"\n', "utf-8")
    names = {"time": "when", "pitch": "Neigung [%]", "roll": "quer [deg]"}
    options = LogOptions(names=names, units={"time": "ms"}, reversed_signs=frozenset({"roll"}))
    result = replay(TANK, EDGE, 0.09, path, options)
    assert result.first_rows == (
        (0.0, math.atan(0.1), pytest.approx(math.radians(2.5))),
        (0.5, None, pytest.approx(-math.radians(0.5))),
    )
    assert [c.sign for c in result.columns] == [
        "",
        "nose up is positive",
        "left side down is positive",
    ]
    assert result.step_s == 0.5
