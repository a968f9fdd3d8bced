"""What must not move the limits of a walled tank: mirrors, mountings, mesh order, facets, headings.

Random tanks of ``random_walled_tanks``, small ones: a weir and two pickups; a flap, and a breather whose
rim a wall cuts; a flap alone; cups, and a second body at the end of a pipe, with a breather.
"""

from dataclasses import replace

import numpy as np
import pytest
from random_walled_tanks import Case, random_case

from tanksolve import envelope
from tanksolve.model.attitude import mounting_rotation
from tanksolve.model.link import mapped
from tanksolve.model.mounting import mount
from tanksolve.model.tank import Tank

EVERY = 30.0
SAME = 1e-6  # degrees
SEEDS = (14, 22, 32, 36, 9)


def limits(case: Case, every: float = EVERY) -> dict[float, float]:
    """Slope [°] by heading [°], 90 where no port gives out; bounds lie close below them."""
    found = envelope(case.tank, case.ports, case.fill, every_deg=every)
    assert found.ok_at_level
    out = {}
    for row in found.limits:
        out[round(row.heading_deg, 6)] = 90.0 if row.slope_deg is None else row.slope_deg
        reach = found.searched_to_deg if row.slope_deg is None else row.slope_deg
        assert row.held_to_deg <= reach + SAME
        assert row.grazing or row.held_to_deg >= reach - found.tolerance_deg - SAME
    assert min(out.values()) < 90.0, "nothing to compare"
    return out


def assert_same(one: dict[float, float], other: dict[float, float]) -> None:
    assert one.keys() == other.keys()
    for heading, slope in one.items():
        assert other[heading] == pytest.approx(slope, abs=SAME), heading


@pytest.fixture(scope="module", params=SEEDS)
def case(request) -> Case:
    return random_case(request.param)


@pytest.fixture(scope="module")
def found(case) -> dict[float, float]:
    return limits(case)


def of_tank(case: Case, tank: Tank) -> Case:
    return case._replace(tank=tank)


def test_a_mirror_image_has_the_mirrored_limits(case, found):
    """Left for right: heading k becomes -k."""
    flip = np.diag([1.0, -1.0, 1.0])
    links = tuple(mapped(link, flip) for link in case.tank.links)
    mesh = case.tank
    tank = replace(mesh, vertices=mesh.vertices @ flip, faces=mesh.faces[:, ::-1], links=links)
    ports = tuple(
        replace(
            port,
            position=tuple(flip @ port.position),
            facing=None if port.facing is None else tuple(flip @ port.facing),
        )
        for port in case.ports
    )
    there = limits(case._replace(tank=tank, ports=ports))
    assert_same(found, {(360.0 - heading) % 360.0: slope for heading, slope in there.items()})


def test_a_tank_turned_in_its_mounting_has_its_limits_turned(case, found):
    """Turned left by two headings: what was at heading k is at k + 60."""
    turn = 2.0 * EVERY
    tank, ports = mount(case.tank, case.ports, mounting_rotation(yaw=np.radians(turn)))
    there = limits(case._replace(tank=tank, ports=ports))
    assert_same(found, {(heading - turn) % 360.0: slope for heading, slope in there.items()})


def test_the_order_of_vertices_faces_and_corners_does_not_matter(case, found):
    mesh, rng = case.tank, np.random.default_rng(3)
    order = rng.permutation(len(mesh.vertices))
    faces = np.argsort(order)[mesh.faces][rng.permutation(len(mesh.faces))]
    turns = rng.integers(0, 3, len(faces))
    faces = np.stack([np.roll(face, turn) for face, turn in zip(faces, turns, strict=True)])
    assert_same(
        found, limits(of_tank(case, replace(mesh, vertices=mesh.vertices[order], faces=faces)))
    )


def test_finer_facets_of_the_same_solid_do_not_matter(case, found):
    """Each triangle in four, at the middles of its sides."""
    mesh = case.tank
    sides = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    ends, middle = np.unique(sides, axis=0, return_inverse=True)
    vertices = np.vstack([mesh.vertices, mesh.vertices[ends].mean(axis=1)])
    ab, bc, ca = (len(mesh.vertices) + middle.reshape(-1, 3)).T
    a, b, c = mesh.faces.T
    faces = np.vstack(
        [np.stack(three, axis=1) for three in ((a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca))]
    )
    assert_same(found, limits(of_tank(case, replace(mesh, vertices=vertices, faces=faces))))


def test_the_headings_listed_do_not_matter(case, found):
    """Every 45 degrees instead of 30: those in common."""
    other = limits(case, 45.0)
    common = sorted(found.keys() & other.keys())
    assert common == [0.0, 90.0, 180.0, 270.0]
    assert_same({k: found[k] for k in common}, {k: other[k] for k in common})
