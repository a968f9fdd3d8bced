"""``tanksolve suction``: will the pump's suction line cavitate."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tanksolve_cli.output import echo_cautions, print_json, print_table
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.pump_options import (
    AsJson,
    Attitudes,
    LiquidDensity,
    LiquidName,
    Vapour,
    Viscosity,
    echo_figures,
    given,
    has_tank,
)
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.pump.cover import CoverAdvice
    from tanksolve.pump.suction import InletState
    from tanksolve.pump.suction_head import SuctionHead
    from tanksolve.pump.suction_limits import SuctionAnswer

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve suction --liquid 'ISO VG 46' --flow 60L/min --line '38.1mm,1.5m,drop tube,"
    "2 elbow' --level 300mm --from -10C --to 80C --vacuum 5inHg --plot inlet.png"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "suction", takes_tank(_suction), _EXAMPLE)


def _suction(
    words: TankWords,
    line: Annotated[
        list[str] | None,
        typer.Option(
            metavar="BORE,LENGTH[,FITTINGS]",
            help="A stretch of the line, from the tank on: 38.1mm,1.5m,drop tube,2 elbow.",
        ),
    ] = None,
    flow: Annotated[str | None, typer.Option(metavar="60L/min", help="Of the pump.")] = None,
    liquid: LiquidName = None,
    viscosity: Viscosity = None,
    liquid_density: LiquidDensity = None,
    vapour: Vapour = None,
    from_: Annotated[str, typer.Option("--from", help="Coldest start.")] = "-10C",
    to: Annotated[str, typer.Option(help="Hottest liquid.")] = "80C",
    altitude: Annotated[str, typer.Option(help="Above the sea.")] = "0m",
    level: Annotated[
        str | None,
        typer.Option(metavar="300mm", help="Surface over the pump; minus where it lifts."),
    ] = None,
    pump: Annotated[
        str | None,
        typer.Option(
            metavar="X,Y,Zmm", help="Or the pump inlet's place, with a tank, fill and attitudes."
        ),
    ] = None,
    attitude: Attitudes = None,
    strainer: Annotated[
        str | None, typer.Option(metavar="3kPa@60L/min@32cSt", help="Its drop when clean.")
    ] = None,
    blocked: Annotated[str, typer.Option(help="Part of the strainer that is.")] = "0%",
    vacuum: Annotated[
        str | None, typer.Option(metavar="5inHg", help="Greatest at the pump's inlet.")
    ] = None,
    least_pressure: Annotated[
        str | None, typer.Option(metavar="85kPa", help="Least at the inlet, absolute.")
    ] = None,
    npsh: Annotated[str | None, typer.Option(metavar="2m", help="The pump's NPSH.")] = None,
    bell: Annotated[
        str | None, typer.Option(metavar="80mm", help="Bell mouth's diameter, for the cover.")
    ] = None,
    screen: Annotated[
        str | None, typer.Option(metavar="90x150mm", help="Strainer's diameter and length.")
    ] = None,
    plot: Annotated[
        list[Path] | None,
        typer.Option(help="Write inlet pressure against temperature (.png, .svg, .pdf)."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find the inlet pressure at the pump, cold to hot: what passes, and the smallest bore."""
    inputs = given(**locals())
    from tanksolve.errors import LineError
    from tanksolve.project.liquid_words import (
        parse_line,
        parse_liquid,
        parse_pump,
        parse_strainer,
    )
    from tanksolve.pump.suction import Duty
    from tanksolve.pump.suction_limits import solve_suction, suction_curve
    from tanksolve.units import parse

    if not line or flow is None:
        raise LineError(
            "no suction line or no flow is given",
            where="--line, --flow",
            allowed="as in --line 38.1mm,1.5m,drop tube --flow 60L/min",
        )
    check_pictures(plot)
    described = parse_line(line)
    if strainer is not None:
        described = type(described)(described.sections, parse_strainer(strainer, blocked))
    substance = parse_liquid(liquid, viscosity, liquid_density, vapour)
    limits = parse_pump(vacuum, least_pressure, npsh)
    with busy("solving the suction line"):
        head, unit = _head(words, described, level, pump, attitude)
        duty = Duty(
            substance,
            parse(flow, "flow", "--flow"),
            head.level_over_pump_m,
            parse(altitude, "length", "--altitude"),
        )
        ends = (parse(from_, "temperature", "--from"), parse(to, "temperature", "--to"))
        answer = solve_suction(described, duty, limits, *ends)
        cover = _cover(duty.flow, described.sections[0].bore, bell, screen)
    if plot:
        from tanksolve.present.suction_plot import suction_figure

        curve = suction_curve(described, duty, limits, *ends)
        save_pictures(suction_figure(answer, curve, duty), plot)
    if as_json:
        from tanksolve.record import as_plain

        result = {
            "liquid": as_plain(substance),
            "head": as_plain(head),
            **as_plain(answer),
            "cover": as_plain(cover),
        }
        print_json("suction", inputs, result, answer.cautions)
    else:
        echo_figures(substance)
        _print(answer, head, cover, unit)
    tell_pictures(as_json, plot)
    if not answer.passes:
        raise typer.Exit(3)


