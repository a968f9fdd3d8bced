"""The public envelope: pools by default, one level when asked for, and a limit in words."""

from pathlib import Path

import pytest

import tanksolve
from tanksolve import PooledEnvelope, PooledLimit, box, breather, envelope, load, pickup
from tanksolve.errors import FillError, PortError
from tanksolve.model.tank import Tank

TWO = load(Path(__file__).parents[3] / "meshes" / "two_bays.toml")


def test_behind_a_wall_the_pools_count_unless_one_level_is_asked_for():
    pooled = envelope(TWO.tank, TWO.ports, 0.04, every_deg=90.0, paths=("straight tilt",))
    plain = envelope(TWO.tank, TWO.ports, 0.04, every_deg=90.0, one_level=True)
    assert isinstance(pooled, PooledEnvelope)
    assert not isinstance(plain, PooledEnvelope)
    assert plain.nose_down > pooled.nose_down + 20.0


def test_a_sampled_limit_never_calls_itself_a_bound():
    pooled = envelope(TWO.tank, TWO.ports, 0.04, every_deg=90.0, paths=("straight tilt",))
    down = next(limit for limit in pooled.limits if limit.heading_deg == 180.0)
    assert isinstance(down, PooledLimit)
    assert not down.bounded
    words = str(down)
    assert words.startswith("tank limit 15.1° (26.9 % grade) nose down (heading 180.0°), set by")
    assert words.endswith("pools, sampled, straight tilt, no bound")
    up = next(limit for limit in pooled.limits if limit.heading_deg == 0.0)
    assert "no port gives out up to there" in str(up)


def test_a_bound_says_so():
    suction = pickup("suction", (0.02, 0.15, 0.03), bore=0.038)
    worst = envelope(box(0.9, 0.3, 0.3), [suction], 0.042).worst
    assert str(worst).endswith("no gap between samples (still liquid, this mesh)")
    assert "set by suction" in str(worst)


def test_the_pools_at_one_attitude_are_at_hand():
    found = tanksolve.pools(TWO.tank, 0.04, tanksolve.Attitude.from_slope(0.5, 3.14159265))
    assert len(found.pools) == 2


def test_a_fill_written_as_text_is_told_how_to_be_read():
    with pytest.raises(FillError, match=r"parse_volume\('18 L'\)"):
        envelope(box(0.9, 0.3, 0.3), [breather("b", (0.4, 0.1, 0.3))], "18 L")


def test_a_place_in_millimetres_is_told_that_lengths_are_metres():
    with pytest.raises(PortError, match="positions are in metres here"):
        envelope(box(0.9, 0.3, 0.3), [pickup("p", (200.0, 150.0, 40.0))], 0.042)


def test_a_mesh_with_an_origin_of_its_own_says_where_its_corner_is():
    tank = box(0.9, 0.3, 0.3)
    assert not tank.has_own_origin
    moved = Tank("moved", tank.vertices - [0.45, 0.15, 0.0], tank.faces)
    assert moved.has_own_origin
    assert "-450, -150, 0 mm" in moved.origin_words
    with pytest.raises(PortError, match="forward, left and up from the mesh file's origin"):
        envelope(moved, [pickup("p", (0.8, 0.2, 0.1))], 0.042)
