"""What the commands print: JSON, tables, cautions."""

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from tanksolve_cli.case import Case

__all__ = [
    "CAUTIONS",
    "echo_case",
    "echo_cautions",
    "print_json",
    "print_table",
]

CAUTIONS = (
    "tank limit: still liquid, vented tank, this mesh; sloshing, foam and a vortex are not in it",
    "it says nothing about roll-over: the machine maker's slope limit, local codes and licensed "
    "practice come first",
)


def print_json(
    kind: str, inputs: dict[str, Any], result: dict[str, Any], cautions: Sequence[str] = CAUTIONS
) -> None:
    """Print one JSON object: format, version, inputs, cautions, then the result's own keys."""
    from tanksolve.record import as_plain
    from tanksolve.version import JSON_VERSION

    head = {
        "format": f"tanksolve-{kind}",
        "version": JSON_VERSION,
        "inputs": inputs,
        "cautions": list(cautions),
    }
    typer.echo(json.dumps(as_plain({**head, **result}), indent=2, ensure_ascii=False))


def print_table(
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    title: str = "",
    left: Sequence[int] = (0,),
) -> None:
    """Print a table as plain aligned text that survives a pipe and a narrow screen."""
    widths = [
        max(len(c), *(len(row[i]) for row in rows), 0) if rows else len(c)
        for i, c in enumerate(columns)
    ]

    def line(cells: Sequence[str]) -> str:
        padded = (
            cell.ljust(width) if i in left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
        )
        return "  ".join(padded).rstrip()

    if title:
        typer.echo(title)
    typer.echo(line(columns))
    typer.echo("  ".join("-" * width for width in widths))
    for row in rows:
        typer.echo(line(row))


def echo_cautions(cautions: Sequence[str]) -> None:
    """Print them below an answer."""
    typer.echo("")
    for caution in cautions:
        typer.echo(f"caution: {caution}")


def echo_case(case: "Case") -> None:
    """Say back what was understood: tank, fill, and each port from the walls."""
    from tanksolve.units import length_words, volume_words

    if case.first_caution:
        typer.echo(case.first_caution)
    size = case.wall_tank.upper - case.wall_tank.lower
    typer.echo(
        f"tank    {case.tank.name}: {volume_words(case.tank.capacity, case.volume_unit)}, "
        f"{length_words(size[0])} long, {length_words(size[1])} wide, {length_words(size[2])} high"
    )
    for note in case.notes:
        typer.echo(f"        {note}")
    if case.read_fill is not None:
        typer.echo(f"liquid  {case.read_fill.words}")
    if case.wall_ports and case.wall_tank.has_own_origin:
        typer.echo(f"        {case.wall_tank.origin_words}")
    for port in case.wall_ports:
        x, y, z = case.wall_tank.from_walls(port.position)
        height = f"{length_words(abs(z))} {'above' if z >= 0.0 else 'below'} the floor"
        typer.echo(
            f"port    {port.name} ({port.kind}, {port.effective_rule}): {length_words(x)} from the "
            f"rear wall, {length_words(y)} from the right wall, {height}"
        )
        extra = [f"bore {length_words(port.bore)}"] if port.bore is not None else []
        if port.required_cover > 0.0:
            extra.append(f"allowance {port.cover_words}")
        if port.bore is not None and port.facing is None:
            extra.append("no facing given: any direction taken")
        if extra:
            typer.echo(f"        {', '.join(extra)}")
        if port.name in case.opening_faults:
            typer.echo(f"        WARNING: {case.opening_faults[port.name]}")
