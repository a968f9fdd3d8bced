"""The tank tilted: an animation and stills where there is no screen, a window where there is one."""

import ctypes.util
import itertools
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from program import answer, run

from tanksolve.errors import OutputError, TanksolveError
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup
from tanksolve.present.tilt_view import Tilted, save_tilt, tilt_steps
from tanksolve.present.window import TiltWindow, has_screen
from tanksolve.project.load import load

BOX = ("--box", "600x300x300mm", "--fill", "20L..30L")
PORT = ("--pickup", "suction=300,150,40mm,bore=20mm,facing=down")
PORTS = (
    pickup("suction", (0.3, 0.15, 0.04), bore=0.02, facing="down"),
    breather("cap", (0.3, 0.15, 0.3)),
)


@pytest.fixture
def blind(monkeypatch):
    """A machine without a screen."""
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)


def test_movements_begin_at_level_ground_and_end_where_asked():
    attitude = Attitude.from_inclinometer(math.radians(10.0), math.radians(-4.0))
    (movement,) = tilt_steps(attitude, 6)
    assert len(movement) == 6
    assert movement[0].up == pytest.approx((0.0, 0.0, 1.0))
    assert movement[-1].up == pytest.approx(attitude.up, abs=1e-12)
    sides = tilt_steps(None, 12)
    assert [len(one) for one in sides] == [3, 3, 3, 3]
    ends = np.array([one[-1].up for one in sides])
    assert np.degrees(np.arccos(ends[:, 2])) == pytest.approx([20.0] * 4)
    assert len({tuple(np.sign(np.round(end[:2], 9))) for end in ends}) == 4
    for frames in (1, 201):
        with pytest.raises(OutputError, match="make no animation"):
            tilt_steps(None, frames)


def test_an_animation_shows_each_step_and_the_last_the_longest(tmp_path):
    tilted = Tilted(replace(box(0.6, 0.3, 0.3), name="box"), PORTS, 0.02)
    path = tmp_path / "tilt.gif"
    save_tilt(tilted, tilt_steps(Attitude.from_slope(math.radians(15.0), 0.0), 4), path)
    with Image.open(path) as shown:
        pictures, times = [], []
        for k in range(shown.n_frames):
            shown.seek(k)
            times.append(shown.info["duration"])
            pictures.append(np.asarray(shown.convert("RGB"), float))
    assert len(pictures) == 4
    assert times[-1] > 3 * times[0]
    assert all(np.abs(a - b).mean() > 0.3 for a, b in itertools.pairwise(pictures))
    assert [one.name for one in tmp_path.iterdir()] == ["tilt.gif"]


def test_without_a_screen_the_command_writes_files(tmp_path, blind):
    assert not has_screen()
    done = run("view", *BOX, *PORT, "--frames", "4", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["tilt.gif", "tilt.png"]
    assert done.stdout.startswith("20.00 L at 20.0° (36.3 % grade), nose up")
    again = run("view", *BOX, *PORT, cwd=tmp_path)
    assert (again.returncode, "is there already" in again.stderr) == (2, True)
    odd = run("view", *BOX, *PORT, "-o", "tilt.mp4", cwd=tmp_path)
    assert (odd.returncode, ".gif, .png, .svg, .pdf" in odd.stderr) == (2, True)


def test_what_is_drawn_is_told(tmp_path):
    told = answer(
        *("view", *BOX, *PORT, "--attitude", "nose_up=10deg", "--most", "-o", tmp_path / "a.png")
    )
    assert told["volume_m3"] == pytest.approx(0.030)
    (port,) = told["ports"]
    # one level over a box: 30 L over 600 x 300 mm, the suction in the middle, the cover two bores
    over = (0.030 / 0.18 - 0.04) * math.cos(math.radians(10.0))
    edge = 0.04 + 0.01 * math.sin(math.radians(10.0))
    assert port["margin_m"] == pytest.approx(over - edge, abs=1e-9)


def test_a_screen_is_looked_for_where_it_is_named(blind, monkeypatch):
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert has_screen()
    monkeypatch.delenv("WAYLAND_DISPLAY")
    monkeypatch.setattr(sys, "platform", "win32")
    assert has_screen()


def test_a_window_without_its_library_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "pyvista", None)
    tilted = Tilted(box(0.6, 0.3, 0.3), PORTS, 0.02)
    with pytest.raises(TanksolveError, match="needs pyvista") as told:
        TiltWindow(tilted, Attitude.level(), off_screen=True)
    assert "tanksolve[view]" in str(told.value)


@pytest.mark.skipif(
    sys.platform.startswith("linux")
    and not (ctypes.util.find_library("EGL") and ctypes.util.find_library("X11")),
    reason="drawing by VTK needs libEGL and libX11; without them it ends the process",
)
def test_the_window_shows_all_the_liquid_at_every_attitude():
    pytest.importorskip("pyvista")
    tank = load(Path(__file__).resolve().parents[2] / "meshes" / "two_bays.toml").tank
    window = TiltWindow(Tilted(tank, (), 0.02), Attitude.level(), off_screen=True)
    before = window.plotter.screenshot(return_img=True)
    pools = set()
    for pitch in (-20.0, 25.0):
        window.tilt(Attitude.from_inclinometer(math.radians(pitch), 0.0))
        named = [name for name in window.plotter.actors if name.startswith("pool")]
        shown = sum(window.plotter.actors[name].mapper.dataset.volume for name in named)
        assert shown == pytest.approx(0.02, rel=1e-4)
        pools.add(len(named))
        window.plotter.render()
        assert np.abs(window.plotter.screenshot(return_img=True).astype(float) - before).mean() > 1
    window.plotter.close()
