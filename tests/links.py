"""Flaps and balance pipes made by hand for the tests, from corners and centre lines [m]."""

import numpy as np

from tanksolve.model.link import Link, pipe, stations_of
from tanksolve.model.link import corners as outline_of

HAIR = 1e-5


def flap(near, far, corners, forward=True):
    """A flap across x, in a plate from x = near to x = far, over corners (y, z) of its opening."""
    corners = np.asarray(corners, float)
    inward = corners + 1e-3 * (corners.mean(axis=0) - corners)

    def outline(x):
        return outline_of([(x, y, z) for y, z in corners])

    stations = (outline(near), outline(far))
    mouths = tuple(
        np.column_stack([np.full(len(corners), x), inward]) for x in (near - HAIR, far + HAIR)
    )
    if not forward:
        stations, mouths = stations[::-1], mouths[::-1]
    return Link("flap", "flap", "forward" if forward else "rearward", stations, mouths)


def square(low, high):
    """Corners (y, z) of a rectangular opening."""
    return [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]


def balance_pipe(run, bore=0.05):
    return pipe("pipe", run, bore, HAIR)


def arrays_of(*links):
    return stations_of(links)
