"""``tanksolve place``: where a port may sit to meet a requirement."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.present.place_document import PlaceCase
    from tanksolve.questions.place.place import Place
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve place --box 900x300x300mm --fill 42L --require 15deg "
    "--opening bore=38mm,facing=down --tube rear,height=250mm,run=500mm,drop=240mm --picture zone.png"
)
_LIMITS = "Limits on the place"
_Within = Annotated[
    str | None,
    typer.Option(
        metavar="X0..X1,Y0..Y1,Z0..Z1mm", help="Stay in this box.", rich_help_panel=_LIMITS
    ),
]
_Tube = Annotated[
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
_RETIRED = {
    "--one-level": "leave it out: zones hold whatever the machine did before",
    "--through": "write --tube rear,height=200mm,run=300mm",
}


@asks(views=("zone",), csv=True, retired=_RETIRED)
def _place(
    ask: Ask,
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
        typer.Option(
            metavar="25.4mm", help="Keep off the floor; 25.4 mm or half a bore by default."
        ),
    ] = None,
    within: _Within = None,
    tube: _Tube = None,
    tolerance: Annotated[
        str, typer.Option(help="Change of attitude allowed for bounds.")
    ] = "0.1deg",
    zone: _Zone = None,
) -> None:
    """Find where a pickup, breather or filler may sit to keep its rule at all required attitudes."""
    from tanksolve.errors import OutputError
    from tanksolve.files import check_new
    from tanksolve.present.place_document import PlaceCase, heights_document, place_document
    from tanksolve.project.limits import parse_spot
    from tanksolve.project.place_port import port_to_place
    from tanksolve.questions.place.heights import heights
    from tanksolve.questions.place.zone_file import check_zone_path, write_zone
    from tanksolve_cli.case import read_case

    asked = read_requirement(require)
    for path in zone or []:
        check_zone_path(path)
        if not ask.force:
            check_new(path)
    names = ("--off-floor", "--within", "--tube", "--zone", "--picture", "--csv")
    values = (off_floor, within, tube, zone, ask.pictures, ask.csv)
    idle = [name for name, value in zip(names, values, strict=True) if value]
    if at is not None and idle:
        raise OutputError(
            "of no use with --at, which answers for one spot",
            where=", ".join(idle),
            next_step=f"leave out --at to search the tank with {', '.join(idle)}; at one spot the lowest "
            "is told with room under its mouth, 25.4 mm or half a bore",
        )
    with busy("reading the tank and searching the zone"):
        case = read_case(words, limits=True)
        opened = port_to_place(case.ports, port, kind, opening)
        told = PlaceCase(case.tank, opened, asked, case.askew, case.in_tank_axes)
        if at is not None:
            x, y = (c + float(case.tank.corner[k]) for k, c in enumerate(parse_spot(at)))
            spot = heights(case.tank, opened, case.fill, asked, x, y)
            document = heights_document(case.inputs, spot, told)
        else:
            result = _solve(case, told, off_floor, within, tube, tolerance)
            document = place_document(case.inputs, result, told)
            for path in zone or []:
                write_zone(result, path)
    answer(document, ask, said=zone or [])


def _solve(
    case: "Case",
    told: "PlaceCase",
    off_floor: str | None,
    within: str | None,
    tube: str | None,
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
        told.port,
        case.fill,
        told.requirement,
        off_floor=parse_length(off_floor, "--off-floor") if off_floor is not None else None,
        within=box,  # type: ignore[arg-type]
        tube=parse_tube(tube) if tube is not None else None,
        others=case.ports,
        tolerance_deg=math.degrees(parse_angle(tolerance, "--tolerance")),
    )


register = tank_command("place", _place, _EXAMPLE)
