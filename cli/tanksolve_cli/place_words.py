"""What ``tanksolve place`` says: places from the tank's walls, zones, and how sure all of it is."""

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from tanksolve.model.ports import Port
    from tanksolve.questions.place.place import Place
    from tanksolve.questions.place.zone_parts import ZonePart
    from tanksolve_cli.case import Case

__all__ = ["datum_words", "print_place"]


def _from_walls(case: "Case", point: tuple[float, float, float]) -> str:
    from tanksolve.units import length_words

    walls = case.wall_tank.from_walls(case.in_tank_axes(point))
    rear, right, height = (length_words(abs(c)) for c in walls)
    side = "above" if walls[2] > -0.5e-4 else "below"
    return f"{rear} from the rear wall, {right} from the right wall, {height} {side} the floor"


def datum_words(case: "Case") -> tuple[str, str, str]:
    """What the machine's axes are measured from: the tank's walls, unless it stands askew."""
    if case.askew:
        return "its rear end", "its right end", "its lowest point"
    return "the rear wall", "the right wall", "the floor"


def print_place(result: "Place", port: "Port", case: "Case") -> None:
    """Print the places, the zone of each compartment and the drop tube."""
    from tanksolve.bound_words import safe_length_words
    from tanksolve.units import length_words

    typer.echo(f"placing {port.name} ({port.kind}, {port.effective_rule}): {port.cover_words}")
    typer.echo("")
    off = length_words(result.off_floor_m)
    if not result.zones:
        typer.echo("NO: no place in the tank meets the requirement at this fill")
    elif not result.feasible:
        typer.echo(f"NO: no place kept {off} off meets the requirement at this fill")
    typer.echo(
        f"{'most margin' if result.zones else 'least bad  '}  {_from_walls(case, result.best_point_m)}: "
        f"{safe_length_words(result.best_margin_m, up=False)} of margin, least at {_least_at(result)}"
    )
    if result.recommended_point_m is not None and result.recommended_margin_m is not None:
        typer.echo(
            f"{'recommended' if result.feasible else 'least bad  '}  "
            f"{_from_walls(case, result.recommended_point_m)}: "
            f"{safe_length_words(result.recommended_margin_m, up=False)} of margin, kept {off} off"
        )
    else:
        what = "zone" if result.zones else "tank"
        typer.echo(f"recommended  none: nothing of the {what} is {off} off floor and walls")
    if result.zones:
        _print_zone(result, case)
    _print_tube(result, case)


def _least_at(result: "Place") -> str:
    from math import radians

    from tanksolve.model.attitude import uphill_words
    from tanksolve.units import slope_words

    by = result.best_set_by
    return f"{slope_words(radians(by.slope_deg))} with uphill at {uphill_words(by.heading_deg, 1)}"


def _print_zone(result: "Place", case: "Case") -> None:
    from tanksolve.units import length_words, volume_words

    volume = volume_words(result.zone_volume_m3, case.volume_unit)
    if result.gap_m is None:
        sure = "all of it proved, whatever the machine did before (still liquid, this mesh)"
    else:
        sure = (
            "all of it proved, no gap between samples (still liquid, this mesh); no place "
            f"{length_words(result.gap_m)} outside a face of it meets the requirement"
        )
    typer.echo(f"zone         {volume}, {sure}; {result.evaluations} attitudes valued")
    behind, beside, below = datum_words(case)
    for part in result.zones:
        low, high = case.tank.from_walls(part.from_m), case.tank.from_walls(part.to_m)
        spans = [f"{1000 * a:.1f} to {length_words(b)}" for a, b in zip(low, high, strict=True)]
        told = f"in the box {spans[0]} from {behind}, {spans[1]} from {beside}, {spans[2]} above {below}"
        if len(result.zones) > 1:
            told = f"{part.name}, {volume_words(part.volume_m3, case.volume_unit)}: {told}"
        typer.echo(f"             {told}; not all of that box is zone")
        if len(result.zones) > 1:
            _print_advised(part, case)


def _print_advised(part: "ZonePart", case: "Case") -> None:
    from tanksolve.bound_words import safe_length_words

    if part.recommended_point_m is not None and part.recommended_margin_m is not None:
        typer.echo(
            f"               recommended in it {_from_walls(case, part.recommended_point_m)}: "
            f"{safe_length_words(part.recommended_margin_m, up=False)} of margin"
        )


def _print_tube(result: "Place", case: "Case") -> None:
    from tanksolve.units import length_words

    tube = result.tube
    if tube is None:
        return
    behind, beside, below = datum_words(case)
    rear, right, floor = (length_words(c) for c in case.tank.from_walls(tube.leaves_m))
    run = f"runs {length_words(tube.run_m)} in and " if tube.wall != "top" else ""
    typer.echo(
        f"tube         leaves through the {tube.wall} {rear} from {behind}, {right} from "
        f"{beside}, {floor} above {below}; {run}drops {length_words(tube.drop_m)}"
        + ("" if tube.clear else "; something in the tank is in its way")
    )
