"""``tanksolve budget``: from a cold fill to the least and the most in use."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.output import echo_cautions, print_json, print_table
from tanksolve_cli.pump_options import (
    AsJson,
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
    from tanksolve.pump.budget import Budget, SizingAdvice

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve budget --box 600x300x400mm --cold-fill 50L --liquid 'ISO VG 46' "
    "--hottest 80C --ram 80,40,500mm,x2 --hose 25mm,2m --leakage 1L"
)
_RULES = "oil tank 10 %; oil tank 10 % or half a gallon; fuel tank 2 %; truck fuel tank 5 %"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "budget", takes_tank(_budget), _EXAMPLE)


def _budget(
    words: TankWords,
    cold_fill: Annotated[str | None, typer.Option(metavar="50L", help="As poured.")] = None,
    capacity: Annotated[
        str | None, typer.Option(metavar="72L", help="Of the tank, where none is described.")
    ] = None,
    liquid: LiquidName = None,
    viscosity: Viscosity = None,
    liquid_density: LiquidDensity = None,
    vapour: Vapour = None,
    filled_at: Annotated[str, typer.Option(help="Temperature when poured.")] = "15C",
    coldest: Annotated[str, typer.Option(help="In use.")] = "-20C",
    hottest: Annotated[str, typer.Option(help="In use.")] = "80C",
    ram: Annotated[
        list[str] | None,
        typer.Option(metavar="80,40,500mm[,x2][,single]", help="Cylinder: bore, rod, stroke."),
    ] = None,
    hose: Annotated[
        list[str] | None, typer.Option(metavar="25mm,2m", help="Hose that the tank fills once.")
    ] = None,
    leakage: Annotated[str, typer.Option(help="Lost between services.")] = "0L",
    circuit: Annotated[
        str, typer.Option(help="Already outside the tank; it grows with heat too.")
    ] = "0L",
    air_space: Annotated[str, typer.Option(help=f"Rule: {_RULES}.")] = "oil tank 10 %",
    flow: Annotated[
        str | None, typer.Option(metavar="60L/min", help="Of the pump, for advice on size.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Work out the least and the most liquid in use, and whether the air space is kept."""
    inputs = given(**locals())
    from tanksolve.errors import FillError
    from tanksolve.project.liquid_words import parse_liquid
    from tanksolve.project.motion_words import parse_hose, parse_ram
    from tanksolve.pump.budget import AIR_SPACE_RULES, Temperatures, sizing_advice
    from tanksolve.pump.budget import work_out_budget as work_out
    from tanksolve.units import parse, parse_volume

    if cold_fill is None:
        raise FillError("no cold fill is given", where="--cold-fill", allowed="as in 50L")
    if air_space not in AIR_SPACE_RULES:
        raise FillError(
            f"'{air_space}' is no rule that is known here",
            where="--air-space",
            allowed="; ".join(AIR_SPACE_RULES),
        )
    substance = parse_liquid(liquid, viscosity, liquid_density, vapour)
    kelvins = (
        parse(text, "temperature", where)
        for text, where in (
            (filled_at, "--filled-at"),
            (coldest, "--coldest"),
            (hottest, "--hottest"),
        )
    )
    with busy("reading the tank"):
        full = _capacity(words, capacity)
        result = work_out(
            full,
            parse_volume(cold_fill, "--cold-fill"),
            substance,
            Temperatures(*kelvins),
            tuple(parse_ram(text) for text in ram or []),
            parse_hose(hose or []),
            parse_volume(leakage, "--leakage"),
            parse_volume(circuit, "--circuit"),
            AIR_SPACE_RULES[air_space],
        )
    advice = None if flow is None else sizing_advice(full, parse(flow, "flow", "--flow"))
    if as_json:
        from tanksolve.record import as_plain

        plain = {**as_plain(result), "sizing": as_plain(advice)}
        print_json("budget", inputs, plain, result.cautions)
    else:
        echo_figures(substance)
        _print(result, advice)
    if not result.passes:
        raise typer.Exit(3)


def _capacity(words: TankWords, capacity: str | None) -> float:
    from tanksolve.errors import TankError
    from tanksolve.units import parse_volume

    if has_tank(words):
        from tanksolve_cli.case import read_case

        return read_case(words).tank.capacity
    if capacity is None:
        raise TankError(
            "neither a tank nor its capacity is given", allowed="a tank, or --capacity 72L"
        )
    return parse_volume(capacity, "--capacity")


def _print(result: "Budget", advice: "SizingAdvice | None") -> None:
    from tanksolve.units import volume_words

    typer.echo("")
    rows = [
        (step.name, volume_words(step.to_least_m3), volume_words(step.to_most_m3), step.source)
        for step in result.steps
    ]
    rows.append(("in the tank", volume_words(result.least_m3), volume_words(result.most_m3), ""))
    print_table(("", "least", "most", "from"), rows, "liquid in the tank", left=(0, 3))
    typer.echo("")
    kept = "kept" if result.air_space_m3 >= result.air_space_required_m3 else "NOT KEPT"
    typer.echo(
        f"air space {volume_words(result.air_space_m3)} of {volume_words(result.capacity_m3)},"
        f" {volume_words(result.air_space_required_m3)} required: {kept} ({result.rule.source})"
    )
    typer.echo(f"greatest cold fill that keeps it: {volume_words(result.greatest_cold_fill_m3)}")
    if result.least_m3 > 0.0:
        least, most = (1000.0 * v for v in (result.least_m3, result.most_m3))
        typer.echo(f"for the other commands: --fill {least:.2f}L..{most:.2f}L")
    if advice is not None:
        typer.echo(f"size: {advice.words}")
    echo_cautions(result.cautions)
