"""The papers that are printed on, and the one that is usual where a system of units is."""

from tanksolve.errors import OutputError
from tanksolve.unit_systems import current

__all__ = ["PAPERS", "paper_named", "usual_paper"]

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # mm, upright: ISO 216; 8.5 x 11 in


def usual_paper() -> str:
    """Letter where US units are in force, else A4."""
    return "letter" if current().name == "us" else "a4"


def paper_named(name: str | None) -> tuple[float, float]:
    """Width and height [mm] of a paper by its name, the usual one for None. Raises OutputError."""
    if name is None:
        name = usual_paper()
    if name.lower() not in PAPERS:
        raise OutputError(
            f"'{name}' is no paper that is known here", where="--paper", allowed=", ".join(PAPERS)
        )
    return PAPERS[name.lower()]
