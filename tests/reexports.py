"""One metal tank written by another library in every format that is read, and what must not change with it."""

from dataclasses import replace

import numpy as np
import trimesh

from tanksolve.geometry.formats import read_raw
from tanksolve.geometry.mesh_file import read_mesh_and_plugs
from tanksolve.model.ports import PortKind
from tanksolve.questions.envelope.envelope import envelope

__all__ = ["FORMATS", "answers", "corners_of_step", "export"]

# what each file states, or has to be told: its unit, and how many of the tank's millimetres one is
FORMATS = {
    "stl": ("mm", 1.0),
    "obj": ("mm", 1.0),
    "ply": ("mm", 1.0),
    "3mf": (None, 1.0),
    "glb": (None, 1e-3),
}


def corners_of_step(path):
    """The faces (F, 3, 3) [mm] that a STEP file is read as."""
    raw = read_raw(path)
    corners = np.asarray(raw.corners, float)
    return corners * (1.0 if np.ptp(corners) > 10.0 else 1000.0)


def export(path, corners, scale=1.0):
    """Write faces with trimesh's own writer."""
    mesh = trimesh.Trimesh(
        scale * corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False
    )
    mesh.merge_vertices(digits_vertex=9)
    mesh.export(path)


def answers(path, unit, fill=0.045, **more):
    """Capacity [m³], bores [mm] and places [mm] of the plugs, and the limits [deg] at four headings."""
    tank, plugs = read_mesh_and_plugs(path, unit, "+x", "+z", meaning="metal", plug="all", **more)
    plugs = sorted(plugs, key=lambda plug: plug.bore)
    low = replace(plugs[0].port(PortKind.PICKUP), cover=0.0)
    found = envelope(tank, [low], fill, every_deg=90.0)
    limits = [limit.slope_deg or 0.0 for limit in found.limits]
    return (
        tank.capacity,
        [1000.0 * plug.bore for plug in plugs],
        np.array([plug.centre for plug in plugs]) * 1000.0,
        limits,
    )
