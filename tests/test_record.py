"""Frozen results as plain JSON data."""

import json
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import numpy as np

from tanksolve.record import as_plain


class Kind(StrEnum):
    ONE = "the first"


@dataclass(frozen=True)
class Inner:
    height_m: float
    mesh: Any = field(default=None, metadata={"json": False})


@dataclass(frozen=True)
class Outer:
    name: str
    kind: Kind
    inner: tuple[Inner, ...]
    grid: Any
    by_port: dict[int, float]


def test_a_nested_result_becomes_plain_data_and_survives_json():
    grid = np.array([[1.0, np.nan], [np.inf, -2.0]])
    result = Outer("a", Kind.ONE, (Inner(0.5, object()), Inner(-np.inf)), grid, {3: 1.5})
    plain = as_plain(result)
    assert plain == {
        "name": "a",
        "kind": "the first",
        "inner": [{"height_m": 0.5}, {"height_m": None}],
        "grid": [[1.0, None], [None, -2.0]],
        "by_port": {"3": 1.5},
    }
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_numpy_scalars_become_python_numbers():
    for value, kind in ((np.float64(1.5), float), (np.int64(2), int), (np.bool_(True), bool)):
        assert type(as_plain(value)) is kind
    assert as_plain(np.float64(np.nan)) is None
