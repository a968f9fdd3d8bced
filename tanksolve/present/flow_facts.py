"""What a running pump does to limits, as facts and cautions of a document."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from tanksolve.present.document import Fact, Quantity, Said, Sure, Words, say, slope
from tanksolve.pump.crossflow import DISCHARGE

if TYPE_CHECKING:
    from tanksolve.pump.return_flow import FlowAtHeading, FlowEffect

__all__ = ["FLOW_CAUTION", "at_rest_caution", "coefficient_said", "flow_facts", "flow_note"]

FLOW_CAUTION = (
    "the pump runs steadily and liquid is still otherwise: levels from bay to bay are estimates; "
    "cold, thick oil passes openings far more slowly"
)
_UNBOUND = "no bound unless the openings stated stay under liquid"
_LEAST_COST = 0.05  # degrees: less is not worth a line


def at_rest_caution(pairs: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """That limits are for the pump at rest, where a plate parts each (return, pickup)."""
    return tuple(
        f"limits are for the pump at rest: a plate or wall stands between {back} and {pickup}, and while "
        f"the pump runs the bay of {pickup} stands lower than told; add --flow"
        for back, pickup in pairs
    )


def flow_note(effect: "FlowEffect | None") -> str:
    """What must be seen before a picture: that openings were only stated; else nothing."""
    return "" if effect is None or effect.bounded else f"tank limit, {_UNBOUND}"


def flow_facts(effect: "FlowEffect | None") -> tuple[Fact, ...]:
    """The flow, the allowance that it makes, and what it costs."""
    return () if effect is None else tuple(_facts(effect))


def coefficient_said(discharge: float) -> Said:
    """The coefficient of the openings and where it comes from."""
    source = "sharp edges, from memory; 0.6 in N. Midoux" if discharge == DISCHARGE else "as given"
    return say(f"discharge coefficient {{c}} ({source})", c=Quantity(discharge, "factor"))


def _facts(effect: "FlowEffect") -> Iterator[Fact]:
    for name, flow in effect.flows_m3_s.items():
        lowered = effect.lowered_m[name]
        told: dict[str, Quantity | str] = {"name": name, "flow": Quantity(flow, "flow")}
        if lowered is None:
            words = "{name} draws {flow}; the openings cannot carry it on level ground with the least fill"
        else:
            words = "{name} draws {flow}; its bay stands {lower} lower on level ground"
            told["lower"] = Quantity(lowered, "length", "up")
        yield Fact("running", say(words, **told), None if lowered is None else Sure.ESTIMATE)
    yield from _cost(effect.limits)
    yield Fact("running", coefficient_said(effect.discharge), brief=False)
    for area in effect.stated_areas_m2 or ():
        yield Fact(
            "running",
            say(
                "opening as stated: {area}, taken to be wholly under liquid: check; every limit holds only "
                "as long as that does",
                area=Quantity(area, "small area"),
            ),
        )


def _cost(rows: "Sequence[FlowAtHeading]") -> Iterator[Fact]:
    lost = [(cost, k) for k, row in enumerate(rows) if (cost := _lost_deg(row)) > _LEAST_COST]
    if not lost:
        return
    row = rows[max(lost)[1]]
    rest = "{rest}" if row.at_rest_deg is not None else "none found"
    why = "; there an opening cannot carry the flow at any level" if row.cannot_carry else ""
    words: Words = say(
        "uphill at heading {heading} the limit is {running} with the pump running, "
        + rest
        + " with it stopped"
        + why,
        heading=Quantity(_radians(row.heading_deg), "heading"),
        running=slope(_radians(row.running_deg or 0.0), "down"),
        rest=slope(_radians(row.at_rest_deg or 0.0), "down"),
    )
    yield Fact("running", words)


def _lost_deg(row: "FlowAtHeading") -> float:
    if row.running_deg is None:
        return 0.0
    return (90.0 if row.at_rest_deg is None else row.at_rest_deg) - row.running_deg


def _radians(degrees: float) -> float:
    from math import radians

    return radians(degrees)
