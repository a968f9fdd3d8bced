"""The envelope of a tank as it was read: at rest, in steady running, and on what walls keep."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from tanksolve.project.case import TankCase
    from tanksolve.project.flow_words import RunningCase
    from tanksolve.project.tank_words import TankWords
    from tanksolve.pump.return_flow import FlowEffect
    from tanksolve.questions.envelope.envelope import Envelope
    from tanksolve.state.conditions import Conditions
    from tanksolve.state.kept import Kept

__all__ = ["conditions_of", "envelope_of", "kept_of"]


def envelope_of(
    find: "Callable[..., Envelope]", case: "TankCase", running: "RunningCase | None"
) -> "tuple[Envelope, FlowEffect | None]":
    """The envelope, in steady running too where a flow is given, and what the flow does to it."""
    if running is None:
        return find(ports=case.ports), None
    from tanksolve.pump.return_flow import envelope_with_flow
    from tanksolve.state.conditions import Conditions

    return envelope_with_flow(
        lambda ports: find(ports=ports),
        Conditions.of(case.tank, running.ports, case.fill, case.pickups),
        running.openings,
        running.discharge,
    )


def kept_of(case: "TankCase", words: "TankWords", result: "Envelope") -> "Kept | None":
    """How far walls keep enough for driving with the pump off; None where that is no further."""
    from math import radians

    from tanksolve.project.flow_words import known_bays
    from tanksolve.state.kept import kept_out_to

    bays = known_bays(case, words)
    if bays is None:
        return None
    conditions = conditions_of(case, None)
    held = result.worst.held_to_deg if result.ok_at_level else 0.0
    return kept_out_to(conditions, bays, radians(result.searched_to_deg), radians(held))


def conditions_of(case: "TankCase", running: "RunningCase | None") -> "Conditions":
    """What the ports have to keep, in steady running where a flow is given."""
    from tanksolve.pump.return_flow import running_conditions
    from tanksolve.state.conditions import Conditions

    if running is None:
        return Conditions.of(case.tank, case.ports, case.fill, case.pickups)
    rest = Conditions.of(case.tank, running.ports, case.fill, case.pickups)
    return running_conditions(rest, running.openings, running.discharge)
