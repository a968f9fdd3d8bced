"""What the pools say of a requirement at a sample of its attitudes."""

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from tanksolve.state.pooled_margin import PooledMargin

__all__ = ["echo_pooled"]


def echo_pooled(found: "PooledMargin") -> None:
    """Say whether the rules are kept by pools, with the margin and where that is least."""
    from math import radians

    from tanksolve.bound_words import safe_length_words
    from tanksolve.model.attitude import uphill_words
    from tanksolve.units import slope_words

    place = (
        f"{found.port} at {slope_words(radians(found.slope_deg))} with uphill at "
        f"{uphill_words(found.heading_deg, 1)}, {found.path}"
    )
    if found.holds:
        told = f"held, least margin {safe_length_words(found.margin_m, up=False)}"
    else:
        told = f"NO: not held, short by {safe_length_words(-found.margin_m, up=True)}"
    typer.echo(f"by pools: {told}: {place} (sampled at {found.attitudes} attitudes, no bound)")
