"""A tank as a fabricator's CAD has it: metal of 3 mm with a filler neck and two hose ports [mm]."""

import numpy as np
from manifold3d import Manifold
from solids_by_hand import write_stl

INSIDE = 0.894 * 0.294 * 0.194
SEGMENTS = 48
BORE_SHARE = np.sqrt(SEGMENTS / (2 * np.pi) * np.sin(2 * np.pi / SEGMENTS))  # polygon in its circle


def cube(size, low=(0, 0, 0)):
    return Manifold.cube(size).translate(low)


def rod(radius, length, along, centre):
    """A round rod of 48 sides that begins ``length / 2`` before its centre."""
    turn = {"x": (0, 90, 0), "y": (-90, 0, 0), "z": (0, 0, 0)}[along]
    return (
        Manifold.cylinder(length, radius, radius, SEGMENTS, center=True)
        .rotate(turn)
        .translate(centre)
    )


def corners_of(solid):
    mesh = solid.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]


def walled():
    """A box of 900 x 300 x 200 of 3 mm plate with a filler neck and two hose ports."""
    tank = cube((900, 300, 200)) - cube((894, 294, 194), (3, 3, 3))
    tank += rod(30, 52, "z", (600, 150, 224))
    tank -= rod(27, 70, "z", (600, 150, 225))
    return tank - rod(19, 20, "x", (0, 150, 60)) - rod(19, 20, "x", (900, 150, 60))


def save(path, solid):
    write_stl(path, corners_of(solid))
    return path
