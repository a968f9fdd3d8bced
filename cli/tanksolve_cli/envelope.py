"""``tanksolve envelope``: the tank limit at every heading."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tanksolve_cli.envelope_flow import (
    at_rest_cautions,
    conditions_of,
    envelope_running,
    flow_cautions,
    flow_json,
    print_flow,
)
from tanksolve_cli.flow_options import (
    Discharge,
    FlowWords,
    OpeningArea,
    PumpFlow,
    running_case,
)
from tanksolve_cli.links import cautions_of
from tanksolve_cli.output import (
    echo_case,
    echo_cautions,
    limit_cell,
    print_json,
    print_table,
    slope_cell,
)
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.requirement import Require, echo_met, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.pump.return_flow import FlowEffect
    from tanksolve.questions.envelope.envelope import Envelope, Limit
    from tanksolve.questions.envelope.requirement_met import Met
    from tanksolve_cli.case import Case
    from tanksolve_cli.flow_options import RunningCase

__all__ = ["envelope_json", "register"]

_EXAMPLE = (
    "tanksolve envelope --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,30mm,bore=38mm,facing=down --require 10deg --plan limits.png"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "envelope", takes_tank(_envelope), _EXAMPLE)


def _envelope(
    words: TankWords,
    every: Annotated[str, typer.Option(help="Spacing of the headings.")] = "5deg",
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
    tolerance: Annotated[
        str, typer.Option(help="How far the bound may lie below the solved limit.")
    ] = "0.05deg",
    plan: Annotated[
        list[Path] | None,
        typer.Option(help="Write the limits as a plan of the machine (.png, .svg, .pdf)."),
    ] = None,
    map_: Annotated[
        list[Path] | None,
        typer.Option("--map", help="Write the margins as a pitch-roll map (.png, .svg, .pdf)."),
    ] = None,
    require: Require = None,
    pump_flow: PumpFlow = None,
    opening_area: OpeningArea = None,
    discharge: Discharge = "0.61",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Find the safe pitch-roll envelope: how steep, in every heading, until a port gives out."""
    import math
    from functools import partial

    from tanksolve.questions.envelope.envelope import envelope
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    check_pictures(plan, map_)
    requirement = read_requirement(require) if require else None
    with busy("reading the tank and searching its limits"):
        case = read_case(words)
        find = partial(
            envelope,
            case.tank,
            fill=case.fill,
            pickups=case.pickups,
            every_deg=math.degrees(parse_angle(every, "--every")),
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
            tolerance_deg=math.degrees(parse_angle(tolerance, "--tolerance")),
        )
        flow = FlowWords(pump_flow, opening_area, discharge)
        running = running_case(case, words, flow)
        result, effect = envelope_running(find, case, running)
        met = _met(case, running, requirement)
        shut = _air_cautions(result, case)
        _draw(result, case, _note(case, effect), requirement, plan or [], map_ or [])
    cautions = (
        *shut,
        *flow_cautions(effect),
        *at_rest_cautions(case, words, running),
        *cautions_of(case.tank),
    )
    if as_json:
        given = {
            **words.as_inputs(),
            "require": require,
            "pump_flow": pump_flow,
        }
        keys = {**_json(result, requirement, met), "return_flow": flow_json(effect)}
        print_json("envelope", given, keys, (*case.cautions, *cautions))
    else:
        _print(result, case, effect)
        if requirement is not None:
            echo_met(met, requirement)
        echo_cautions(cautions)
    tell_pictures(as_json, plan, map_)
    if not (result.ok_at_level and all(one.met for one in met)):
        raise typer.Exit(3)


def _met(
    case: "Case",
    running: "RunningCase | None",
    requirement: "Requirement | None",
) -> "tuple[Met, ...]":
    if requirement is None:
        return ()
    from tanksolve.questions.envelope.requirement_met import conditions_met

    return conditions_met(conditions_of(case, running), requirement)


def _json(
    result: "Envelope", requirement: "Requirement | None", met: "tuple[Met, ...]"
) -> dict[str, Any]:
    from tanksolve.record import as_plain

    if requirement is None:
        return envelope_json(result)
    required = {"requirements": as_plain(met), "source": requirement.source}
    return {**envelope_json(result), **required}


def envelope_json(result: "Envelope") -> dict[str, Any]:
    """The keys of the envelope's JSON; docs/json.md lists them."""
    from tanksolve.record import as_plain

    plain: dict[str, Any] = as_plain(result)
    plain["fill"] = {"unit": "m3", "least": result.fill.least, "most": result.fill.most}
    for row in (*plain["limits"], plain["worst"]):
        row["searched_to_deg"] = result.searched_to_deg
    return plain


