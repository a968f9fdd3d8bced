"""Envelopes made up for the tests of pictures and tables: no tank is solved here."""

import math
from collections.abc import Callable

import numpy as np

from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.model.liquid import Fill
from tanksolve.questions.compare import Comparison, Contender
from tanksolve.questions.envelope.edge import edge_of
from tanksolve.questions.envelope.envelope import Envelope, Island, Limit
from tanksolve.questions.envelope.map import MarginMap

SEARCHED = 60.0


def limit_at(heading: float, slope: float | None, port: str) -> Limit:
    held = SEARCHED if slope is None else slope - 0.02
    grade = math.floor(1000.0 * math.tan(math.radians(held))) / 10.0
    limited = slope is not None
    return Limit(heading, slope, held, grade, port if limited else None, limited)


class MadeProver:
    """Proves of a cell what ``slope_of`` says at headings all through it."""

    def __init__(self, slope_of: Callable[[float], float | None]) -> None:
        self.most = np.vectorize(lambda k: slope_of(k % 360.0) or SEARCHED, otypes=[float])

    def held(self, up: np.ndarray) -> np.ndarray:
        slope, heading = np.degrees(slope_heading_from_up(up))
        return (slope <= self.most(heading))[:, None]

    def held_over(self, cells: np.ndarray) -> np.ndarray:
        _, outer, start, end = np.degrees(cells).T
        least = self.most(np.linspace(start, end, 17)).min(axis=0)
        return np.asarray(outer <= least)


def made_envelope(
    slope_of: Callable[[float], float | None],
    port_of: Callable[[float], str] = lambda heading: "suction",
    *,
    name: str = "demo tank",
    fill: Fill | None = None,
    ok_at_level: bool = True,
    islands: tuple[Island, ...] = (),
) -> Envelope:
    """Make an envelope whose limit at heading k [°] is ``slope_of(k)``, set by ``port_of(k)``."""
    limits = tuple(limit_at(k, slope_of(k), port_of(k)) for k in np.arange(0.0, 360.0, 5.0))
    worst = min(limits, key=lambda limit: limit.held_to_deg)
    by_heading = {limit.heading_deg: limit.slope_deg for limit in limits}
    ports = tuple(sorted({limit.port for limit in limits if limit.port})) or ("suction",)
    readings = np.linspace(-SEARCHED, SEARCHED, 61)
    pitch, roll = np.meshgrid(readings, readings, indexing="ij")
    heading = np.degrees(np.arctan2(roll, pitch)) % 360.0
    edge = np.vectorize(lambda k: slope_of(k) or 1.2 * SEARCHED)(heading)
    real = np.abs(pitch) + np.abs(roll) <= 90.0
    port = np.vectorize(lambda k: ports.index(port_of(k)) if port_of(k) in ports else 0)(heading)
    return Envelope(
        tank=name,
        capacity_m3=0.081,
        fill=fill or Fill(0.03, 0.042),
        ok_at_level=ok_at_level,
        limits=limits,
        worst=worst,
        nose_up=by_heading[0.0],
        nose_down=by_heading[180.0],
        left_down=by_heading[270.0],
        right_down=by_heading[90.0],
        islands=islands,
        searched_to_deg=SEARCHED,
        tolerance_deg=0.05,
        margin_at_level_m=0.05 if ok_at_level else -0.01,
        make_map=lambda: MarginMap(
            readings,
            readings,
            np.where(real, 0.003 * (edge - np.hypot(pitch, roll)), np.nan),
            np.where(real, port, -1),
            ports,
            np.stack(
                [
                    np.where(real, np.where(port == k, 1.0, -1.0), np.nan)
                    for k, _ in enumerate(ports)
                ]
            ),
        ),
        walls_may_part=False,
        make_edge=lambda: edge_of(
            limits,
            worst,
            MadeProver(slope_of),
            lambda more: [limit_at(k, slope_of(k), port_of(k)) for k in np.degrees(more)],
        ),
    )


def by_side(heading: float) -> str:
    """Four ports, one for each side."""
    names = ("suction", "breather", "filler neck", "second pickup")
    return names[int((heading + 45.0) % 360.0 // 90.0)]


def lopsided(heading: float) -> float | None:
    """Held to 20 degrees nose down, more elsewhere, and without limit near nose up."""
    if math.cos(math.radians(heading)) > 0.5:
        return None
    return 34.0 + 14.0 * math.cos(math.radians(heading))


SHAPES: dict[str, Envelope] = {
    "round": made_envelope(lambda k: 22.0),
    "lopsided": made_envelope(lopsided),
    "four ports": made_envelope(lambda k: 30.0 + 5.0 * math.cos(math.radians(3 * k)), by_side),
    "nearly nothing": made_envelope(lambda k: 1.2 + 0.3 * math.sin(math.radians(k)), by_side),
    "without limit": made_envelope(lambda k: None),
    "lost on level ground": made_envelope(lambda k: 0.021, ok_at_level=False),
    "islands": made_envelope(lambda k: 15.0, islands=(Island(180.0, 31.0, 44.0),)),
    "long name": made_envelope(
        lambda k: 17.0,
        lambda k: "second pickup by the rear baffle",
        name="auxiliary hydraulic tank, right hand side, revision C",
        fill=Fill(0.0423456, 0.0799),
    ),
}


def made_comparison(count: int = 3) -> Comparison:
    """Contenders with overlapping lines, best first."""
    found = [
        made_envelope(
            lambda k, n=n: max(8.0, 32.0 - 5 * n) + 6.0 * math.cos(math.radians(k - 90 * n))
        )
        for n in range(count)
    ]
    return Comparison(
        tuple(
            Contender(f"place {n + 1}", n + 1, e.worst.held_to_deg, e.worst.held_to_deg + 3.0, e)
            for n, e in enumerate(found)
        )
    )
