"""Cover that a pump's flow asks for over a mouth that is not round."""

import math
from dataclasses import replace

import pytest

from tanksolve.model.ports import pickup
from tanksolve.present.cover_cautions import cover_cautions

RIM = ((0.035, 0.005, 0.0), (-0.035, 0.005, 0.0), (-0.035, -0.005, 0.0), (0.035, -0.005, 0.0))


def test_a_slot_is_told_of_the_speed_through_its_own_area():
    """S = D (1 + 2.3 Fr) of the circle of 7 cm² is more than 2 x 70.7 mm; of the circle round it, it is less."""
    disc = pickup("p", (0.25, 0.2, 0.13), bore=0.0707, facing="down", flow=1e-3)
    slot = replace(disc, rim=RIM)
    assert list(cover_cautions([disc])) == []
    (told,) = cover_cautions([slot])
    across = math.sqrt(4.0 * 7e-4 / math.pi)
    advised = across + 2.3 * (1e-3 / 7e-4) * math.sqrt(across / 9.80665)
    assert told.values["advised"].value == pytest.approx(advised, rel=1e-4)
    assert advised > 2.0 * 0.0707


def test_a_slow_flow_asks_for_what_the_circle_round_a_mouth_does():
    slot = replace(
        pickup("p", (0.25, 0.2, 0.13), bore=0.0707, facing="down", flow=1e-6, cover=0.0), rim=RIM
    )
    (told,) = cover_cautions([slot])
    assert told.values["advised"].value == pytest.approx(0.0707, rel=1e-2)
