"""``tanksolve motion``: braking, cornering, climbing; sloshing; seconds of running left."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.output import echo_case, echo_cautions, print_json, print_table
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.pump_options import AsJson, Flow, Held, Line, given
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.pump.crossflow import RunningLeft
    from tanksolve.pump.motion_check import Motion
    from tanksolve.pump.slosh import Slosh

__all__ = ["register", "running_left_of"]

_EXAMPLE = (
    "tanksolve motion --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm "
    "--do 'brake 0.4g' --do 'corner left 8m/s 20m' --excitation 1.2Hz --baffle 450mm"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "motion", takes_tank(_motion), _EXAMPLE)


def _motion(
    words: TankWords,
    do: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MANOEUVRE",
            help="brake 0.4g; accelerate 2m/s2 on 15deg; corner left 8m/s 20m. Repeat for more.",
        ),
    ] = None,
    excitation: Annotated[
        list[str] | None,
        typer.Option(metavar="1.2Hz", help="A frequency that the machine puts in."),
    ] = None,
    baffle: Annotated[
        list[str] | None,
        typer.Option(metavar="450mm", help="Try a solid baffle this far from the rear wall."),
    ] = None,
    flow: Flow = None,
    line: Line = None,
    held: Held = "0L",
    map_: Annotated[
        list[Path] | None,
        typer.Option("--map", help="Write the pitch-roll map with the manoeuvres on it."),
    ] = None,
    in_g: Annotated[bool, typer.Option("--in-g", help="Second scales of the map in g.")] = False,
    as_json: AsJson = False,
) -> None:
    """See what the liquid does in a machine that brakes, corners and climbs."""
    inputs = given(**locals())
    from tanksolve.errors import RequirementError
    from tanksolve.project.motion_words import parse_manoeuvre
    from tanksolve.pump.motion_check import check_motion
    from tanksolve.units import parse, parse_length
    from tanksolve_cli.case import read_case

    if not (do or excitation or baffle):
        raise RequirementError(
            "nothing to do is given", where="--do", allowed="as in --do 'brake 0.4g'"
        )
    check_pictures(map_)
    manoeuvres = [parse_manoeuvre(text) for text in do or []]
    with busy("reading the tank and solving the manoeuvres"):
        case = read_case(words)
        result = check_motion(
            case.tank,
            case.ports,
            case.fill,
            manoeuvres,
            excitations=[parse(text, "frequency", "--excitation") for text in excitation or []],
            baffles=[parse_length(text, "--baffle") for text in baffle or []],
            running_left=running_left_of(flow, line, held),
            pickups=case.pickups,
        )
        if map_:
            from tanksolve.present.motion_plot import motion_figure
            from tanksolve.questions.envelope.envelope import envelope

            limits = envelope(case.tank, case.ports, case.fill, pickups=case.pickups)
            save_pictures(motion_figure(limits, manoeuvres, in_g=in_g, unit=case.volume_unit), map_)
    if as_json:
        from tanksolve.record import as_plain

        print_json("motion", inputs, as_plain(result), (*case.cautions, *result.cautions))
    else:
        echo_case(case)
        _print(result, case.volume_unit)
    tell_pictures(as_json, map_)
    if not result.holds:
        raise typer.Exit(3)
    if excitation and not result.slosh.fills_solved:
        raise typer.Exit(4)


def running_left_of(
    flow: str | None, line: list[str] | None, held: str = "0L"
) -> "RunningLeft | None":
    """Seconds of running left from the pump's flow and its suction line; None without a flow."""
    from tanksolve.project.liquid_words import parse_line
    from tanksolve.pump.crossflow import running_left
    from tanksolve.units import parse, parse_volume

    if flow is None:
        return None
    volume = parse_line(line).volume if line else 0.0
    return running_left(parse(flow, "flow", "--flow"), volume, parse_volume(held, "--held"))


def _print(result: "Motion", unit: str | None) -> None:
    from tanksolve.unit_systems import told

    typer.echo("")
    if result.manoeuvres:
        rows = [
            (
                m.name,
                _reading(m.pitch_deg, "nose up", "nose down"),
                _reading(m.roll_deg, "right side down", "left side down"),
                "-" if m.forward_g is None else f"{m.forward_g:+.2f} g, {m.left_g or 0.0:+.2f} g",
                told(m.margin_m, "length", "down"),
                m.port,
                "" if m.holds else "BROKEN",
            )
            for m in result.manoeuvres
        ]
        columns = (
            "manoeuvre",
            "felt as pitch",
            "felt as roll",
            "forward, left",
            "margin",
            "port",
            "",
        )
        print_table(columns, rows, "what the liquid feels, if it lasts", left=(0, 1, 2, 5, 6))
        typer.echo("")
    _print_waves(result.slosh, unit)
    for baffle in result.baffles:
        typer.echo(f"with the least fill {baffle.words}")
    if result.running_left is not None:
        typer.echo(f"running left once a pickup is bare: {result.running_left.words}")
    echo_cautions(result.cautions)


def _print_waves(slosh: "Slosh", unit: str | None) -> None:
    from tanksolve.units import length_words, volume_words

    shown: set[tuple[float, float]] = set()
    for band in slosh.bands:
        first = band.name.startswith("first")
        if not first and (not band.near or (band.low_hz, band.high_hz) in shown):
            continue
        shown.add((band.low_hz, band.high_hz))
        told = f"{band.low_hz:.2f} Hz with {volume_words(band.low_at_m3, unit)}"
        if band.high_at_m3 != band.low_at_m3:
            told += f" to {band.high_hz:.2f} Hz with {volume_words(band.high_at_m3, unit)}"
        for one in band.near:
            least, most = (volume_words(v, unit) for v in (one.from_m3, one.to_m3))
            told += f"; NEAR the excitation of {one.excitation_hz:.2f} Hz"
            told += f" between {least} and {most}" if least != most else ""
        typer.echo(f"{band.name}{' wave' if first else ''}: {told}")
    if slosh.rooms > 1:
        ends = [("least", slosh.at_least), ("most", slosh.at_most)]
        for which, waves in ends if slosh.at_least != slosh.at_most else ends[:1]:
            for room in dict.fromkeys((w.rear_m, w.front_m) for w in waves):
                own = [w for w in waves if (w.rear_m, w.front_m) == room][:3]
                told = ", ".join(f"{w.frequency_hz:.2f} Hz {w.direction}" for w in own)
                place = " to ".join(length_words(end) for end in room)
                typer.echo(f"  liquid {place} from the rear, {which} fill: {told}")
    if slosh.fills_solved:
        typer.echo(
            f"  from the tank's own surface and walls at {slosh.fills_solved} fills; may be up to "
            f"{100.0 * slosh.too_high_by:.1f} % too high, not too low; "
            "near is within 20 % (common practice, no source)"
        )
    for note in slosh.notes:
        typer.echo(f"  {note}")


def _reading(degrees: float, positive: str, negative: str) -> str:
    import math

    from tanksolve.units import slope_words

    if abs(degrees) < 0.05:
        return "level"
    return f"{slope_words(math.radians(abs(degrees)))} {positive if degrees > 0 else negative}"
