"""Values of variants: every combination in order, ranges without rounding, a hypercube that covers."""

import numpy as np
import pytest

from tanksolve.errors import FileFormatError, QuantityError
from tanksolve.study.variants import Choices, Range, Variants, Vary, check_counts


def test_a_range_steps_in_decimals():
    tenths = Range.of("0.1 m", "0.7 m", "0.1 m", "")
    assert [tenths.at(k) for k in range(tenths.count)] == [f"0.{k} m" for k in range(1, 8)]


def test_a_range_ends_within_its_last_step():
    assert [Range.of("0 mm", "10 mm", "4 mm", "").at(k) for k in range(3)] == [
        "0 mm",
        "4 mm",
        "8 mm",
    ]
    assert Range.of("0 mm", "10 mm", "4 mm", "").count == 3


@pytest.mark.parametrize(
    "words",
    [
        ("1 mm", "1 mm", None),
        ("2 mm", "1 mm", None),
        ("1 mm", "2 in", None),
        ("1 mm", "2 mm", "1 in"),
        ("1 mm", "2 mm", "0 mm"),
        ("1 mm", "2 mm", "-1 mm"),
        ("1 mm", "2 mm", "1e-300 mm"),
        ("-1e308 mm", "1e308 mm", "1 mm"),
        ("x", "2 mm", None),
        ("nan mm", "2 mm", None),
    ],
)
def test_a_range_that_is_none_is_refused(words):
    with pytest.raises((FileFormatError, QuantityError)):
        Range.of(*words, "")


def three(sampled=0, seed=0):
    keys = ("a", "b", "c")
    values = (Choices(("x", "y")), Range(0.0, 2.0, 1.0, "mm"), Range(5.0, 10.0, 0.0, "L"))
    vary = tuple(Vary(k, ((k,),), v) for k, v in zip(keys, values, strict=True))
    return Variants(vary if sampled else vary[:2], sampled, seed)


def test_every_combination_comes_once_the_last_key_quickest():
    variants = three()
    found = [tuple(variants.values(k)) for k in range(variants.count)]
    assert found[:4] == [("x", "0 mm"), ("x", "1 mm"), ("x", "2 mm"), ("y", "0 mm")]
    assert len(set(found)) == variants.count == 6


def test_a_hypercube_meets_each_part_of_each_range_once():
    found = [three(sampled=50, seed=3).values(k) for k in range(50)]
    litres = np.sort([float(row[2].split()[0]) for row in found])
    assert (np.floor((litres - 5.0) / 0.1 + 1e-4) == np.arange(50)).all()
    assert [row[0] for row in found].count("x") == 25
    assert {row[1] for row in found} == {"0 mm", "1 mm", "2 mm"}


def test_the_seed_and_nothing_else_decides():
    again = three(sampled=20, seed=1)
    assert [again.values(k) for k in (3, 7)] == [three(20, 1).values(k) for k in (3, 7)]
    assert again.values(3) != three(20, 2).values(3)


def test_too_many_and_a_grid_without_steps_are_refused():
    wide = Vary("d", (("d",),), Range(0.0, 1e5, 1.0, "mm"))
    with pytest.raises(FileFormatError, match="10,000,200,001"):
        check_counts(Variants((wide, wide)), "dd", "")
    with pytest.raises(FileFormatError, match="without a step"):
        check_counts(Variants(three(1).vary), "abc", "")


def test_a_column_of_numbers_of_one_unit_has_the_unit_in_its_title():
    assert Vary("a", (), Choices(("3 mm", "4.5 mm"))).column == "a [mm]"
    assert Vary("a", (), Choices(("3 mm", "4.5 mm"))).cell("4.5 mm") == 4.5
    for values in (("3 mm", "1 in"), ("30 L..42 L",), ("1, 2 mm",), ("up", "down"), (True,)):
        assert Vary("a", (), Choices(values)).column == "a"
        assert Vary("a", (), Choices(values)).cell(values[0]) == values[0]
