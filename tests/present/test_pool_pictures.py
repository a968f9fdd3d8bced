"""Pictures of pools: each pool where it is, to its own level, told apart without colour."""

import math
from pathlib import Path

import numpy as np
import pytest
from matplotlib.patches import PathPatch
from pictures import across_rules, all_words, off_the_sheet, overlapping

from tanksolve.kernel.capacity.section import loop_area
from tanksolve.model.attitude import Attitude
from tanksolve.present.section_view import section_figure
from tanksolve.present.solid_view import solid_figure
from tanksolve.present.style import pool_look
from tanksolve.present.tree_view import tree_figure
from tanksolve.project.load import load
from tanksolve.questions.level.pools import pools
from tanksolve.questions.level.surface import level

MESHES = Path(__file__).parents[2] / "meshes"
DOWN = Attitude.from_slope(math.radians(32.0), math.pi)


def case(name, attitude, volume):
    project = load(MESHES / name)
    settled = pools(project.tank, volume, attitude, project.ports)
    return project.tank, project.ports, settled


TWO = case("two_bays.toml", DOWN, 0.04)
SPRAYER = case("hillside_sprayer.toml", Attitude.from_slope(0.6, 2.6), 0.034)


def cut(found, attitude, **options):
    tank, ports, settled = found
    there = level(tank, settled.volume_m3, attitude, ports)
    return section_figure(tank, there, ports, settled=settled, **options)


def pool_patches(figure):
    inks = {pool_look(k).ink for k in range(6)}
    from matplotlib.colors import to_hex

    return [p for p in figure.findobj(PathPatch) if to_hex(p.get_edgecolor()) in inks]


@pytest.mark.parametrize("seen_from", ["right", "front"])
@pytest.mark.parametrize(
    ("found", "attitude"), [(TWO, DOWN), (SPRAYER, Attitude.from_slope(0.6, 2.6))]
)
def test_words_in_a_cut_with_pools_keep_clear_of_each_other(found, attitude, seen_from):
    figure = cut(found, attitude, seen_from=seen_from)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


@pytest.mark.parametrize("found", [TWO, SPRAYER])
@pytest.mark.parametrize("draw", [solid_figure, tree_figure])
def test_words_of_the_whole_tank_keep_clear_of_each_other(draw, found):
    tank, ports, settled = found
    rest = (ports,) if draw is solid_figure else ()
    figure = draw(tank, settled, *rest)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


def test_each_pool_in_a_cut_has_the_area_that_its_volume_asks_for():
    """A prism 400 mm wide: area of the cut times width is volume."""
    figure = cut(TWO, DOWN)
    found = [
        abs(sum(loop_area(np.asarray(loop)[:-1]) for loop in patch.get_path().to_polygons()))
        for patch in pool_patches(figure)
    ]
    wanted = [pool.volume_m3 / 0.4 for pool in TWO[2].pools]
    assert found == pytest.approx(wanted, rel=1e-6)
    assert wanted[0] > 1.5 * wanted[1]


def test_pools_are_told_apart_by_hatch_and_name_and_ports_are_judged_by_them():
    figure = cut(TWO, DOWN)
    hatches = [patch.get_hatch() for patch in pool_patches(figure)]
    assert len(hatches) == 2 == len(set(hatches))
    words = all_words(figure)
    assert "pool 1: 27.20 L" in words
    assert "pool 2: 12.80 L" in words
    assert "40.00 L in 2 pools" in words
    assert "margin -34.0 mm: rule broken" in words


def test_one_pool_is_drawn_as_one_level():
    tank, ports, settled = case("two_bays.toml", Attitude.level(), 0.1)
    assert len(settled.pools) == 1
    figure = section_figure(tank, level(tank, 0.1, None, ports), ports, settled=settled)
    assert pool_patches(figure) == []
    assert "Dashed: edge of the whole surface" in all_words(figure)


def test_the_solid_view_names_what_stands_where_and_what_is_out_of_reach():
    tank, ports, settled = TWO
    words = all_words(solid_figure(tank, settled, ports)).replace("\n", " ")
    assert "40.00 L in 2 pools 12.80 L out of reach" in words
    assert "1: pickup, breather 2: no port" in words
    assert "32.0° (62.4 % grade) nose down" in words


def test_the_tree_tells_saddles_and_what_is_held_below_them():
    tank, _, settled = TWO
    words = all_words(tree_figure(tank, settled)).replace("\n", " ")
    assert "holds 12.80 L to the saddle" in words  # 0.4 m x 0.2 m x 0.2 m / tan 32 deg / 2
    assert 0.4 * 0.2**2 / math.tan(math.radians(32.0)) / 2 == pytest.approx(0.0128, abs=5e-6)
    assert "the whole: 119.52 L" in words
    assert "2 basins, 2 with liquid in 2 pools" in words
    assert "1000.0 mm from the rear" in words


def test_one_pool_over_two_basins_is_counted_as_it_is_drawn():
    tank, ports, settled = case("two_bays.toml", Attitude.level(), 0.1)
    words = all_words(tree_figure(tank, settled)).replace("\n", " ")
    assert "2 basins, 2 with liquid in 1 pool" in words
    assert "in 1 pools" not in words
    assert "in 1 pools" not in all_words(solid_figure(tank, settled, ports))


def test_a_breather_in_the_air_stands_on_a_plumb_line_over_the_surface():
    tank, ports, settled = case("two_bays.toml", Attitude.level(), 0.04)
    over = [p for p in ports if p.position[2] > settled.pools[0].level_height_m]
    figure = solid_figure(tank, settled, ports)
    plumb = [line for line in figure.axes[0].lines if line.get_linestyle() == ":"]
    assert 0 < len(over) < len(ports)
    assert len(plumb) == len(over)


def test_a_pit_under_the_floor_is_told_as_below_it():
    words = all_words(tree_figure(SPRAYER[0], SPRAYER[2]))
    assert "45.0 mm below the floor" in words
    assert "-45.0" not in words


def test_a_balance_pipe_is_drawn_at_its_width_where_it_runs_and_end_on(tmp_path):
    from program import run

    assert run("new", "twin.toml", "--template", "twin", cwd=tmp_path).returncode == 0
    project = load(tmp_path / "twin.toml")
    (pipe,) = project.tank.links
    settled = pools(project.tank, 0.06, Attitude.level(), project.ports)
    surface = level(project.tank, 0.06, None, project.ports)
    for seen, long in (("front", True), ("right", False)):
        figure = section_figure(
            project.tank, surface, project.ports, settled=settled, seen_from=seen
        )
        (drawn,) = [line for line in figure.axes[0].lines if line.get_gid() == "pipe"]
        width, height = np.ptp(drawn.get_xydata(), axis=0)
        bore = 2.0 * float(np.linalg.norm(pipe.stations[0][0, 3:6]))
        assert height == pytest.approx(bore, rel=0.02)
        assert (width > 3.0 * bore) if long else width == pytest.approx(bore, rel=0.02)
        assert pipe.name in all_words(figure)


def test_a_pools_name_keeps_off_the_ports():
    figure = cut(TWO, DOWN)
    renderer = figure.canvas.get_renderer()
    axes = figure.axes[0]
    names = [t for t in axes.texts if t.get_text().startswith("pool ")]
    marks = [line for line in axes.lines if line.get_marker() not in ("", "None", None)]
    spots = [axes.transData.transform(line.get_xydata())[0] for line in marks]
    assert names
    assert spots
    assert not any(t.get_window_extent(renderer).contains(*spot) for t in names for spot in spots)
