import calendar
import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tanksolve.kernel.number_rows import GOOD, NOT_A_NUMBER, NUMBER, SHORT, STAMP, read_rows


def read(text: str, slots=(0, 1, 2), kinds=(NUMBER, NUMBER, NUMBER), separator=","):
    data = np.frombuffer(text.encode(), np.uint8)
    return read_rows(data, ord(separator), np.array(slots), np.array(kinds), 2)


numbers = st.floats(-1e15, 1e15).filter(lambda x: x == 0.0 or abs(x) > 1e-15)


@given(st.lists(st.tuples(*[numbers] * 3), min_size=1, max_size=20))
def test_any_numbers_that_python_writes_are_read_back(rows):
    text = "\n".join(",".join(repr(x) for x in row) for row in rows)
    values, status, lines, passed = read(text)
    assert (status == GOOD).all()
    assert lines.tolist() == list(range(2, 2 + len(rows)))
    assert passed == len(rows)
    # 17 digits may differ in the last bits; a log's numbers do not (see below)
    np.testing.assert_allclose(values, rows, rtol=1e-15)


@given(
    st.lists(
        st.tuples(*[st.decimals(-90, 90, allow_nan=False, places=4)] * 3), min_size=1, max_size=20
    )
)
def test_numbers_of_a_log_are_exact_to_the_last_bit(rows):
    text = "\r\n".join(",".join(str(x) for x in row) for row in rows) + "\r\n"
    values, _, _, _ = read(text)
    assert values.tolist() == [[float(x) for x in row] for row in rows]


def test_bad_rows_are_marked_and_the_next_is_read():
    text = "1,2,3\n1,x,3\n1,2\n\n 4 , -5.5 ,\t6e1 \n1,2,3junk\n,,\n7,8,9,extra\n+1,.5,5.\n1,2,-\nnan,1,1"
    values, status, lines, passed = read(text)
    assert status.tolist() == [
        *(GOOD, NOT_A_NUMBER, SHORT, GOOD, NOT_A_NUMBER, NOT_A_NUMBER, GOOD, GOOD),
        *(NOT_A_NUMBER, NOT_A_NUMBER),
    ]
    assert lines.tolist() == [2, 3, 4, 6, 7, 8, 9, 10, 11, 12]
    assert passed == 11
    assert values[[0, 3, 6, 7]].tolist() == [[1, 2, 3], [4, -5.5, 60], [7, 8, 9], [1, 0.5, 5]]


def test_columns_are_taken_in_any_order_and_others_passed_over():
    values, status, _, _ = read('a,1,"x,y",2,3\n"b","4",,5,6', slots=(-1, 2, -1, 0, 1))
    assert (status == GOOD).all()
    assert values.tolist() == [[2, 3, 1], [5, 6, 4]]


def test_decimal_commas_where_they_cannot_be_separators():
    values, status, _, _ = read("1,5;-2,25;3", separator=";")
    assert (status == GOOD).all()
    assert values.tolist() == [[1.5, -2.25, 3.0]]


def test_separated_by_tabs():
    values, status, _, _ = read("1\t2\t3\n4\t\t6", separator="\t")
    assert status.tolist() == [GOOD, NOT_A_NUMBER]
    assert values[0].tolist() == [1, 2, 3]


@given(st.datetimes(datetime.datetime(1970, 1, 1), datetime.datetime(2100, 1, 1)))
def test_time_stamps(moment):
    for text in (
        moment.isoformat("T", "milliseconds") + "Z",
        moment.isoformat(" ", "milliseconds"),
    ):
        values, status, _, _ = read(text, slots=(0,), kinds=(STAMP,))
        assert status.tolist() == [GOOD]
        expected = calendar.timegm(moment.timetuple()) + moment.microsecond // 1000 / 1000
        assert values[0, 0] == pytest.approx(expected, abs=1e-6)


def test_bad_time_stamps():
    texts = "2026-13-01T00:00:00\n2026-01-01\nnoon"
    assert read(texts, slots=(0,), kinds=(STAMP,))[1].tolist() == [NOT_A_NUMBER] * 3
