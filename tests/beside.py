"""A published figure with ours beside it: what ``beside()`` of each file in ``tests/validation`` tells."""

from typing import NamedTuple

__all__ = ["Beside"]


class Beside(NamedTuple):
    """One case: what is compared, the figure of the source as it stands there, and ours now."""

    what: str
    theirs: float
    ours: float
    unit: str
    digits: int = 6  # of the source's figure that are told
