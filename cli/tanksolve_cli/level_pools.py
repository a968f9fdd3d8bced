"""Tables and pictures of the ``level`` command: the pools, and the ports judged by them."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from tanksolve_cli.output import print_table
from tanksolve_cli.pictures import save_pictures

if TYPE_CHECKING:
    from tanksolve.model.ports import Rule
    from tanksolve.questions.level.air import Air
    from tanksolve.questions.level.pools import PoolsAt, PortInPool
    from tanksolve.questions.level.surface import PortAtLevel
    from tanksolve_cli.case import Case

__all__ = [
    "any_pickup_holds",
    "draw_pools",
    "drawn_note",
    "print_any_pickup",
    "print_pools",
    "print_ports",
]

_SAME = 1e-6  # m


def print_pools(settled: "PoolsAt", unit: str | None) -> None:
    """Print each pool with what stands in it, and what the pickups cannot reach."""
    from tanksolve.units import volume_words

    heights = [pool.level_height_m for pool in settled.pools]
    one_level = (
        "one level through the whole tank does not hold"
        if max(heights) - min(heights) > _SAME
        else "all stand at one level"
    )
    typer.echo("")
    print_table(
        ("pool", "holds", "surface", "level along up", "ports"),
        [
            (
                f"{number}",
                volume_words(pool.volume_m3, unit),
                f"{pool.surface_area_m2:.4f} m²",
                f"{1000.0 * pool.level_height_m:.1f} mm",
                ", ".join(pool.ports) or "none",
            )
            for number, pool in enumerate(settled.pools, start=1)
        ],
        f"the liquid stands in {len(settled.pools)} pools ({settled.filled}; {settled.path}); "
        f"{one_level}",
        left=(0, 4),
    )
    if settled.trapped_m3 is not None:
        typer.echo(f"trapped: {volume_words(settled.trapped_m3, unit)} out of reach of the pickups")


def any_pickup_holds(case: "Case", ports: "Sequence[PortAtLevel | PortInPool]") -> bool | None:
    """Whether some pickup keeps its rule where one is enough; None where all of them have to."""
    wet = {port.name for port in case.ports if port.effective_rule is _wet()}
    judged = [port.holds for port in ports if port.name in wet]
    return any(judged) if case.pickups == "any" and judged else None


def _wet() -> "Rule":
    from tanksolve.model.ports import Rule

    return Rule.WET


def print_any_pickup(case: "Case", ports: "Sequence[PortAtLevel | PortInPool]") -> None:
    """Say whether the pickups hold where one of them is enough."""
    held = any_pickup_holds(case, ports)
    if held is None:
        return
    wet = {port.name for port in case.ports if port.effective_rule is _wet()}
    names = ", ".join(port.name for port in ports if port.name in wet and port.holds)
    typer.echo(
        f"one pickup is enough: held, by {names}"
        if held
        else "one pickup is enough: NOT HELD, every pickup's rule is broken"
    )


def print_ports(ports: "Sequence[PortAtLevel | PortInPool]") -> None:
    """Print how far each port is from its rule, or without one how deep it is."""
    from tanksolve.model.ports import Rule

    if not ports:
        return
    typer.echo("")
    rows = [
        (
            port.name,
            port.rule,
            f"{1000.0 * port.margin_m:+.1f} mm",
            ("covered" if port.covered else "part wet" if port.wet else "dry")
            + ("" if port.holds else ": rule broken"),
        )
        for port in ports
    ]
    print_table(("port", "rule", "margin", "state"), rows, left=(0, 1, 3))
    if any(port.rule == str(Rule.NONE) for port in ports):
        typer.echo(
            f"where a port {Rule.NONE}, its margin is the liquid over its highest point; minus: it is above"
        )


def drawn_note(case: "Case", most: bool) -> str:
    """What must be seen before a picture: no allowance, and which fill of a range is drawn."""
    from tanksolve.units import volume_words

    words = [case.first_caution] if case.first_caution else []
    if case.fill.least != case.fill.most:
        shown = volume_words(case.fill.most if most else case.fill.least, case.volume_unit)
        words.append(
            f"the most fill is drawn, {shown}; for the least leave out --most"
            if most
            else f"the least fill is drawn, {shown}; for the most add --most"
        )
    return "; ".join(words)


def draw_pools(
    settled: "PoolsAt", case: "Case", note: str, solid: list[Path], tree: list[Path]
) -> None:
    """Draw the tank with its pools, and the merge tree, where they are asked for."""
    unit = case.volume_unit
    if solid:
        from tanksolve.present.solid_view import solid_figure

        save_pictures(solid_figure(case.tank, settled, case.ports, unit=unit, note=note), solid)
    if tree:
        from tanksolve.present.tree_view import tree_figure

        save_pictures(tree_figure(case.tank, settled, unit=unit, note=note), tree)


def print_air(air: "Air", unit: str | None) -> None:
    """Print the bodies of air where they are several or cannot all vent, and every warning."""
    from tanksolve.units import length_words, volume_words

    if len(air.pockets) > 1 or any(pocket.vented is False for pocket in air.pockets):
        rows = []
        for number, pocket in enumerate(air.pockets, start=1):
            through = ", ".join(pocket.breathers) or "nothing"
            rows.append(
                (
                    f"{number}",
                    volume_words(pocket.volume_m3, unit),
                    "not known" if pocket.vented is None else through,
                    ", ".join(length_words(c) for c in pocket.top_point_m),
                )
            )
        typer.echo("")
        print_table(
            ("air body", "holds", "vents through", "top: forward, left, up"),
            rows,
            "bodies of air; the levels take all of them as open to the atmosphere",
            left=(0, 2),
        )
    for warning in air.warnings:
        typer.echo(f"WARNING: {warning}")
