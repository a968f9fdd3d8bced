"""The smallest factor at which a quantity that changes with it is not negative: bracketed, then Brent."""

from collections.abc import Callable

__all__ = ["CLOSE", "bracket", "root"]

_LEAST, _MOST, _STEP = 0.02, 50.0, 1.25  # factors searched, and the step of the bracket
CLOSE = 1e-10  # of a factor

Quantity = Callable[[float], float]


def bracket(over: Quantity, met: bool) -> tuple[float, float] | None:
    """Neighbouring factors: the smaller does not meet the requirement, the greater does."""
    factor = 1.0
    while _LEAST < factor < _MOST:
        nearby = factor / _STEP if met else factor * _STEP
        if (over(nearby) >= 0.0) is not met:
            return (nearby, factor) if met else (factor, nearby)
        factor = nearby
    return None


def root(over: Quantity, low: float, high: float) -> float:
    """Brent's root; the lower end where that meets the requirement already."""
    from scipy.optimize import brentq

    if over(low) >= 0.0:
        return low
    found = float(brentq(over, low, high, xtol=CLOSE, rtol=1e-14))
    return _nudged(over, found)


def _nudged(over: Quantity, factor: float) -> float:
    """Brent's root may lie a hair on the wrong side."""
    for _ in range(4):
        if over(factor) >= 0.0:
            break
        factor += CLOSE * factor
    return factor
