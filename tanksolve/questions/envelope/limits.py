"""The question that most people ask: how steep may the tank stand, in every heading."""

from collections.abc import Sequence
from functools import partial

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.questions.envelope.envelope import envelope as one_level_envelope
from tanksolve.questions.envelope.pooled_envelope import pooled_envelope
from tanksolve.state.conditions import Pickups
from tanksolve.state.ways import WAYS

__all__ = ["envelope"]


def envelope(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    *,
    one_level: bool = False,
    pickups: Pickups = "all",
    every_deg: float = 5.0,
    search_to_deg: float = 60.0,
    tolerance_deg: float = 0.05,
    paths: Sequence[str] = WAYS,
) -> Envelope:
    """Find the tank limit at every heading, each port judged by the pool that it stands in.

    Where one surface is certain the limits are bounds with no gap between samples (still liquid,
    this mesh). Where liquid can part behind a wall the result is a ``PooledEnvelope``; a limit
    there with ``bounded`` false is from samples, and only its ``held_to_deg`` is a bound.

    Parameters
    ----------
    tank : the wetted interior.
    ports : at least one with a rule; pickups must stay wet, breathers and fillers dry.
    fill : a volume [m³], or the least and the most.
    one_level : take one level through the whole tank, walls or not. Behind a wall that can be
        wrong on the unsafe side.
    pickups : whether ``all`` must be covered, or ``any`` one suffices.
    every_deg : spacing of the headings listed [°]; the worst limit is looked for over all headings.
    search_to_deg : slope up to which to look [°], below 90.
    tolerance_deg : how far ``held_to_deg`` may lie below ``slope_deg`` [°].
    paths : the ways to an attitude to be tried where liquid can part, of ``ways.WAYS``.

    Raises PortError, FillError, AttitudeError; ValueError for an unknown way.
    """
    find = one_level_envelope if one_level else partial(pooled_envelope, paths=paths)
    return find(
        tank,
        ports,
        fill,
        pickups=pickups,
        every_deg=every_deg,
        search_to_deg=search_to_deg,
        tolerance_deg=tolerance_deg,
    )