def _head(
    words: TankWords, line: Any, level: str | None, pump: str | None, attitude: list[str] | None
) -> "tuple[SuctionHead, str | None]":
    """The level over the pump as given, or from the tank at the worst attitude; the volumes' unit."""
    from tanksolve.errors import LineError
    from tanksolve.project.motion_words import parse_attitude
    from tanksolve.pump.suction_head import SuctionHead, level_over_pump
    from tanksolve.units import parse, parse_list

    if has_tank(words):
        from tanksolve_cli.case import read_case

        case = read_case(words)
        line.check_against_tank(float((case.tank.upper - case.tank.lower).min()))
        if level is None and pump is not None:
            x, y, z = parse_list(pump, "length", ",", 3, "--pump")
            required = [parse_attitude(text) for text in attitude or []]
            return level_over_pump(case.tank, case.fill, (x, y, z), required), case.volume_unit
    if level is None:
        raise LineError(
            "the level over the pump is not known",
            where="--level",
            allowed="--level 300mm, or a tank with --fill, --pump X,Y,Zmm and --attitude",
        )
    return SuctionHead(parse(level, "length", "--level"), 0.0, 0.0), "L"


def _cover(flow: float, bore: float, bell: str | None, screen: str | None) -> "CoverAdvice":
    from tanksolve.pump.cover import Mouth, cover_advice
    from tanksolve.units import parse, parse_sizes

    if screen is not None:
        diameter, length = parse_sizes(screen, 2, "--screen")
        return cover_advice(flow, bore, Mouth.STRAINER, diameter, length)
    if bell is not None:
        return cover_advice(flow, bore, Mouth.BELL, parse(bell, "length", "--bell"))
    return cover_advice(flow, bore)


