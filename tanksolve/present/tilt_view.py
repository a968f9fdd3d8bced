"""A tank while it is tilted: pictures of the pools one after another, as an animation where there is no window."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tanksolve.errors import OutputError
from tanksolve.files import write_whole
from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.present.document import (
    Column,
    Document,
    Fact,
    Quantity,
    Sure,
    Table,
    Verdict,
    say,
    slope,
)
from tanksolve.present.understood import TANK_CAUTIONS, Inputs
from tanksolve.questions.level.pools import PoolsAt, pools
from tanksolve.record import as_plain

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["Tilted", "save_tilt", "tilt_steps", "view_document"]

_SIDES = tuple(math.radians(heading) for heading in (0.0, 180.0, 270.0, 90.0))
_AROUND = math.radians(20.0)  # how far each side is tilted where no attitude is given
_DPI = 80
_FRAME, _LAST = 160, 1500  # ms
_MOST = 200  # pictures of an animation
_ONE_ROUTE = (
    "walls part the liquid: drawn is what a drive straight from level ground leaves, and another may leave "
    "it elsewhere; limits and marks rest on the worst of any"
)


@dataclass(frozen=True)
class Tilted:
    """What is shown: tank and ports in machine axes, and how much liquid [m³]."""

    tank: Tank
    ports: tuple[Port, ...]
    volume: float
    note: str = ""

    def at(self, attitude: Attitude) -> PoolsAt:
        """The liquid carried straight from level ground to an attitude."""
        return pools(self.tank, self.volume, attitude, self.ports)


def tilt_steps(attitude: Attitude | None, frames: int) -> list[list[Attitude]]:
    """Attitudes of each movement, from level ground outwards: to the one given, or to each side in turn.

    Each begins at level ground anew, since on the way back walls may hold liquid elsewhere. Raises
    OutputError for fewer than two pictures or more than 200.
    """
    if not 2 <= frames <= _MOST:
        raise OutputError(
            f"{frames} pictures make no animation", where="--frames", allowed=f"2 to {_MOST}"
        )
    if attitude is not None:
        ends, each = [(attitude.slope, attitude.heading)], frames
    else:
        ends, each = [(_AROUND, heading) for heading in _SIDES], max(2, frames // 4)
    return [
        [Attitude.from_slope(steep * k / (each - 1), heading) for k in range(each)]
        for steep, heading in ends
    ]


def save_tilt(tilted: Tilted, movements: Sequence[Sequence[Attitude]], path: Path) -> None:
    """Write the movements as an animated GIF that goes on and on. Raises OutputError."""
    pictures, times = [], []
    for movement in movements:
        for k, attitude in enumerate(movement, start=1):
            pictures.append(_picture(tilted, attitude))
            times.append(_LAST if k == len(movement) else _FRAME)
    first, *others = pictures
    write_whole(
        path,
        lambda part: first.save(
            part, format="GIF", save_all=True, append_images=others, duration=times, loop=0
        ),
    )


def _picture(tilted: Tilted, attitude: Attitude) -> "Image":
    """The tank as glass at one attitude, with few colours, as a GIF has them."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    from tanksolve.present.solid_view import solid_figure

    figure = solid_figure(tilted.tank, tilted.at(attitude), tilted.ports, note=tilted.note)
    figure.set_dpi(_DPI)
    canvas: Any = FigureCanvasAgg(figure)  # untyped
    canvas.draw()
    whole = Image.frombuffer("RGBA", canvas.get_width_height(), canvas.buffer_rgba())
    return whole.convert("RGB").quantize(128)


def view_document(inputs: Inputs, tilted: Tilted, settled: PoolsAt) -> Document:
    """What stands where in the picture of one attitude."""
    attitude = Attitude(settled.up)
    steep = attitude.slope > math.radians(0.05)
    count = len(settled.pools)
    return Document(
        "view",
        "What does the tank look like when it is tilted?",
        Verdict.TOLD,
        say(
            "{volume} at {slope}, {side}, carried straight from level ground, stand in "
            + (f"{count} pools" if count > 1 else "one pool"),
            volume=Quantity(settled.volume_m3, "volume"),
            slope=slope(attitude.slope),
            side=heading_words(attitude.heading) if steep else "level ground",
        ),
        facts=tuple(_port_facts(settled)),
        tables=[_pools(settled)],
        cautions=(
            *inputs.cautions(),
            *(() if tilted.tank.is_convex else (_ONE_ROUTE,)),
            *TANK_CAUTIONS,
        ),
        understood=inputs.facts(),
        data=as_plain(settled),
    )


def _port_facts(settled: PoolsAt) -> Iterator[Fact]:
    """Each port against its own pool."""
    for port in settled.ports:
        state = "covered" if port.covered else "partly covered" if port.wet else "dry"
        kept = "its rule is kept by" if port.holds else "its rule is broken by"
        margin = Quantity(abs(port.margin_m), "length", "down" if port.holds else "up")
        yield Fact(port.name, say(f"{state}; {kept} {{margin}}", margin=margin), Sure.SOLVED)


def _pools(settled: PoolsAt) -> Table:
    columns = (Column("pool"), Column("holds", "volume"), Column("ports in or over it"))
    rows = [
        (str(k), pool.volume_m3, ", ".join(pool.ports) or "none")
        for k, pool in enumerate(settled.pools, start=1)
    ]
    return Table("", columns, rows)
