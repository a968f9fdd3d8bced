"""Pressure of the still air at an altitude."""

import math

from tanksolve.errors import LineError
from tanksolve.unit_systems import stated

__all__ = ["atmospheric_pressure"]

_EARTH_RADIUS = 6356766.0  # m, US Standard Atmosphere 1976, part 1.2.4


def atmospheric_pressure(altitude: float) -> float:
    """Pressure [Pa] of the US Standard Atmosphere 1976 at an altitude [m] above the sea.

    The altitude is taken as geopotential; a map's height taken so gives the lower pressure by a
    hair (12 Pa at 3000 m). The ``fluids`` library computes it from geometric height.
    Weather moves the real pressure by some 3 %. Raises LineError outside -400 to 9000 m.
    """
    from fluids import ATMOSPHERE_1976

    if not (math.isfinite(altitude) and -400.0 <= altitude <= 9000.0):
        raise LineError(
            f"an altitude of {stated(altitude, 'distance')} is not on land",
            allowed=stated((-400.0, 9000.0), "distance", " to "),
            next_step="check the unit of the altitude",
        )
    geometric = _EARTH_RADIUS * altitude / (_EARTH_RADIUS - altitude)
    return float(ATMOSPHERE_1976(geometric).P)