def _print(
    answer: "SuctionAnswer", head: "SuctionHead", cover: "CoverAdvice", unit: str | None
) -> None:
    from tanksolve.bound_words import safe_temperature_words
    from tanksolve.units import length_words, temperature_words

    typer.echo(f"level   {_level_words(head, unit)}")
    typer.echo(f"pump    limit {answer.pump.source}")
    typer.echo("")
    states = (answer.cold, answer.hot, answer.worst)
    cells = [_cells(state) for state in states]
    rows = [(name, *(column[name] for column in cells)) for name in cells[0]]
    print_table(("", "cold", "hot", "worst between"), rows, "at the pump's inlet")
    typer.echo("")
    word = "YES, over the whole range" if answer.passes else "NO"
    typer.echo(f"passes: {word}; worst is set by {_worst_words(answer.worst)}")
    if answer.coldest_k is None or answer.hottest_k is None:
        typer.echo("no temperature passes")
    else:
        coldest = safe_temperature_words(answer.coldest_k, up=True)
        hottest = safe_temperature_words(answer.hottest_k, up=False)
        typer.echo(f"coldest start that passes   {coldest}{_end(answer, answer.coldest_k)}")
        typer.echo(f"hottest liquid that passes  {hottest}{_end(answer, answer.hottest_k)}")
    if answer.clean is not None:
        start = answer.clean.coldest_k
        words = "nothing passes"
        if start is not None:
            words = f"coldest start {safe_temperature_words(start, up=True)}"
        held = "passes" if answer.clean.passes else "fails too"
        typer.echo(f"with the strainer clean it {held}: {words}")
    for step in answer.steps_k:
        typer.echo(
            f"flow stops being laminar at {temperature_words(step)}: friction steps up there"
        )
    for name, bore in (
        ("passes", answer.smallest_bore_m),
        ("keeps under 1.2 m/s", answer.smallest_bore_for_velocity_m),
    ):
        words = "none of those listed" if bore is None else length_words(bore)
        typer.echo(f"smallest standard bore that {name}: {words}")
    typer.echo(f"cover over the pickup: {cover.words}")
    echo_cautions(answer.cautions)


def _worst_words(state: "InletState") -> str:
    if state.carries_flow:
        return state.set_by
    cause, _ = max(state.shares_pa.items(), key=lambda item: item[1])
    return f"{cause}: the line cannot carry this flow there, see the caution"


def _level_words(head: "SuctionHead", unit: str | None) -> str:
    """The level over the pump, and where it is from."""
    from math import radians

    from tanksolve.model.attitude import pitch_roll_words
    from tanksolve.units import length_words, volume_words

    side = "over" if head.level_over_pump_m >= 0.0 else "below"
    level = f"{length_words(abs(head.level_over_pump_m))} {side} the pump's inlet"
    if head.volume_m3 is None:
        return f"{level}, as given"
    where = pitch_roll_words(radians(head.pitch_deg), radians(head.roll_deg))
    return f"{level}, at {where}, with the least fill, {volume_words(head.volume_m3, unit)}"


def _end(answer: "SuctionAnswer", kelvin: float) -> str:
    ends = (answer.range_k[0], answer.range_k[1])
    return " (the end of the liquid's figures)" if kelvin in ends else ""


def _cells(state: "InletState") -> dict[str, str]:
    from tanksolve.units import temperature_words, vacuum_words

    fast = max(state.sections, key=lambda flow: flow.velocity_m_s)
    friction = sum(flow.friction_drop_pa for flow in state.sections)
    fittings = sum(flow.fittings_drop_pa for flow in state.sections)

    def told(words: str) -> str:
        return words if state.carries_flow else "cannot be"

    return {
        "liquid at": temperature_words(state.temperature_k),
        "viscosity": f"{1e6 * state.viscosity_m2_s:.1f} cSt",
        "density": f"{state.density_kg_m3:.0f} kg/m³",
        "velocity": f"{fast.velocity_m_s:.2f} m/s",
        "Reynolds number": f"{fast.reynolds:.0f} ({fast.regime.name.lower()})",
        "friction": f"{friction / 1000:.2f} kPa",
        "fittings": f"{fittings / 1000:.2f} kPa",
        "strainer": f"{state.strainer_drop_pa / 1000:.2f} kPa",
        "inlet pressure": told(f"{state.inlet_pressure_pa / 1000:.2f} kPa absolute"),
        "vacuum": told(vacuum_words(state.vacuum_pa)),
        "vapour pressure": f"{state.vapour_pressure_pa / 1000:.2f} kPa absolute",
        "NPSH available": told(f"{state.npsh_available_m:.2f} m"),
        "margin": told(f"{state.pressure_margin_pa / 1000:+.2f} kPa"),
    }
