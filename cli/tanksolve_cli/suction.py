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
)
from tanksolve_cli.requirement import Require
from tanksolve_cli.suction_region import (
    Region,
    cover_left,
    level_words,
    passes_at_bound,
    pickup_words,
    region_of,
    verdict_of,
)
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.suction_line import SuctionLine
    from tanksolve.pump.cover import CoverAdvice
    from tanksolve.pump.suction import Duty, InletState
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
    altitude: Annotated[
        str, typer.Option(metavar="3000m", help="Above the sea; of 0m..3000m the highest counts.")
    ] = "0m",
    pour_point: Annotated[
        str | None, typer.Option(metavar="-39C", help="The product's own, from its data sheet.")
    ] = None,
    cloud_point: Annotated[
        str | None, typer.Option(metavar="-8C", help="Where wax comes out: of diesel, above all.")
    ] = None,
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
    require: Require = None,
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
        parse_temperature,
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
        region = region_of(words, described, level, pump, attitude, require)
        duty = Duty(
            substance.with_points(
                parse_temperature(pour_point, "--pour-point"),
                parse_temperature(cloud_point, "--cloud-point"),
            ),
            parse(flow, "flow", "--flow"),
            region.head.level_over_pump_m,
            max(parse(one, "length", "--altitude") for one in altitude.split("..")),
        )
        ends = (parse(from_, "temperature", "--from"), parse(to, "temperature", "--to"))
        answer = solve_suction(described, duty, limits, *ends)
        cover = _cover(duty.flow, described.sections[0].bore, bell, screen)
        sure = passes_at_bound(described, duty, limits, region.head, ends)
    verdict = verdict_of(answer, region, sure)
    if plot:
        from tanksolve.present.suction_plot import suction_figure

        curve = suction_curve(described, duty, limits, *ends)
        save_pictures(suction_figure(answer, curve, duty), plot)
    if as_json:
        print_json(
            "suction", inputs, _result(answer, region, cover, verdict, duty), answer.cautions
        )
    else:
        echo_figures(duty.liquid)
        _print_understood(described, region)
        _print(answer, region, cover, verdict, duty)
        echo_cautions(answer.cautions)
    tell_pictures(as_json, plot)
    if verdict != "yes":
        raise typer.Exit(3 if verdict == "no" else 4)


def _result(
    answer: "SuctionAnswer", region: Region, cover: "CoverAdvice", verdict: str, duty: "Duty"
) -> dict[str, Any]:
    """The JSON's own keys; docs/json.md lists them."""
    from tanksolve.record import as_plain

    return {
        "liquid": as_plain(duty.liquid),
        "required": list(region.required),
        "head": as_plain(region.head),
        "pickup": as_plain(region.pickup),
        "altitude_m": duty.altitude,
        **as_plain(answer),
        "verdict": verdict,
        "passes": verdict == "yes",
        "losses_pa": answer.worst.losses_pa,
        "cover": as_plain(cover),
    }


def _cover(flow: float, bore: float, bell: str | None, screen: str | None) -> "CoverAdvice":
    from tanksolve.pump.cover import Mouth, cover_advice
    from tanksolve.units import parse, parse_sizes

    if screen is not None:
        diameter, length = parse_sizes(screen, 2, "--screen")
        return cover_advice(flow, bore, Mouth.STRAINER, diameter, length)
    if bell is not None:
        return cover_advice(flow, bore, Mouth.BELL, parse(bell, "length", "--bell"))
    return cover_advice(flow, bore)


def _print_understood(line: "SuctionLine", region: Region) -> None:
    """Say the sources of the line's figures, and what is required."""
    for index, (name, words_of) in enumerate(line.sources.items()):
        typer.echo(f"{'line' if index == 0 else '':8}{name}: {words_of}")
    for required in region.required:
        typer.echo(f"require {required}")


def _print(
    answer: "SuctionAnswer", region: Region, cover: "CoverAdvice", verdict: str, duty: "Duty"
) -> None:
    from tanksolve.bound_words import safe_temperature_words
    from tanksolve.unit_systems import told
    from tanksolve.units import length_words, temperature_words

    typer.echo(f"level   {level_words(region.head, region.unit)}")
    if region.pickup is not None:
        typer.echo(f"pickup  {pickup_words(region.pickup)}")
    typer.echo(f"pump    limit {answer.pump.source}")
    typer.echo("")
    states = (answer.cold, answer.hot, answer.worst)
    cells = [_cells(state) for state in states]
    rows = [(name, *(column[name] for column in cells)) for name in cells[0]]
    print_table(("", "cold", "hot", "worst between"), rows, "at the pump's inlet")
    typer.echo("")
    word = {"yes": "YES, over the whole range", "no": "NO"}.get(verdict, "NOT KNOWN")
    typer.echo(f"passes: {word}{_why(answer, region, duty)}")
    losses = answer.worst.losses_pa
    total = sum(losses.values())
    shares = ", ".join(
        f"{name} {told(lost, 'pressure')} ({100.0 * lost / total:.0f} %)"
        for name, lost in losses.items()
    )
    typer.echo(f"there the line takes {told(total, 'pressure')}: {shares}")
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
        words += " (sizes of SAE J517, from memory)"
        typer.echo(f"smallest standard bore that {name}: {words}")
    typer.echo(f"cover over the pickup: {cover.words}")
    if region.pickup is not None:
        over = region.pickup.cover_m
        advice = (
            ("the rule of thumb", cover.rule_of_thumb_m),
            ("ANSI/HI 9.8", cover.vortex_formula_m),
        )
        short = [name for name, asked in advice if over < asked]
        words = f"; less than {' and '.join(short)}" if short else ""
        typer.echo(f"  least over the required attitudes: {cover_left(over)}{words}")


def _why(answer: "SuctionAnswer", region: Region, duty: "Duty") -> str:
    """What decides, and the worst point of the line."""
    from tanksolve.unit_systems import told

    said = []
    if region.pickup is not None and region.pickup.verdict == "no":
        said.append(f"pickup {region.pickup.port} loses its rule")
    if answer.worst.passes and answer.verdict == "no":
        said.append("the liquid does not flow at the cold start, see the caution")
    if answer.verdict == "not known":
        said.append("no pour point is given: nothing is known of so cold a start")
    where = f"at {told(answer.worst.temperature_k, 'temperature')}, {duty.altitude:.0f} m up"
    where += f", {told(duty.flow, 'flow')}"
    said.append(f"the line's worst point, {where}, is set by {_worst_words(answer.worst)}")
    return "; " + "; ".join(said)


def _worst_words(state: "InletState") -> str:
    if state.carries_flow:
        return state.set_by
    cause, _ = max(state.shares_pa.items(), key=lambda item: item[1])
    return f"{cause}: the line cannot carry this flow there, see the caution"


def _end(answer: "SuctionAnswer", kelvin: float) -> str:
    coldest, hottest = answer.range_k
    if kelvin == coldest:
        return " (colder the liquid is not known to flow)"
    return " (the end of the liquid's figures)" if kelvin == hottest else ""


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
