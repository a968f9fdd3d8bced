"""``tanksolve place``: where a port may sit to meet a requirement."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.links import wall_cautions
from tanksolve_cli.output import CAUTIONS, echo_case, echo_cautions, print_json
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.place_at import at_spot
from tanksolve_cli.place_port import port_to_place
from tanksolve_cli.place_words import datum_words, print_place
from tanksolve_cli.requirement import Require, echo_requirement, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.ports import Port
    from tanksolve.model.requirement import Requirement
    from tanksolve.questions.place.place import Place
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve place --box 900x300x300mm --fill 42L --require 15deg "
    "--opening bore=38mm,facing=down --through rear,height=250mm,run=500mm,drop=240mm --picture zone.png"
)
_LIMITS = "Limits on the place"
_Within = Annotated[
    str | None,
    typer.Option(
        metavar="X0..X1,Y0..Y1,Z0..Z1mm", help="Stay in this box.", rich_help_panel=_LIMITS
    ),
]
_Through = Annotated[
    str | None,
    typer.Option(
        metavar="rear,height=200mm,run=300mm,drop=150mm",
        help="The wall the tube comes through, how high, and how far it may run in and drop.",
        rich_help_panel=_LIMITS,
    ),
]
_Kind = Annotated[
    str | None,
    typer.Option(
        metavar="pickup|breather|filler|...",
        help="Of the port to place; by default the only port given, or the only pickup.",
    ),
]
_Opening = Annotated[
    str | None,
    typer.Option(metavar="bore=38mm,facing=down,cover=50mm", help="The opening to be placed."),
]
_Zone = Annotated[
    list[Path] | None, typer.Option(help="Write the zone as a mesh (.stl, .obj, .3mf).")
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "place", takes_tank(_place), _EXAMPLE)


def _place(
    words: TankWords,
    require: Require = None,
    port: Annotated[
        str | None, typer.Option(metavar="NAME", help="Which of the ports given to place anew.")
    ] = None,
    kind: _Kind = None,
    opening: _Opening = None,
    at: Annotated[
        str | None,
        typer.Option(metavar="X,Ymm", help="Only the lowest and highest place at this spot."),
    ] = None,
    off_floor: Annotated[
        str | None,
        typer.Option(help="Keep off the floor; half a bore, at least 25mm, by default."),
    ] = None,
    within: _Within = None,
    through: _Through = None,
    tolerance: Annotated[
        str, typer.Option(help="Change of attitude allowed for bounds.")
    ] = "0.1deg",
    picture: Annotated[
        list[Path] | None, typer.Option(help="Draw the zone with dimensions (.png, .svg, .pdf).")
    ] = None,
    zone: _Zone = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of words.")] = False,
) -> None:
    """Find where a pickup, breather or filler may sit to keep its rule at all required attitudes."""
    from tanksolve.questions.place.zone_file import check_zone_path
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require)
    check_pictures(picture)
    for path in zone or []:
        check_zone_path(path)
    with busy("reading the tank and searching the zone"):
        case = read_case(words)
        opened = port_to_place(case, port, kind, opening)
        cautions = (*_bare(opened), *_askew(case), *CAUTIONS)
        inputs = {**words.as_inputs(), "require": require}
        if at is not None:
            at_spot(case, opened, requirement, at, inputs, cautions, as_json)
            return
        result = _solve(case, opened, requirement, off_floor, within, through, tolerance)
        cautions = (*(() if result.one_surface else wall_cautions(case.tank)), *cautions)
        if picture:
            from tanksolve.present.zone_view import zone_figure

            drawn = zone_figure(case.tank, result, unit=case.volume_unit, ends=datum_words(case))
            save_pictures(drawn, picture)
        _write_zone(result, zone or [])
    if as_json:
        from tanksolve.record import as_plain

        keys = {**as_plain(result), **_tank_axes(result, case)}
        print_json("place", inputs, keys, cautions)
    else:
        echo_case(case)
        echo_requirement(requirement)
        print_place(result, opened, case)
        echo_cautions(cautions)
    tell_pictures(as_json, picture, zone)
    if not result.feasible:
        raise typer.Exit(3)


def _solve(
    case: "Case",
    opened: "Port",
    requirement: "Requirement",
    off_floor: str | None,
    within: str | None,
    through: str | None,
    tolerance: str,
) -> "Place":
    import math

    from tanksolve.project.limits import parse_tube, parse_within
    from tanksolve.questions.place.place import place
    from tanksolve.units import parse_angle, parse_length

    box = None
    if within is not None:
        low, high = (case.tank.corner + end for end in parse_within(within))
        box = tuple(map(float, low)), tuple(map(float, high))
    return place(
        case.tank,
        opened,
        case.fill,
        requirement,
        off_floor=parse_length(off_floor, "--off-floor") if off_floor is not None else None,
        within=box,  # type: ignore[arg-type]
        tube=parse_tube(through) if through is not None else None,
        tolerance_deg=math.degrees(parse_angle(tolerance, "--tolerance")),
    )


def _bare(port: "Port") -> tuple[str, ...]:
    from tanksolve.model.ports import PortKind

    if port.kind is PortKind.PICKUP and port.required_cover == 0.0:
        return ("edge of drawing air, no allowance: give the opening a bore or a cover",)
    return ()


def _askew(case: "Case") -> tuple[str, ...]:
    if not case.askew:
        return ()
    return (
        "the tank is mounted askew: the places of most margin and recommended are told from its own "
        "walls; --at, --within, --through, the tube, the zone's extent, its file and its picture are "
        "along the machine's axes, from the tank's rear and right end and its lowest point there",
    )


def _write_zone(result: "Place", paths: list[Path]) -> None:
    if not paths:
        return
    from tanksolve.questions.place.zone_file import write_zone

    for path in paths:
        write_zone(result, path)


def _tank_axes(result: "Place", case: "Case") -> dict[str, object]:
    """The places once more in the tank's own axes, where those are not the machine's."""
    if not case.askew:
        return {"tank_axes": None}
    points = {
        name: None if point is None else case.in_tank_axes(point)
        for name, point in (
            ("best_point_m", result.best_point_m),
            ("recommended_point_m", result.recommended_point_m),
        )
    }
    return {"tank_axes": points}
