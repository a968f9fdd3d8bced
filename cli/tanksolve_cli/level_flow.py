"""Tables of the ``level`` command for a running pump."""

import math
from typing import TYPE_CHECKING

import typer

from tanksolve_cli.envelope_flow import coefficient_words
from tanksolve_cli.output import print_table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tanksolve.model.attitude import Attitude
    from tanksolve.pump.running_level import OpeningAtLevel, PickupRunning, RunningLevel
    from tanksolve.questions.level.pools import PortInPool
    from tanksolve.questions.level.surface import PortAtLevel
    from tanksolve_cli.case import Case
    from tanksolve_cli.flow_options import FlowWords
    from tanksolve_cli.tank_options import TankWords

__all__ = ["print_running", "running_of"]

_UNDER = {
    "whole": "wholly under liquid",
    "part": "partly under liquid",
    "none": "free fall",
    "dry": "above the liquid",
    "taken to be whole": "taken to be wholly under liquid: check",
}


def running_of(
    case: "Case",
    words: "TankWords",
    flow: "FlowWords",
    volume: float,
    attitude: "Attitude",
    ports: "Sequence[PortAtLevel | PortInPool]",
) -> "RunningLevel | None":
    """The bays in steady running, from the ports at rest; None where no flow is given."""
    from tanksolve.model.bays import Bays
    from tanksolve.pump.flow_ports import return_flow
    from tanksolve.pump.running_level import running_level, running_level_stated
    from tanksolve_cli.flow_options import running_case

    running = running_case(case, words, flow)
    if running is None:
        return None
    rest = {port.name: port.margin_m for port in ports}
    if isinstance(running.openings, Bays):
        through = return_flow(case.tank, running.openings, running.ports, running.discharge)
        return running_level(through, volume, attitude, running.ports, rest)
    given = (running.ports, rest, running.openings, running.discharge)
    parted = any(getattr(port, "pool", 0) != 0 for port in ports)
    return running_level_stated(case.tank, volume, attitude, *given, parted=parted)


def print_running(running: "RunningLevel", unit: str | None) -> None:
    """Print each opening's drop, what each pickup's bay has left, and how long bays take to settle."""
    from tanksolve.units import ceil_to, floor_to

    flow = 60000.0 * running.flow_m3_s
    where = f" in the bay {running.return_bay}" if running.return_bay else ""
    typer.echo("")
    typer.echo(f"running {flow:g} L/min comes back{where}; {coefficient_words(running.discharge)}")
    typer.echo(
        f"        dwell time {floor_to(running.dwell_s, 0.1):.1f} s: volume over flow, as if all of "
        "it were changed in turn"
    )
    for pickup in running.pickups:
        _print_pickup(pickup, unit)
    for pair in running.settling:
        first, second = pair.bays
        if pair.seconds > 0.0:
            typer.echo(
                f"settle  {first} to {second}: {1000.0 * pair.from_m:.1f} mm apart after tilting from "
                f"level ground to here, {ceil_to(1000.0 * pair.to_m, 0.1):.1f} mm after "
                f"{ceil_to(pair.seconds, 0.1):.1f} s"
            )
        elif pair.from_m > 1e-3:
            typer.echo(
                f"settle  {first} stays {1000.0 * pair.from_m:.1f} mm above {second} after tilting from "
                "level ground to here: no opening is below its level"
            )


def _print_pickup(pickup: "PickupRunning", unit: str | None) -> None:
    from tanksolve.units import ceil_to, floor_to, volume_words

    typer.echo("")
    if pickup.openings:
        print_table(
            ("opening on the way to " + pickup.name, "area", "flow", "drop", "state"),
            [_opening_row(opening) for opening in pickup.openings],
            left=(0, 4),
        )
    else:
        typer.echo(f"the return is in the bay of {pickup.name}: no opening on the way")
    if not pickup.carried:
        typer.echo(
            f"NO steady state at {60000.0 * pickup.flow_m3_s:g} L/min to {pickup.name}: {pickup.why_not}; "
            "its bay runs down from rest"
        )
    else:
        typer.echo(
            f"{pickup.name}: level lowered by {ceil_to(1000.0 * (pickup.lowered_m or 0.0), 0.1):.1f} mm "
            f"in steady running; margin then {math.floor(10000.0 * pickup.margin_m + 1e-9) / 10.0:+.1f} mm"
            + ("" if pickup.margin_m >= 0.0 else ": rule broken")
        )
    if pickup.seconds_left is None or pickup.left_m3 is None:
        typer.echo(
            f"{pickup.name}: liquid has parted and the bays of this mesh are not known, so the "
            "seconds left are not either"
        )
        return
    when = "left once the inflow stops" if pickup.carried else "left at least"
    typer.echo(
        f"{pickup.name}: {floor_to(pickup.seconds_left, 0.1):.1f} s {when}, until "
        f"its mouth is bare ({volume_words(pickup.left_m3, unit)} in its bay above the mouth)"
    )


def _opening_row(opening: "OpeningAtLevel") -> tuple[str, ...]:
    from tanksolve.units import ceil_to

    drop = (
        "-"
        if opening.drop_m is None or opening.under == "dry"
        else f"{ceil_to(1000.0 * opening.drop_m, 0.1):.1f} mm"
    )
    flow = f"{60000.0 * opening.flow_m3_s:.1f} L/min"
    return opening.name, f"{1e4 * opening.area_m2:.1f} cm²", flow, drop, _UNDER[opening.under]
