"""Orifice flow Q = Cd a sqrt(2 g h): N. Midoux p. 51 gives Cd near 0.6 (powderprocess.net); 0.61 here."""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.pump.crossflow import drain_time, equalising_time, head_for_flow, orifice_flow

HOLES = 20e-4


def test_head_for_60_litres_per_minute() -> None:
    head = head_for_flow(HOLES, 0.001)
    assert head == pytest.approx(0.0342554, abs=5e-8)
    assert orifice_flow(HOLES, head) == pytest.approx(0.001, rel=1e-12)


def test_two_bays_equalise() -> None:
    assert equalising_time(0.3, 0.3, HOLES, 0.1) == pytest.approx(17.5584, abs=5e-5)


def test_a_bay_drains() -> None:
    assert drain_time(0.3, HOLES, 0.4) == pytest.approx(70.2338, abs=5e-5)


def beside() -> Iterator[Beside]:
    yield Beside("head for 60 L/min through 20 cm²", 0.0342554, head_for_flow(HOLES, 0.001), "m")
    ours = equalising_time(0.3, 0.3, HOLES, 0.1)
    yield Beside("two bays of 0.3 m² level 0.1 m through 20 cm²", 17.5584, ours, "s")
