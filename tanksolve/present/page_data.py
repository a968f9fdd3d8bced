"""A tank, its ports and its liquid as the data of an interactive page: what ``page/engine.js`` reads.

Lengths are in m from the mesh's own origin, so that the page computes with the numbers of the kernels.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.state.openings import dry_fixed, wet_places

Array = NDArray[np.float64]

__all__ = ["editable_shape", "liquid_data", "port_data", "tank_data"]

_RULES = {Rule.WET: "wet", Rule.DRY: "dry", Rule.NONE: "none"}


def tank_data(tank: Tank) -> dict[str, Any]:
    """The mesh with its sheets split, its passages, and where its places are told from [m].

    ``corner`` is where rear wall, right wall and floor meet, from the mesh's origin; ``span`` holds the
    lower and the upper corner of its enclosing box.
    """
    graph = tank.graph
    return {
        "name": tank.name,
        "vertices": graph.vertices.ravel().tolist(),
        "faces": graph.faces.ravel().tolist(),
        "convex": tank.is_convex,
        "links": _passages(tank),
        "corner": (tank.corner - graph.origin).tolist(),
        "span": [(tank.lower - graph.origin).tolist(), (tank.upper - graph.origin).tolist()],
    }


def _passages(tank: Tank) -> list[dict[str, Any]]:
    """Flaps and pipes, one way each: the outlines of their stations and the liquid at their mouths."""
    links, origin = tank.link_stations, tank.graph.origin
    found = []
    for k in range(len(links.first_station) - 1):
        stations, inside = [], []
        for station in range(links.first_station[k], links.first_station[k + 1]):
            rows = slice(links.first_ring[station], links.first_ring[station + 1])
            outline = links.rings[rows].copy()
            outline[:, :3] -= origin
            stations.append(outline.tolist())
            inside.append((links.inside[rows] - origin).tolist())
        found.append({"stations": stations, "inside": inside})
    return found


def port_data(tank: Tank, port: Port) -> dict[str, Any]:
    """A port's opening, and the places in the liquid at which its margin is looked for."""
    origin = tank.graph.origin
    discs = port.discs.copy()
    discs[:, :3] -= origin
    every, parts = (dry_fixed(tank, port, all_round=all_round) for all_round in (True, False))
    return {
        "name": port.name,
        "kind": str(port.kind),
        "rule": _RULES[port.effective_rule],
        "cover": port.required_cover,
        "bore": port.bore,
        "facing": None if port.facing is None else list(port.facing),
        "discs": discs.tolist(),
        "places": (wet_places(tank, port) - origin).tolist(),
        "parts": (parts - origin).tolist(),
        "rim": (every[len(parts) :] - origin).tolist(),
    }


def liquid_data(tank: Tank, fill: Fill, ports: Sequence[Port]) -> dict[str, Any]:
    """How much is in, and between which ports: the fill's ends and the capacity [m³]."""
    return {
        "least": fill.least,
        "most": fill.most,
        "capacity": tank.capacity,
        "ports": [port_data(tank, port) for port in ports],
    }


def editable_shape(tank: Tank, ports: Sequence[Port]) -> dict[str, Any] | None:
    """A box, or a cylinder along an axis, whose mesh may be stretched to other sizes; else None.

    None too where an opening has an outline of its own: the page moves ports and knows no outline that
    widens with the tank, and an open top told smaller than it is floods too late.
    """
    if tank.links or not tank.is_convex or any(port.rim for port in ports):
        return None
    size, at = tank.upper - tank.lower, tank.vertices - tank.centre
    hair = 1e-9 * float(size.max())
    on_face = np.abs(np.abs(at) - 0.5 * size) < hair
    if len(at) == 8 and on_face.all():
        return {"shape": "box", "axis": None}
    for axis in range(3):
        across = np.delete(at, axis, axis=1)
        radius = np.linalg.norm(across, axis=1)
        if on_face[:, axis].all() and len(at) > 12 and np.ptp(radius) < hair:
            return {"shape": "cylinder", "axis": axis}
    return None
