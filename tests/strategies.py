"""Hypothesis strategies shared by the tests: angles, attitudes, openings."""

import math

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

Array = NDArray[np.float64]


def angles(limit_deg: float) -> st.SearchStrategy[float]:
    """Angles [rad] between plus and minus ``limit_deg``."""
    return st.floats(-limit_deg, limit_deg).map(math.radians)


@st.composite
def directions(draw: st.DrawFn) -> Array:
    """Unit vectors (3,) over the whole sphere, the axes included."""
    z = draw(st.floats(-1.0, 1.0))
    turn = draw(st.floats(0.0, 2.0 * math.pi))
    side = math.sqrt(1.0 - z * z)
    return np.array([side * math.cos(turn), side * math.sin(turn), z])


@st.composite
def upright(draw: st.DrawFn) -> Array:
    """Up vectors (3,) of a machine at less than 85 degrees of slope."""
    slope, heading = draw(st.floats(0.0, 85.0)), draw(st.floats(0.0, 360.0, exclude_max=True))
    b, k = math.radians(slope), math.radians(heading)
    return np.array([math.sin(b) * math.cos(k), math.sin(b) * math.sin(k), math.cos(b)])


def lengths(most: float = 2.0) -> st.SearchStrategy[float]:
    """Lengths [m] from a millimetre."""
    return st.floats(1e-3, most)
