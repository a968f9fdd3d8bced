"""Vectors as tuples of three numbers: compiled loops need no arrays for them; loops over a row; indices."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner

Array = NDArray[np.float64]
Vector = tuple[float, float, float]

__all__ = ["Vector", "cross", "dot", "greatest", "minus", "put", "whole"]


@compiled_inner
def minus(a: Vector, b: Vector) -> Vector:
    """The way from ``b`` to ``a``."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@compiled_inner
def dot(a: Vector, b: Vector) -> float:
    """The scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled_inner
def cross(a: Vector, b: Vector) -> Vector:
    """The vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@compiled_inner
def put(row: Array, values: Array) -> None:
    """Write values (J,) into a row (J,).

    Where one array is assigned to a slice of another, numba compiles a message about shapes as well,
    with all that writes numbers as text: three seconds of a first run.
    """
    for j in range(len(row)):
        row[j] = values[j]


@compiled_inner
def greatest(row: Array) -> float:
    """The greatest of one or more values (J,); compiled in a third of the time of ``row.max()``."""
    most = row[0]
    for j in range(1, len(row)):
        if row[j] > most or row[j] != row[j]:  # what is not a number stays
            most = row[j]
    return float(most)


@compiled_inner
def whole(number: int) -> int:
    """An index as one width of integer: what it is handed to is compiled once, not for each width."""
    return int(np.int64(number))
