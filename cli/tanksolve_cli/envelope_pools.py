"""The envelope's table where liquid can part into pools."""

from typing import TYPE_CHECKING

import typer

from tanksolve_cli.output import limit_cell, print_table, slope_cell

if TYPE_CHECKING:
    from tanksolve.questions.envelope.envelope import Envelope, Limit
    from tanksolve.questions.envelope.pooled_envelope import PooledEnvelope
    from tanksolve_cli.case import Case

__all__ = ["air_cautions", "print_pooled", "worst_row"]


def print_pooled(result: "PooledEnvelope", step: int) -> None:
    """Print every ``step``-th heading, and how far one level through the tank would be off."""
    print_table(
        ("machine stands", "heading", "limit (grade)", "how sure", "port", "one level", "way"),
        [_row(limit, result) for limit in (*result.limits[::step], *worst_row(result))],
        "tank limit with pools (still liquid, this mesh), rounded down; a bound only where it says so",
        left=(0, 3, 4, 6),
    )
    typer.echo("  bound: one surface is certain, no gap between samples")
    typer.echo("  sampled: the worst of the ways tried, solved between samples, no bound")
    typer.echo("")
    if result.too_hopeful_deg > 0.05:
        typer.echo(
            f"DANGER of one level: it would allow up to {result.too_hopeful_deg:.1f}° more than "
            "the pools do; trapped liquid does not reach the pickup"
        )
    if result.too_careful_deg > 0.05:
        typer.echo(
            f"one level would forbid up to {result.too_careful_deg:.1f}° that the pools allow; "
            "trapped liquid keeps a pickup covered"
        )


def worst_row(result: "Envelope") -> "tuple[Limit, ...]":
    """The worst of all headings as a last row of a table; none where nothing gives out."""
    return (result.worst,) if result.worst.limited else ()


def _row(limit: "Limit", result: "Envelope") -> tuple[str, ...]:
    import math

    from tanksolve.model.attitude import heading_words
    from tanksolve.questions.envelope.pooled_envelope import PooledLimit
    from tanksolve.units import floor_to

    assert isinstance(limit, PooledLimit)
    one = "-" if limit.one_level_deg is None else f"{floor_to(limit.one_level_deg, 0.1):.1f}°"
    if limit.bounded:
        sure = "bound"
    elif limit.held_to_deg > 0.0:
        sure = f"sampled; bound {slope_cell(limit.held_to_deg)}"
    else:
        sure = "sampled"
    worst = limit is result.worst
    return (
        ("worst: " if worst else "") + heading_words(math.radians(limit.heading_deg)),
        f"{limit.heading_deg:.{1 if worst else 0}f}°",
        limit_cell(limit),
        sure,
        limit.port or "-",
        one,
        limit.path or "",
    )


def air_cautions(result: "Envelope", case: "Case") -> tuple[str, ...]:
    """Pickups whose air cannot vent on level ground, at a limit on a main side, or at the worst."""
    from math import radians

    from tanksolve.model.attitude import Attitude, heading_words
    from tanksolve.questions.level.air import shut_bays

    rows = [row for row in result.limits if row.heading_deg % 90.0 == 0.0 and row.limited]
    if result.worst.limited and result.worst.heading_deg % 90.0 != 0.0:
        rows.append(result.worst)
    places = [("on level ground", Attitude.level())]
    for row in rows:
        heading = radians(row.heading_deg)
        attitude = Attitude.from_slope(radians(row.told_deg), heading)
        places.append((f"at the limit {heading_words(heading)}", attitude))
    return shut_bays(case.tank, case.ports, case.fill.most, places)
