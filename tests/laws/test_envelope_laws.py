"""What must hold of any envelope: more liquid, lower pickups, mirrors, turns and scales."""

import numpy as np
import pytest
from tanks import tank, turned

from tanksolve.kernel.capacity.level import levels
from tanksolve.model.ports import breather, pickup
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import envelope

# name -> a place for a pickup, a place for a breather
PLACES = {
    "box": ((0.1, 0.2, 0.1), (1.0, 0.3, 0.75)),
    "L": ((0.9, 0.2, 0.05), (0.2, 0.3, 0.85)),
    "baffled with sump": ((0.2, 0.2, -0.15), (1.0, 0.4, 0.78)),
    "saddle": ((0.2, 0.2, 0.1), (0.9, 0.0, 0.59)),
    "ring": ((0.4, 0.0, -0.05), (0.0, 0.4, 0.11)),
}
names = pytest.mark.parametrize("name", PLACES)


def slopes(mesh, ports, volume, every=30.0):
    found = envelope(mesh, ports, volume, every_deg=every)
    if not found.ok_at_level:
        return np.zeros(len(found.limits))
    return np.array([90.0 if row.slope_deg is None else row.slope_deg for row in found.limits])


@names
def test_more_fill_never_shortens_a_pickups_limit(name):
    mesh = tank(name)
    port = [pickup("p", PLACES[name][0])]
    rows = [slopes(mesh, port, share * mesh.capacity) for share in (0.25, 0.4, 0.6)]
    assert np.all(rows[0] <= rows[1] + 1e-9)
    assert np.all(rows[1] <= rows[2] + 1e-9)
    assert rows[0].sum() < rows[2].sum()


@names
def test_more_fill_never_lengthens_a_breathers_limit(name):
    mesh = tank(name)
    port = [breather("v", PLACES[name][1])]
    rows = [slopes(mesh, port, share * mesh.capacity) for share in (0.4, 0.7, 0.9)]
    assert np.all(rows[0] >= rows[1] - 1e-9)
    assert np.all(rows[1] >= rows[2] - 1e-9)
    assert rows[0].sum() > rows[2].sum()


@names
def test_raising_a_pickup_never_helps(name):
    mesh = tank(name)
    x, y, z = PLACES[name][0]
    low, high = (
        slopes(mesh, [pickup("p", (x, y, z + lift))], 0.45 * mesh.capacity) for lift in (0.0, 0.02)
    )
    assert np.all(high <= low + 1e-9)
    assert high.sum() < low.sum()


@names
def test_more_cover_never_helps(name):
    mesh = tank(name)
    rows = [
        slopes(mesh, [pickup("p", PLACES[name][0], cover=cover)], 0.45 * mesh.capacity)
        for cover in (0.0, 0.03)
    ]
    assert np.all(rows[1] <= rows[0] + 1e-9)
    assert rows[1].sum() < rows[0].sum()


@names
def test_mirrored_tank_mirrors_its_limits(name):
    """Left for right: heading k becomes -k."""
    mesh = tank(name)
    flip = np.array([1.0, -1.0, 1.0])
    mirrored = Tank("mirrored", mesh.vertices * flip, mesh.faces[:, ::-1])
    low, high = PLACES[name]
    here = slopes(mesh, [pickup("p", low), breather("v", high)], 0.45 * mesh.capacity)
    there = slopes(
        mirrored, [pickup("p", flip * low), breather("v", flip * high)], 0.45 * mesh.capacity
    )
    np.testing.assert_allclose(there, np.roll(here[::-1], 1), atol=1e-8)


@names
def test_turning_tank_and_headings_together_changes_nothing(name):
    """A quarter turn to the left: heading k becomes k + 90°."""
    mesh = tank(name)
    quarter = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    low, high = (np.asarray(p) for p in PLACES[name])
    here = slopes(mesh, [pickup("p", low), breather("v", high)], 0.45 * mesh.capacity)
    there = slopes(
        turned(mesh, quarter, (3.0, -2.0, 1.0)),
        [
            pickup("p", quarter @ low + [3.0, -2.0, 1.0]),
            breather("v", quarter @ high + [3.0, -2.0, 1.0]),
        ],
        0.45 * mesh.capacity,
    )
    np.testing.assert_allclose(there, np.roll(here, 3), atol=1e-8)


@pytest.mark.parametrize("name", ["L", "ring"])
def test_scaling_everything_changes_no_angle(name):
    mesh = tank(name)
    low, high = (np.asarray(p) for p in PLACES[name])
    rows = []
    for factor in (1.0, 0.01, 50.0):
        scaled = Tank("scaled", mesh.vertices * factor, mesh.faces)
        ports = [pickup("p", factor * low), breather("v", factor * high)]
        rows.append(slopes(scaled, ports, 0.45 * scaled.capacity))
    np.testing.assert_allclose(rows[1], rows[0], atol=1e-8)
    np.testing.assert_allclose(rows[2], rows[0], atol=1e-8)


@names
def test_air_is_liquid_upside_down(name):
    """The level of V under u is the level of the rest under -u, the other way up."""
    mesh = tank(name)
    up = np.random.default_rng(1).normal(size=(50, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    liquid = levels(mesh.tree, up, 0.3 * mesh.capacity)[0]
    air = levels(mesh.tree, -up, 0.7 * mesh.capacity)[0]
    np.testing.assert_allclose(liquid, -air, atol=1e-11)
