"""Waves over a fill range, with bays and baffles, held to scans and to finer grids."""

import math

import numpy as np
import pytest
from manifold3d import Manifold
from tanks import from_manifold

from tanksolve.errors import FillError, TankError
from tanksolve.geometry import wet_cells
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, hole, slot
from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.liquid import Fill
from tanksolve.model.tank import Tank
from tanksolve.pump import slosh
from tanksolve.pump.slosh import solve_slosh, waves_at, with_baffle

LOW_WALL = Parts(
    box(0.9, 0.3, 0.3), (), (Baffle("wall", "across", 0.4, 0.003, gaps={"top": 0.15}),)
)
HOLED = Parts(
    box(0.9, 0.3, 0.3), (), (Baffle("wall", "across", 0.45, 0.003, cuts=(hole(0.1, (0.15, 0.1)),)),)
)


def box_hertz(length: float, depth: float) -> float:
    k = math.pi / length
    return math.sqrt(9.80665 * k * math.tanh(k * depth)) / math.tau


def test_bays_below_the_top_of_a_plate_slosh_apart() -> None:
    tank = build(LOW_WALL)
    waves = waves_at(tank, 0.1 * 0.3 * 0.897)
    rear = next(w for w in waves if w.rear_m == 0.0 and w.direction == "longitudinal")
    front = next(w for w in waves if w.rear_m > 0.4 and w.direction == "longitudinal")
    assert rear.frequency_hz == pytest.approx(box_hertz(0.4, 0.1), rel=2e-3)
    assert front.frequency_hz == pytest.approx(box_hertz(0.497, 0.1), rel=2e-3)
    assert rear.front_m == pytest.approx(0.4)


def test_a_plate_far_below_the_surface_is_not_felt_and_one_just_below_is() -> None:
    deep, shallow = (
        Parts(box(0.9, 0.3, 1.2), (), (Baffle("w", "across", 0.45, 0.003, gaps={"top": gap}),))
        for gap in (1.0, 0.25)
    )
    plain = box_hertz(0.9, 1.1)
    first = [
        waves_at(tank, tank.capacity * 1.1 / 1.2)[0].frequency_hz
        for tank in (build(deep), build(shallow))
    ]
    assert first[0] == pytest.approx(plain, rel=0.02)
    assert first[1] < 0.95 * plain