def _draw(
    result: "Envelope",
    case: "Case",
    note: str,
    required: "Requirement | None",
    plans: list[Path],
    maps: list[Path],
) -> None:
    if plans:
        from tanksolve.present.plan import plan_figure

        save_pictures(
            plan_figure(result, required=required, unit=case.volume_unit, note=note), plans
        )
    if maps:
        from tanksolve.present.pitch_roll_map import map_figure

        save_pictures(map_figure(result, required=required, unit=case.volume_unit, note=note), maps)


def _print(result: "Envelope", case: "Case", effect: "FlowEffect | None") -> None:
    from tanksolve.model.attitude import uphill_words

    echo_case(case)
    if effect is not None:
        print_flow(effect)
    typer.echo("")
    if not result.ok_at_level:
        typer.echo(
            f"NO: not held on level ground; {result.worst.port} is short by "
            f"{-1000.0 * result.margin_at_level_m:.1f} mm"
        )
        return
    step = max(1, round(15.0 / (360.0 / len(result.limits))))
    print_table(
        ("machine stands", "heading", "tank limit (grade)", "solved", "port", ""),
        [
            _row(limit, result)
            for limit in (*result.limits[::step], *([result.worst] if result.worst.limited else ()))
        ],
        _title(effect),
        left=(0, 4, 5),
    )
    worst = result.worst
    if step > 1:
        every = "other" if step == 2 else {3: "third", 5: "fifth"}.get(step, f"{step}th")
        typer.echo(f"every {every} heading is shown; --json has all {len(result.limits)}")
    typer.echo(
        "a limit is for its own heading; between those listed count on the worst of all only"
    )
    typer.echo("")
    if worst.limited:
        typer.echo(
            f"worst over all headings: {slope_cell(worst.held_to_deg)} at heading "
            f"{uphill_words(worst.heading_deg, 1)}, set by {worst.port}"
            + ("; grazing" if worst.grazing else "")
        )
    else:
        typer.echo(
            f"no port gives out up to {slope_cell(worst.held_to_deg)}, the end of the search"
        )
    for island in result.islands[:8]:
        typer.echo(
            f"beyond the limit at heading {uphill_words(island.heading_deg)} the ports hold again "
            f"from {slope_cell(island.from_deg)} to {slope_cell(island.to_deg)}: do not count on reaching that"
        )


def _note(case: "Case", effect: "FlowEffect | None") -> str:
    """What must be seen before the pictures: no allowance, and a flow that leaves no bound."""
    flow = "" if effect is None or not effect.stated_areas_m2 else _title(effect)
    return "; ".join(words for words in (case.first_caution, flow) if words)


def _title(effect: "FlowEffect | None") -> str:
    """What the limits are: bounds, unless a flow makes them estimates."""
    from tanksolve.questions.envelope.rows import SURE

    if effect is None or effect.bounded:
        return f"tank limit, {SURE}, rounded down"
    return "tank limit, no bound unless the openings stated stay under liquid (this mesh), rounded down"


def _row(limit: "Limit", result: "Envelope") -> tuple[str, ...]:
    import math

    from tanksolve.model.attitude import heading_words

    solved = "-" if limit.slope_deg is None else f"{limit.slope_deg:.3f}°"
    remark = (
        "" if limit.limited else f"nothing gives out up to {slope_cell(result.searched_to_deg)}"
    )
    if limit.grazing:
        remark = "grazing"
    if limit is result.worst:
        remark = "worst of all headings"
    return (
        heading_words(math.radians(limit.heading_deg)),
        f"{limit.heading_deg:.{1 if limit is result.worst else 0}f}°",
        limit_cell(limit),
        solved,
        limit.port or "-",
        remark,
    )


def _air_cautions(result: "Envelope", case: "Case") -> tuple[str, ...]:
    """Pickups whose air cannot vent on level ground, at a limit on a main side, or at the worst."""
    from math import radians

    from tanksolve.model.attitude import Attitude, heading_words
    from tanksolve.questions.level.air import shut_bays

    rows = [row for row in result.limits if row.heading_deg % 90.0 == 0.0 and row.limited]
    if result.worst.limited and result.worst.heading_deg % 90.0 != 0.0:
        rows.append(result.worst)
    places = [("on level ground", Attitude.level())]
    for row in rows:
        heading = radians(row.heading_deg)
        attitude = Attitude.from_slope(radians(row.held_to_deg), heading)
        places.append((f"at the limit {heading_words(heading)}", attitude))
    return shut_bays(case.tank, case.ports, case.fill.most, places)
