"""``tanksolve compare``: pickups, tanks and fills side by side."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.links import wall_cautions
from tanksolve_cli.output import (
    CAUTIONS,
    echo_case,
    echo_cautions,
    limit_cell,
    print_json,
    print_table,
    slope_cell,
)
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.questions.compare import Comparison, Entry
    from tanksolve.questions.envelope.envelope import Envelope
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve compare --box 900x300x300mm --fill 42L --also-box 1000x300x270mm "
    "--also-fill 35L --pickup rear=20,150,50mm --pickup middle=450,150,50mm --rank-by area"
)
_MEASURES = {
    "worst": "the worst heading, steepest first",
    "area": "the area of the envelope, greatest first",
    "unusable": "the unusable volume, least first",
}
_Also = Annotated[
    list[str] | None,
    typer.Option(metavar="TANK", help="Another tank file or mesh; repeat for more."),
]
_AlsoBox = Annotated[
    list[str] | None, typer.Option(metavar="LxWxHmm", help="Another box; repeat for more.")
]
_AlsoFill = Annotated[
    list[str] | None, typer.Option(metavar="35L", help="Another fill; repeat for more.")
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "compare", takes_tank(_compare), _EXAMPLE)


def _compare(
    words: TankWords,
    also: _Also = None,
    also_box: _AlsoBox = None,
    also_fill: _AlsoFill = None,
    rank_by: Annotated[
        str, typer.Option(metavar="worst|area|unusable", help="What makes one better.")
    ] = "worst",
    require: Require = None,
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
    overlay: Annotated[
        list[Path] | None, typer.Option(help="Write all limits in one plan (.png, .svg, .pdf).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Try each pickup on its own in each tank at each fill, with the other ports, and rank them.

    --require says at which attitudes the unusable volume counts; level ground by default.
    """
    import math

    from tanksolve.errors import RequirementError
    from tanksolve.questions.compare import contest
    from tanksolve.units import parse_angle

    check_pictures(overlay)
    if rank_by not in ("worst", "area", "unusable"):
        raise RequirementError(
            f"'{rank_by}' is no measure", where="--rank-by", allowed="worst, area, unusable"
        )
    with busy("reading the tanks and searching the limits of each pickup"):
        cases = _cases(words, also, also_box, also_fill)
        case = cases[0]
        result = contest(
            _entries(cases),
            rank_by=rank_by,  # type: ignore[arg-type]
            requirement=read_requirement(require) if require else None,
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
        )
        if overlay:
            from tanksolve.present.comparison import comparison_figure

            note = case.first_caution or ""
            save_pictures(comparison_figure(result, unit=case.volume_unit, note=note), overlay)
    if as_json:
        asked = {
            "also": also, "also_box": also_box, "also_fill": also_fill,
            "rank_by": rank_by, "require": require, "search_to": search_to,
        }  # fmt: skip
        _print_json(result, cases, {**words.as_inputs(), **asked})
    else:
        _print(result, cases)
    tell_pictures(as_json, overlay)
    if not any(c.envelope.ok_at_level for c in result.contenders):
        raise typer.Exit(3)


def _cases(
    words: TankWords,
    also: list[str] | None,
    boxes: list[str] | None,
    fills: list[str] | None,
) -> "list[Case]":
    """Every tank at every fill."""
    from dataclasses import replace

    from tanksolve_cli.case import read_case

    tanks = [words]
    tanks += [replace(words, tank=tank, box=None, cylinder=None) for tank in also or ()]
    tanks += [replace(words, tank=None, box=box, cylinder=None) for box in boxes or ()]
    filled = [words.fill, *(fills or ())]
    return [read_case(replace(tank, fill=fill)) for tank in tanks for fill in filled]


def _entries(cases: "list[Case]") -> "list[Entry]":
    """Each pickup of each case; named by what differs. Raises PortError for less than two."""
    from tanksolve.errors import PortError
    from tanksolve.model.ports import PortKind
    from tanksolve.questions.compare import Entry
    from tanksolve.units import length_words

    def tank_words(case: "Case") -> str:
        size = " x ".join(length_words(c) for c in case.tank.upper - case.tank.lower)
        return f"{case.tank.name} {size.replace(' mm x', ' x')}"

    several_tanks = len({id(c.tank) if c.project else tank_words(c) for c in cases}) > 1
    several_fills = len({c.read_fill.words for c in cases if c.read_fill}) > 1
    entries = []
    for case in cases:
        others = tuple(p for p in case.ports if p.kind is not PortKind.PICKUP)
        for pickup in (p for p in case.ports if p.kind is PortKind.PICKUP):
            parts = [pickup.name]
            parts += [tank_words(case)] if several_tanks else []
            parts += [case.read_fill.words] if several_fills and case.read_fill else []
            entries.append(Entry(", ".join(parts), case.tank, (pickup, *others), case.fill))
    if len(entries) < 2:
        raise PortError(
            f"{len(entries)} pickup is nothing to compare",
            allowed="two or more pickups, tanks or fills",
            next_step="add --pickup NAME=X,Y,Zmm, --also TANK or --also-fill 35L",
        )
    return entries


def _print_json(result: "Comparison", cases: "list[Case]", inputs: dict[str, object]) -> None:
    from tanksolve.present.envelope_document import envelope_keys

    contenders = [
        {
            "name": c.name,
            "rank": c.rank,
            "worst_held_to_deg": c.worst_held_to_deg,
            "mean_deg": c.mean_deg,
            "area_deg2": c.area_deg2,
            "unusable_m3": c.unusable_m3,
            "envelope": envelope_keys(c.envelope),
        }
        for c in result.contenders
    ]
    print_json(
        "compare",
        inputs,
        {"contenders": contenders, "ranked_by": result.ranked_by},
        _cautions(cases),
    )


def _print(result: "Comparison", cases: "list[Case]") -> None:
    from tanksolve.bound_words import safe_volume_words
    from tanksolve.questions.envelope.rows import SURE

    unit = cases[0].volume_unit
    shown = {case.tank.name: case for case in reversed(cases)}
    for case in reversed(shown.values()):
        echo_case(case)
    typer.echo("")
    rows = [
        (
            f"{c.rank}",
            c.name,
            limit_cell(c.envelope.worst) if c.envelope.ok_at_level else "0.0° (0.0 %)",
            _where(c.envelope),
            c.envelope.worst.port or "-",
            slope_cell(c.mean_deg),
            f"{c.area_deg2:.0f} square degrees",
            safe_volume_words(c.unusable_m3, unit, up=True),
        )
        for c in result.contenders
    ]
    columns = (
        "rank",
        "pickup",
        "worst limit (grade)",
        "uphill at",
        "set by",
        "mean of headings",
        "area",
        "unusable",
    )
    title = f"tank limits ({SURE}), rounded down; ranked by {_MEASURES[result.ranked_by]}"
    print_table(columns, rows, title, left=(1, 3, 4))
    echo_cautions(_cautions(cases))


def _where(found: "Envelope") -> str:
    """Where the worst limit is: its heading, or level ground, or nowhere."""
    from tanksolve.model.attitude import uphill_words

    if not found.ok_at_level:
        return "not held on level ground"
    return uphill_words(found.worst.heading_deg) if found.worst.limited else "-"


def _cautions(cases: "list[Case]") -> tuple[str, ...]:
    """What is said of all cases, each once, and how sure the unusable volume is."""
    first = dict.fromkeys(words for case in cases for words in case.cautions)
    parted = dict.fromkeys(words for case in cases for words in wall_cautions(case.tank))
    return (*first, *parted, *CAUTIONS)
