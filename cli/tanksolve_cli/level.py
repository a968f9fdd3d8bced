"""``tanksolve level``: where the liquid stands at one attitude."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from tanksolve_cli.envelope_flow import FLOW_CAUTION
from tanksolve_cli.flow_options import Discharge, FlowWords, OpeningArea, PumpFlow
from tanksolve_cli.level_flow import print_running, running_of
from tanksolve_cli.level_pools import (
    any_pickup_holds,
    draw_pools,
    drawn_note,
    print_air,
    print_any_pickup,
    print_pools,
    print_ports,
)
from tanksolve_cli.level_range import AtMost, at_most_fill, print_at_most
from tanksolve_cli.links import cautions_with_links, print_links
from tanksolve_cli.output import echo_case, echo_cautions, print_json
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.attitude import Attitude
    from tanksolve.questions.level.air import Air
    from tanksolve.questions.level.pools import PoolsAt
    from tanksolve.questions.level.surface import Level
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve level --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,100mm --pitch 10deg --roll 5deg"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "level", takes_tank(_level), _EXAMPLE)


def _level(
    words: TankWords,
    pitch: Annotated[str, typer.Option(help="Nose up +, nose down -.")] = "0deg",
    roll: Annotated[str, typer.Option(help="Right side down +, left side down -.")] = "0deg",
    rotations: Annotated[
        bool,
        typer.Option(
            "--rotations", help="Pitch, then roll, as rotations; else inclinometer readings."
        ),
    ] = False,
    slope: Annotated[str | None, typer.Option(help="A slope, instead of pitch and roll.")] = None,
    heading: Annotated[
        str,
        typer.Option(help="With --slope: where uphill is. 0 nose, 90 left, 180 tail, 270 right."),
    ] = "0deg",
    most: Annotated[bool, typer.Option("--most", help="Of a fill range take the most.")] = False,
    side: Annotated[
        list[Path] | None,
        typer.Option(help="Draw a cut seen from the right side (.png, .svg, .pdf)."),
    ] = None,
    front: Annotated[
        list[Path] | None, typer.Option(help="Draw a cut seen from the front (.png, .svg, .pdf).")
    ] = None,
    solid: Annotated[
        list[Path] | None,
        typer.Option(help="Draw the whole tank with its pools (.png, .svg, .pdf)."),
    ] = None,
    tree: Annotated[
        list[Path] | None,
        typer.Option(help="Draw where liquid gathers and over which saddles it joins."),
    ] = None,
    through: Annotated[
        list[str] | None,
        typer.Option(
            help="An attitude on the way from level ground: pitch,roll, as in 10deg,0deg; may be given "
            "several times. Default: straight there."
        ),
    ] = None,
    one_level: Annotated[
        bool,
        typer.Option("--one-level", help="Take one level through the whole tank, pools or not."),
    ] = False,
    pump_flow: PumpFlow = None,
    opening_area: OpeningArea = None,
    discharge: Discharge = "0.61",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Find the free surface at one attitude, and how far each port is from its rule."""
    from tanksolve.questions.level.air import air_above
    from tanksolve.questions.level.pools import pools
    from tanksolve.questions.level.surface import level
    from tanksolve_cli.case import read_case

    _check_views(side, front, solid, tree, one_level)
    with busy("reading the tank and solving the level"):
        case = read_case(words)
        attitude = _attitude(pitch, roll, rotations, slope, heading)
        volume = case.fill.most if most else case.fill.least
        result = level(case.tank, volume, attitude, case.ports, density=case.density)
        way = _way(through)
        settled = None if one_level else pools(case.tank, volume, attitude, case.ports, path=way)
        ports = result.ports if settled is None else settled.ports
        at_most = None if most else at_most_fill(case, attitude, None if one_level else way)
        flow = FlowWords(pump_flow, opening_area, discharge)
        running = running_of(case, words, flow, volume, attitude, ports)
        density = case.density
        air = air_above(case.tank, settled, case.ports, density=density) if settled else None
        note = drawn_note(case, most)
        _draw_cuts(result, settled, case, note, side or [], front or [])
        if settled is not None:
            draw_pools(settled, case, note, solid or [], tree or [])
    cautions = cautions_with_links(case.tank, one_level)
    cautions = (FLOW_CAUTION, *cautions) if running else cautions
    if as_json:
        inputs = {
            **words.as_inputs(),
            "pitch": pitch,
            "roll": roll,
            "rotations": rotations,
            "slope": slope,
            "heading": heading,
            "through": through,
            "pump_flow": pump_flow,
        }
        keys = {**_keys(result, settled, air), "running": running, **_keys_at_most(at_most)}
        keys["any_pickup_holds"] = any_pickup_holds(case, ports)
        print_json("level", inputs, keys, (*case.cautions, *cautions))
    else:
        echo_case(case)
        _print(result, case.volume_unit, attitude, rotations and slope is None)
        if settled is not None and len(settled.pools) > 1:
            print_pools(settled, case.volume_unit)
            print_links(settled)
        print_ports(ports)
        print_any_pickup(case, ports)
        if running is not None:
            print_running(running, case.volume_unit)
        if air is not None:
            print_air(air, case.volume_unit)
        print_at_most(at_most, case)
        echo_cautions(cautions)
    tell_pictures(as_json, side, front, solid, tree)


