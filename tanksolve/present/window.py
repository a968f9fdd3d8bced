"""A window on the screen with the tank in it, tilted by sliders; drawn by pyvista (``tanksolve[view]``)."""

import math
import os
import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TanksolveError
from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.liquid import Fill
from tanksolve.present.style import fill_words
from tanksolve.present.tilt_view import Tilted
from tanksolve.questions.level.pool_shapes import pool_shapes
from tanksolve.units import slope_words

__all__ = ["TiltWindow", "has_screen"]

_STEEPEST = 60.0  # degrees that each slider goes to
_KEPT, _BROKEN, _STEEL = "#17693a", "#b3261e", "#8d98a2"
_LIQUIDS = ("#2f7dbd", "#7bb4dd", "#1b5a8f", "#9cc9e8")


def has_screen() -> bool:
    """Whether a window can be opened: always so on Windows and macOS, elsewhere where a display is named."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


class TiltWindow:
    """The tank as glass, its pools and its ports; ``tilt`` moves it, ``show`` opens the window.

    off_screen : draws without a window, for ``screenshot``.
    Raises TanksolveError where pyvista is not installed.
    """

    def __init__(self, tilted: Tilted, attitude: Attitude, off_screen: bool = False) -> None:
        try:
            import pyvista
        except ImportError as error:
            raise TanksolveError(
                "a window needs pyvista, which is not installed",
                next_step="pip install 'tanksolve[view]', or write -o tilt.gif",
            ) from error
        self._pyvista: Any = pyvista  # half typed
        self._tilted = tilted
        self._readings = [math.degrees(angle) for angle in attitude.inclinometer]
        self.plotter: Any = self._pyvista.Plotter(
            off_screen=off_screen, window_size=(1100, 780), title=f"tanksolve: {tilted.tank.name}"
        )
        tank = tilted.tank
        self._centre = np.asarray(tank.centre)
        walls = self._pyvista.PolyData.from_regular_faces(tank.vertices - self._centre, tank.faces)
        edges = walls.extract_feature_edges(25.0)
        add = self.plotter.add_mesh
        self._turned = [
            add(walls, color=_STEEL, opacity=0.12, name="walls"),
            add(edges, color=_STEEL, line_width=1.5, name="edges"),
        ]
        self._pools = 0
        self.tilt(attitude)
        self._sliders()
        self.plotter.camera_position = [(1.6, -2.6, 1.2), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)]
        self.plotter.reset_camera()
        self.plotter.camera.zoom(0.85)  # clear of the sliders

    def tilt(self, attitude: Attitude) -> None:
        """Carry the liquid straight from level ground to an attitude, and draw it."""
        tilted, settled = self._tilted, self._tilted.at(attitude)
        turn = _turned(np.asarray(attitude.up))
        for actor in self._turned:
            actor.user_matrix = turn
        for k in range(self._pools):
            self.plotter.remove_actor(f"pool {k}")
        shapes = pool_shapes(tilted.tank, settled)
        for k, shape in enumerate(shapes):
            mesh = self._pyvista.PolyData.from_regular_faces(
                self._place(shape.vertices, turn), shape.faces
            )
            colour = _LIQUIDS[k % len(_LIQUIDS)]
            self.plotter.add_mesh(mesh, color=colour, opacity=0.5, lighting=False, name=f"pool {k}")
        self._pools = len(shapes)
        self.drawn_m3 = sum(pool.volume_m3 for pool in settled.pools)
        self._ports(settled.ports, turn)
        steep = attitude.slope > math.radians(0.05)
        side = heading_words(attitude.heading) if steep else "level ground"
        self.plotter.add_text(
            f"{tilted.tank.name}, {fill_words(Fill.of(tilted.volume))}\n{slope_words(attitude.slope)}, {side}\n"
            "tank limit: still liquid, this mesh; it says nothing about roll-over",
            position="upper_left", font_size=10, color="black", name="told",
        )  # fmt: skip

    def show(self) -> None:
        """Open the window, and come back when it is closed."""
        self.plotter.show()

    def _place(self, points: NDArray[np.float64], turn: NDArray[np.float64]) -> Any:
        """Points of the tank, turned as the machine stands."""
        return (points - self._centre) @ turn[:3, :3].T

    def _ports(self, found: Any, turn: NDArray[np.float64]) -> None:
        """A ball at each port and its name, with whether its rule is kept."""
        ports = self._tilted.ports
        if not ports:
            return
        at = self._place(np.array([port.position for port in ports]), turn)
        told = [
            port.name if not one.rule or one.holds else f"{port.name}: rule broken"
            for port, one in zip(ports, found, strict=True)
        ]
        for k, (point, one) in enumerate(zip(at, found, strict=True)):
            radius = 0.012 * float(np.ptp(self._tilted.tank.vertices, axis=0).max())
            ball = self._pyvista.Sphere(radius=radius, center=point)
            self.plotter.add_mesh(ball, color=_KEPT if one.holds else _BROKEN, name=f"port {k}")
        self.plotter.add_point_labels(
            at,
            told,
            name="ports",
            font_size=14,
            always_visible=True,
            shape_color="white",
            shape_opacity=0.8,
        )

    def _sliders(self) -> None:
        """Two sliders, their ends in words."""

        def move(which: int) -> Any:
            def moved(degrees: float) -> None:
                self._readings[which] = degrees
                pitch, roll = (math.radians(one) for one in self._readings)
                if math.sin(pitch) ** 2 + math.sin(roll) ** 2 < 0.95:
                    self.tilt(Attitude.from_inclinometer(pitch, roll))

            return moved

        for which, title, high in (
            (0, "pitch: left end nose down, right end nose up", 0.18),
            (1, "roll: left end left side down, right end right side down", 0.06),
        ):
            self.plotter.add_slider_widget(
                move(which), (-_STEEPEST, _STEEPEST), value=self._readings[which], title=title,
                pointa=(0.25, high), pointb=(0.75, high), fmt="%.1f°", title_height=0.018,
                style="modern",
            )  # fmt: skip


def _turned(up: NDArray[np.float64]) -> NDArray[np.float64]:
    """The matrix (4, 4) that sets ``up`` upright and keeps the nose in its upright plane."""
    ahead = np.array([1.0, 0.0, 0.0]) - up[0] * up
    if np.linalg.norm(ahead) < 1e-9:  # standing on its nose or tail
        ahead = np.array([0.0, 1.0, 0.0]) - up[1] * up
    ahead /= np.linalg.norm(ahead)
    found = np.eye(4)
    found[:3, :3] = [ahead, np.cross(up, ahead), up]
    return found
