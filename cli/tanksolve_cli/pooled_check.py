"""An answer that took one level, tried again by pools at a sample of the required attitudes."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from tanksolve.analysis.conditions import Pickups
    from tanksolve.analysis.pooled_margin import PooledMargin
    from tanksolve.model.liquid import Fill
    from tanksolve.model.ports import Port
    from tanksolve.model.requirement import Requirement
    from tanksolve.model.tank import Tank

__all__ = ["echo_pooled", "pooled_check"]


def pooled_check(
    tank: "Tank",
    ports: "Sequence[Port]",
    fill: "Fill",
    requirement: "Requirement",
    pickups: "Pickups" = "all",
) -> "PooledMargin":
    """Settle the liquid along several ways to a sample of the required attitudes; judge by pools."""
    from tanksolve.analysis.conditions import Conditions
    from tanksolve.analysis.pooled_margin import least_pooled_margin
    from tanksolve.analysis.required_ways import FINE

    return least_pooled_margin(Conditions.of(tank, ports, fill, pickups), requirement, FINE)


def echo_pooled(found: "PooledMargin | None", what: str) -> None:
    """Say what the pools make of ``what``, such as a place found by one level."""
    from math import radians

    from tanksolve.bound_words import safe_length_words
    from tanksolve.model.attitude import uphill_words
    from tanksolve.units import slope_words

    if found is None:
        return
    place = (
        f"{found.port} at {slope_words(radians(found.slope_deg))} with uphill at "
        f"{uphill_words(found.heading_deg, 1)}, {found.path}"
    )
    if found.holds:
        told = f"held, least margin {safe_length_words(found.margin_m, up=False)}"
    else:
        told = f"NO: not held, short by {safe_length_words(-found.margin_m, up=True)}"
    typer.echo(
        f"{f'by pools {what}'.strip()}: {told}: {place} (sampled at {found.attitudes} attitudes, no bound)"
    )