def _way(through: list[str] | None) -> "str | list[Attitude]":
    """The attitudes to go through, or straight tilt."""
    from tanksolve.errors import QuantityError
    from tanksolve.questions.level.pools import PATHS

    stops = []
    for text in through or ():
        angles = text.split(",")
        if len(angles) != 2:
            raise QuantityError(
                f"'{text}' is not a pitch and a roll", where="--through", allowed="as in 10deg,0deg"
            )
        stops.append(_attitude(angles[0], angles[1], False, None, "0deg"))
    return stops or PATHS[0]


def _check_views(
    side: list[Path] | None,
    front: list[Path] | None,
    solid: list[Path] | None,
    tree: list[Path] | None,
    one_level: bool,
) -> None:
    if one_level and (solid or tree):
        from tanksolve.errors import OutputError

        raise OutputError(
            "they show pools, and --one-level has none",
            where="--solid, --tree",
            next_step="leave out --one-level, or draw a cut with --side or --front",
        )
    check_pictures(side, front, solid, tree)


def _draw_cuts(
    result: "Level",
    settled: "PoolsAt | None",
    case: "Case",
    note: str,
    side: list[Path],
    front: list[Path],
) -> None:
    views: tuple[tuple[list[Path], Literal["right", "front"]], ...]
    views = ((side, "right"), (front, "front"))
    for paths, seen_from in views:
        if paths:
            from tanksolve.present.section_view import section_figure

            figure = section_figure(
                case.tank,
                result,
                case.ports,
                settled=settled,
                seen_from=seen_from,
                unit=case.volume_unit,
                note=note,
            )
            save_pictures(figure, paths)


def _attitude(
    pitch: str, roll: str, rotations: bool, slope: str | None, heading: str
) -> "Attitude":
    from tanksolve.model.attitude import Attitude
    from tanksolve.units import parse_angle, parse_heading

    if slope is not None:
        uphill = parse_heading(heading, "--heading")
        return Attitude.from_slope(parse_angle(slope, "--slope"), uphill)
    angles = parse_angle(pitch, "--pitch"), parse_angle(roll, "--roll")
    return Attitude.from_rotations(*angles) if rotations else Attitude.from_inclinometer(*angles)


def _print(result: "Level", unit: str | None, attitude: "Attitude", rotations: bool) -> None:
    import math

    from tanksolve.units import length_words, slope_words, volume_words

    pitch, roll = (math.degrees(a) for a in attitude.inclinometer)
    typer.echo("")
    typer.echo(
        f"attitude  {slope_words(attitude.slope)}: {_sign(pitch, 'nose up', 'nose down')}, "
        f"{_sign(roll, 'right side down', 'left side down')}"
    )
    given = "; given as rotations: pitch first, then roll" if rotations else ""
    typer.echo(f"          as an inclinometer reads them: each axis against the horizontal{given}")
    typer.echo(
        f"liquid    {volume_words(result.volume_m3, unit)}, {length_words(result.depth_m)} over the "
        f"lowest point along up; {volume_words(result.ullage_m3, unit)} of air above"
    )
    typer.echo(f"surface   {result.surface_area_m2:.4f} m²")
    x, y, z = (length_words(c) for c in result.liquid_centroid_m)
    typer.echo(f"centroid  {x} forward, {y} left, {z} up from the tank frame's origin")
    if result.liquid_mass_kg is not None:
        typer.echo(f"mass      {result.liquid_mass_kg:.2f} kg")


def _keys(result: "Level", settled: "PoolsAt | None", air: "Air | None") -> dict[str, Any]:
    """The JSON's own keys: the level, the pools with the ports judged by them, and the air."""
    from tanksolve.record import as_plain

    plain: dict[str, Any] = as_plain(result)
    if settled is not None:
        pools = as_plain(settled)
        for name in ("pools", "ports", "links", "trapped_m3", "path", "filled"):
            plain[name] = pools[name]
    return plain | _air_keys(air)


def _air_keys(air: "Air | None") -> dict[str, Any]:
    from tanksolve.record import as_plain

    if air is None:
        return {}
    return {
        "air": as_plain(air.pockets),
        "breathers_under_liquid": list(air.breathers_under_liquid),
        "air_warnings": list(air.warnings),
    }


def _keys_at_most(told: AtMost | None) -> dict[str, Any]:
    """The ports that must stay dry, and the air, at the most of a fill range."""
    if told is None:
        return {"ports_at_most": ()}
    air = {f"{key}_at_most": value for key, value in _air_keys(told.air).items()}
    return {"ports_at_most": told.ports, **air}


def _sign(angle: float, positive: str, negative: str) -> str:
    from math import radians, tan

    word = positive if angle >= 0.0 else negative
    return f"{abs(angle):.2f}° ({100.0 * abs(tan(radians(angle))):.2f} % grade) {word}"
