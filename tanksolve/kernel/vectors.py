"""Vectors as tuples of three numbers: compiled loops need no arrays for them."""

from tanksolve.kernel.compiled import compiled_inner

Vector = tuple[float, float, float]

__all__ = ["Vector", "cross", "dot", "minus"]


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
