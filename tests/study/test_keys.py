"""Dotted keys of a tank file: where they lead, and what is written there."""

import tomllib

import pytest
from studies import BOX

from tanksolve.errors import FileFormatError
from tanksolve.study.keys import apply, path_of


@pytest.fixture
def tables():
    return tomllib.loads(BOX)


@pytest.mark.parametrize(
    ("key", "path"),
    [
        ("fill", ("fill",)),
        ("tank.length", ("tank", "length")),
        ("port.suction.at.up", ("port", 0, "at", "up")),
        ("port.2.bore", ("port", 1, "bore")),
        ('port."no. 2".bore', ("port", 1, "bore")),
        (" port . 'no. 2' . bore ", ("port", 1, "bore")),
        ("mounting.pitch", ("mounting", "pitch")),
    ],
)
def test_a_key_leads_to_its_place(tables, key, path):
    assert path_of(key, tables, "") == path


@pytest.mark.parametrize(
    "key",
    [
        "",
        ".",
        "tank.",
        ".tank",
        "a..b",
        'port."x',
        "port.3.at",
        "port.0.at",
        "port.tail.at",
        "a." * 9 + "b",
    ],
)
def test_a_key_that_leads_nowhere_is_refused(tables, key):
    with pytest.raises(FileFormatError):
        path_of(key, tables, "")


@pytest.mark.parametrize(
    ("key", "value", "there", "text"),
    [
        ("tank.length", "1 m", ("tank", "length"), "1 m"),
        ("port.suction.at.up", "-12.5 mm", ("port", 0, "at"), "450, 150, -12.5 mm"),
        ("port.suction.at.forward", "20 mm", ("port", 0, "at"), "20, 150, 40 mm"),
        ("liquid.name", "oil", ("liquid", "name"), "oil"),
        ("mounting.pitch", "2 deg", ("mounting", "pitch"), "2 deg"),
    ],
)
def test_a_value_is_put_in_its_place(tables, key, value, there, text):
    assert apply(tables, path_of(key, tables, ""), value) == (there, text)
    at = tables
    for step in there:
        at = at[step]
    assert at == text


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("port.suction.at.up", "1 in"),  # another unit than the place's
        ("port.suction.at.up", "high"),
        ("port.suction.at.up", 40),
        ("fill.least", "30 L"),
        ("port", "x"),
        ("port.suction.name.up", "1 mm"),
    ],
)
def test_a_value_that_does_not_fit_is_refused(tables, key, value):
    with pytest.raises(FileFormatError):
        apply(tables, path_of(key, tables, "") if key != "port" else ("port", "x"), value)