def test_a_holed_plate_is_near_what_a_finer_grid_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two bays exchange liquid through the hole: a slow wave that no formula of boxes has."""
    tank = build(HOLED)
    told = solve_slosh(tank, 0.2 * 0.27)
    monkeypatch.setattr(slosh, "_FINE", 2.5)
    finer = waves_at(tank, 0.2 * 0.27)
    for one, other in zip(told.at_least[:3], finer[:3], strict=True):
        assert other.frequency_hz <= one.frequency_hz * (1.0 + 1e-6)
        assert other.frequency_hz >= one.frequency_hz * (1.0 - told.too_high_by)
    assert told.at_least[0].frequency_hz < 0.6 * box_hertz(0.45, 0.2)


def narrow_below() -> Tank:
    """0.4 m long up to 150 mm, 0.9 m above: waves quicken up to the ledge, and slow down over it."""
    return from_manifold(
        "narrow below",
        Manifold.cube((0.4, 0.3, 0.3))
        + Manifold.cube((0.9, 0.3, 0.15)).translate((0.0, 0.0, 0.15)),
    )


def ranges() -> dict[str, tuple[Tank, Fill]]:
    lying = cylinder(0.6, 0.6, lies="along", chord_tolerance=4e-3)
    return {
        "lying cylinder": (lying, Fill(0.02, 0.12)),
        "low wall": (build(LOW_WALL), Fill(0.03, 0.06)),
        "shallow box": (box(0.9, 0.3, 0.3), Fill(0.001, 0.08)),
        "ledge": (narrow_below(), Fill(0.004, 0.05)),
    }


@pytest.mark.parametrize("name", ["lying cylinder", "low wall", "shallow box", "ledge"])
def test_no_resonance_of_a_scan_of_200_fills_is_missed(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every wave at every fill, taken as an excitation, is told near; so are those 15 % off.

    On few bricks: what is told and what is scanned use the same, and what is asked is whether the
    fills that are left out can hide anything.
    """
    monkeypatch.setattr(wet_cells, "_ALONG", 4)
    monkeypatch.setattr(wet_cells, "_ACROSS", 2)
    monkeypatch.setattr(slosh, "_SCAN", 0.01)
    monkeypatch.setattr(slosh, "_FINE", 0.01)
    monkeypatch.setattr(slosh, "_EACH", 4)
    tank, fill = ranges()[name]
    scan = slosh._Scan(tank)
    fills = np.linspace(fill.least, fill.most, 200)
    rows = [([w.frequency_hz for w in scan.at(float(v)).waves], v) for v in fills]
    seen = [(f, v) for waves, v in rows for f in waves]
    # what a wave reaches at its ends is what is missed most easily
    each = [[f for waves, _ in rows for f in waves[k : k + 1]] for k in range(4)]
    ends = [(0.8002 * min(some), 1.1998 * max(some)) for some in each if some]
    within = {f * off for f, _ in seen[:: len(seen) // 40] for off in (0.85, 1.0, 1.15)}
    asked = sorted(round(f, 4) for f in within.union(*ends))
    told = solve_slosh(tank, fill, asked)
    assert told.fills_solved < 60
    for excitation in asked:
        near = [one for band in told.bands for one in band.near if one.excitation_hz == excitation]
        fills_near = [v for f, v in seen if abs(excitation - f) <= 0.2 * f]
        assert bool(fills_near) <= bool(near), excitation
        if fills_near:
            assert min(one.from_m3 for one in near) <= min(fills_near) + 1e-12
            assert max(one.to_m3 for one in near) >= max(fills_near) - 1e-12


def test_a_wave_that_comes_up_from_nought_over_a_crest_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A film over the wall passes little: what swings between the bays begins at nought, between any two fills."""
    monkeypatch.setattr(slosh, "_SCAN", 0.01)
    monkeypatch.setattr(slosh, "_FINE", 0.01)
    crest = 0.15 * 0.3 * 0.897
    over, under = (
        solve_slosh(build(LOW_WALL), Fill(0.03, most), (0.1,))
        for most in (1.1 * crest, 0.99 * crest)
    )
    (near,) = over.bands[0].near
    assert near.from_m3 <= crest <= near.to_m3
    assert not any(band.near for band in under.bands)


def test_the_least_fill_alone_would_have_missed_it() -> None:
    """20 to 60 L: a wave that only a fuller tank has near 1.2 Hz is told."""
    tank = cylinder(0.6, 0.6, lies="along")
    only, whole = (solve_slosh(tank, fill, (1.35,)) for fill in (0.02, Fill(0.02, 0.12)))
    first = only.bands[0]
    assert first.name == "first longitudinal"
    assert not first.near
    assert whole.bands[0].near[0].from_m3 > 0.03


def test_a_baffle_in_an_upright_cylinder_is_solved_as_one() -> None:
    upright = cylinder(0.6, 0.8, lies="upright")
    effect = with_baffle(upright, 0.5 * upright.capacity, 0.3)
    assert effect.whole_hz == pytest.approx(1.22565, rel=2e-3)
    # a half circle's first wave away from the plate: a symmetric mode of the whole circle, k = 3.0542 / R
    k = 3.0542 / 0.3
    half = math.sqrt(9.80665 * k * math.tanh(k * 0.4)) / math.tau
    assert effect.rear_hz == pytest.approx(half, rel=5e-3)
    assert effect.front_hz == pytest.approx(half, rel=5e-3)


def test_a_baffle_raises_the_lowest_frequency_most_at_the_middle() -> None:
    tank = box(1.2, 0.5, 0.8)
    effects = [with_baffle(tank, 0.24, x) for x in (0.2, 0.4, 0.6)]
    lowest = [min(e.rear_hz, e.front_hz) for e in effects]
    assert effects[0].whole_hz < lowest[0] < lowest[1] < lowest[2]


def test_large_meshes_are_coarsened_and_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wet_cells, "_MOST_FACES", 400)
    tank = cylinder(0.6, 0.6, lies="along")
    assert len(tank.faces) > 400
    told = solve_slosh(tank, 0.5 * tank.capacity)
    assert "coarsened" in told.notes[0]
    lateral = next(band for band in told.bands if band.name == "first lateral")
    wanted = math.sqrt(1.3557 * 9.80665 / 0.3) / math.tau
    assert lateral.low_hz == pytest.approx(wanted, rel=0.01)


def test_a_brim_full_tank_has_no_wave() -> None:
    tank = box(0.9, 0.3, 0.3)
    told = solve_slosh(tank, tank.capacity, (1.0,))
    assert told.bands == ()
    assert "no free surface" in told.notes[0]


def test_nonsense_is_refused() -> None:
    with pytest.raises(TankError, match="outside the tank"):
        with_baffle(box(1.2, 0.5, 0.8), 0.1, 1.3)
    with pytest.raises(FillError, match="not positive"):
        solve_slosh(box(1.2, 0.5, 0.8), 0.1, (0.0,))


def test_slot_is_felt_less_than_no_plate() -> None:
    """A slot under the surface lets the slow wave through, more slowly the narrower it is."""
    narrow, wide = (
        build(
            Parts(
                box(0.9, 0.3, 0.3),
                (),
                (Baffle("w", "across", 0.45, 0.003, cuts=(slot(0.2, h, (0.15, 0.05)),)),),
            )
        )
        for h in (0.03, 0.06)
    )
    first = [waves_at(tank, 0.15 * 0.27)[0].frequency_hz for tank in (narrow, wide)]
    assert first[0] < first[1] < box_hertz(0.9, 0.15)
