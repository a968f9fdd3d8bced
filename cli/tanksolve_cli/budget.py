"""``tanksolve budget``: from a cold fill to the least and the most in use."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.pump_options import LiquidDensity, LiquidName, Vapour, Viscosity
from tanksolve_cli.requirement import Require, with_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve budget --box 600x300x400mm --cold-fill 50L --liquid 'ISO VG 46' "
    "--hottest 80C --ram 80,40,500mm,x2 --hose 25mm,2m --leakage 1L"
)
_RULES = "oil tank 10 %; oil tank 10 % or half a gallon; fuel tank 2 %; truck fuel tank 5 %"


@asks(csv=True)
def _budget(
    ask: Ask,
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
    require: Require = None,
) -> None:
    """Work out the least and the most liquid in use, and whether the air space is kept."""
    from dataclasses import replace

    from tanksolve.errors import FillError, TankError
    from tanksolve.present.budget_document import budget_document
    from tanksolve.project.inline import ReadFill
    from tanksolve.project.liquid_words import parse_liquid
    from tanksolve.project.motion_words import parse_hose, parse_ram
    from tanksolve.pump.budget import AIR_SPACE_RULES, Temperatures, sizing_advice
    from tanksolve.pump.budget import work_out_budget as work_out
    from tanksolve.units import parse, parse_volume
    from tanksolve_cli.case import read_case

    if cold_fill is None:
        raise FillError(
            "no cold fill is given",
            where="--cold-fill",
            allowed="a volume",
            next_step="add --cold-fill 50L, with what you pour in",
        )
    if words.fill is not None:
        raise FillError(
            "the fill is what is worked out here", where="--fill", next_step="write --cold-fill"
        )
    if air_space not in AIR_SPACE_RULES:
        raise FillError(
            f"'{air_space}' is no rule that is known here",
            where="--air-space",
            allowed="; ".join(AIR_SPACE_RULES),
        )
    if words.has_tank == (capacity is not None) or (require and not words.has_tank):
        given = (
            "a tank and a capacity are" if words.has_tank else "neither a tank nor its capacity is"
        )
        raise TankError(
            f"{given} given", allowed="a tank (with ports, for --require), or --capacity 72L"
        )
    pairs = ((filled_at, "--filled-at"), (coldest, "--coldest"), (hottest, "--hottest"))
    with busy("reading the tank"):
        case = read_case(words) if words.has_tank else None
        result = work_out(
            case.tank.capacity if case else parse_volume(str(capacity), "--capacity"),
            parse_volume(cold_fill, "--cold-fill"),
            parse_liquid(liquid, viscosity, liquid_density, vapour),
            Temperatures(*(parse(text, "temperature", where) for text, where in pairs)),
            tuple(parse_ram(text) for text in ram or []),
            parse_hose(hose or []),
            parse_volume(leakage, "--leakage"),
            parse_volume(circuit, "--circuit"),
            AIR_SPACE_RULES[air_space],
        )
    advice = (
        None if flow is None else sizing_advice(result.capacity_m3, parse(flow, "flow", "--flow"))
    )
    document = budget_document(result, advice, None if case is None else case.inputs)
    if case is not None and require:
        worked_out = replace(case, read_fill=ReadFill(result.fill, "L", ""))
        document = with_requirement(document, worked_out, require)
    answer(document, ask)


register = tank_command("budget", _budget, _EXAMPLE)
