"""The bays of a tank while its pump runs, at one attitude, as facts and tables of a document."""

from collections.abc import Iterator

from tanksolve.present.document import Cell, Column, Fact, Quantity, Sure, Table, say
from tanksolve.present.flow_facts import coefficient_said
from tanksolve.pump.running_level import OpeningAtLevel, PickupRunning, RunningLevel

__all__ = ["running_facts", "running_tables"]

_UNDER = {
    "whole": "wholly under liquid",
    "part": "partly under liquid",
    "none": "free fall",
    "dry": "above the liquid",
    "taken to be whole": "taken to be wholly under liquid: check",
}
_APART = 1e-3  # m: bays that stand nearer are told no more of


def running_facts(running: RunningLevel | None) -> Iterator[Fact]:
    """What comes back, what each pickup's bay has left, and how long bays take to settle."""
    if running is None:
        return
    where = f" in the bay {running.return_bay}" if running.return_bay else ""
    yield Fact(
        "running", say("{flow} comes back" + where, flow=Quantity(running.flow_m3_s, "flow"))
    )
    yield Fact("running", coefficient_said(running.discharge), brief=False)
    dwell = Quantity(running.dwell_s, "time", "down")
    yield Fact(
        "dwell time",
        say("{dwell}: volume over flow, as if all of it were changed in turn", dwell=dwell),
        brief=False,
    )
    if running.imbalance_m3_s is not None:
        yield Fact(
            "continuity",
            say(
                "all bays solved together; no bay gains or loses more than {most}",
                most=Quantity(running.imbalance_m3_s, "flow", "up"),
            ),
            brief=False,
        )
    for pickup in running.pickups:
        yield from _pickup(pickup)
    for pair in running.settling:
        first, second = pair.bays
        told = {"first": first, "second": second}
        apart = Quantity(pair.from_m, "length")
        if pair.seconds > 0.0:
            yield Fact(
                "settle",
                say(
                    "{first} to {second}: {apart} apart after tilting from level ground to here, "
                    "{left} after {time}",
                    **told,
                    apart=apart,
                    left=Quantity(pair.to_m, "length", "up"),
                    time=Quantity(pair.seconds, "time", "up"),
                ),
            )
        elif pair.from_m > _APART:
            yield Fact(
                "settle",
                say(
                    "{first} stays {apart} above {second} after tilting from level ground to here: no "
                    "opening is below its level",
                    **told,
                    apart=apart,
                ),
            )


def _pickup(pickup: PickupRunning) -> Iterator[Fact]:
    name = pickup.name
    if not pickup.openings:
        yield Fact(name, "the return is in its bay: no opening on the way")
    if not pickup.carried:
        yield Fact(
            name,
            say(
                "NO steady state at {flow}: {why}; its bay runs down from rest",
                flow=Quantity(pickup.flow_m3_s, "flow"),
                why=pickup.why_not,
            ),
        )
    else:
        broken = "" if pickup.margin_m >= 0.0 else ": rule broken"
        yield Fact(
            name,
            say(
                "level lowered by {lower} in steady running; margin then {margin}" + broken,
                lower=Quantity(pickup.lowered_m or 0.0, "length", "up"),
                margin=Quantity(pickup.margin_m, "length", "down"),
            ),
            Sure.ESTIMATE,
        )
    if pickup.seconds_left is None or pickup.left_m3 is None:
        yield Fact(
            name,
            "seconds left not known: liquid has parted and the bays of this mesh are not known",
        )
        return
    when = "left once the inflow stops" if pickup.carried else "left at least"
    yield Fact(
        name,
        say(
            "{time} " + when + ", until its mouth is bare ({left} in its bay above the mouth)",
            time=Quantity(pickup.seconds_left, "time", "down"),
            left=Quantity(pickup.left_m3, "volume", "down"),
        ),
    )


def running_tables(running: RunningLevel | None) -> Iterator[Table]:
    """The openings on the way to each pickup."""
    columns = (
        Column("opening"),
        Column("area", "small area"),
        Column("flow", "flow"),
        Column("drop", "length", "up"),
        Column("state"),
    )
    for pickup in running.pickups if running is not None else ():
        if pickup.openings:
            rows = [_row(opening) for opening in pickup.openings]
            yield Table(f"openings on the way to {pickup.name}", columns, rows)


def _row(opening: OpeningAtLevel) -> tuple[Cell, ...]:
    drop = None if opening.under == "dry" else opening.drop_m
    return opening.name, opening.area_m2, opening.flow_m3_s, drop, _UNDER[opening.under]
