"""Tanks and drives on which limits once told were false, written out small [m, degrees].

Found by ``campaign_routes.py`` on limits from sampled ways. Liquid is carried along each drive; an
attitude of it at which a port gives out must never be within the limits told.
"""

from typing import NamedTuple

from random_walled_tanks import Case, cup

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, notch, slot
from tanksolve.geometry.internals import block, rib
from tanksolve.geometry.parts import box
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, breather, pickup

__all__ = ["DRIVES", "LostDrive"]


class LostDrive(NamedTuple):
    """A tank, its ports and fill, where it was filled, and the drive.

    Attributes
    ----------
    poured : places (S, 3) [m] and shares; none for all bays at one level.
    turns : slope and heading [°] where the drive turns, from level ground on.
    """

    parts: Parts
    ports: tuple[Port, ...]
    fill: Fill
    poured: tuple[tuple[tuple[float, float, float], float], ...]
    turns: tuple[tuple[float, float], ...]

    def case(self, name: str) -> Case:
        return Case(name, build(self.parts), self.ports, self.fill, name)


_FLAP = (slot(0.076, 0.04, (0.096, 0.118), flap="forward"),)
_DOOR = (notch("bottom", 0.191, 0.064, 0.03, flap="rearward"),)
_SHELL = box(0.772, 0.27, 0.284)

DRIVES = {
    "two bays": LostDrive(  # told 50 to 55 degrees there; 16 mm short at 50
        Parts(box(1.0, 0.4, 0.4), baffles=(Baffle("w", "across", 0.5, 0.004, gaps={"top": 0.2}),)),
        (pickup("p", (0.55, 0.2, 0.02)),),
        Fill(0.05, 0.05),
        (((0.0, 0.4, 0.0), 0.8), ((0.504, 0.4, 0.0), 0.2)),
        ((35.036, 117.026), (54.848, 297.816), (50.256, 43.538)),
    ),
    "a flap over a slot": LostDrive(  # told 20 degrees; the breather 9 mm under
        Parts(
            box(0.632, 0.24, 0.245),
            baffles=(Baffle("w", "across", 0.251, 0.004, cuts=_FLAP, gaps={"top": 0.097}),),
        ),
        (pickup("p", (0.137, 0.114, 0.001), cover=0.008), breather("b", (0.542, 0.009, 0.222))),
        Fill(0.015, 0.0183),
        (((0.255, 0.0, 0.0), 0.892736), ((0.0, 0.24, 0.0), 0.107264)),
        ((33.423, 12.337), (33.137, 211.921), (20.0, 150.0)),
    ),
    "a cup and a door": LostDrive(  # told 10.06 degrees; 9 mm short
        Parts(
            _SHELL,
            baffles=(
                Baffle("w", "across", 0.501, 0.004, turn=0.033, cuts=_DOOR, gaps={"top": 0.03}),
            ),
            internals=(
                *cup("cup", (0.055, 0.064, 0.0), (0.376, 0.21, 0.083)),
                block("d", (0.246, 0.158, 0.118), 0.168, 0.143, 0.126),
                rib("sill", "floor", "across", 0.62, 0.083, 0.004, _SHELL),
            ),
        ),
        (pickup("p", (0.055, 0.01, 0.038), cover=0.005),),
        Fill(0.0159, 0.0159),
        (),
        ((12.556, 289.962), (52.67, 96.189), (21.178, 101.942), (4.966, 180.0), (10.064, 180.0)),
    ),
}
