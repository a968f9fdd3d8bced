"""One system of units for an answer: what was typed decides, and bounds are rounded to their side."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tanksolve.unit_systems import (
    IMPERIAL,
    METRIC,
    SYSTEMS,
    US,
    current,
    tape_words,
    told,
    typed_system,
    using,
)
from tanksolve.units import length_words, parse, vacuum_words, volume_words

KINDS = sorted(METRIC.units)
PARSED = {"length", "volume", "flow", "pressure", "temperature", "density", "mass", "speed"}


@pytest.mark.parametrize(
    ("texts", "system", "volume"),
    [
        (["900x300x300mm", "42L"], "metric", "L"),
        (["36x12x12in", "11gal"], "us", "US gal"),
        (["36inx12inx12in"], "us", "US gal"),
        (["36x12x12in", "9 imperial gal"], "imperial", "imperial gal"),
        (["900x300x300mm", "9imperial_gallon"], "metric", "imperial gal"),
        (["36x12x12in", "40L"], "us", "L"),
        (["suction=1,6,1.5in,bore=1.5in"], "us", "US gal"),
        (["11gal"], "us", "US gal"),
        (["450mL"], "metric", "mL"),
        (["5psi"], "us", "US gal"),
        (["10deg", "mesh/2m.stl", "box4in.toml"], "metric", "L"),
        ([], "metric", "L"),
    ],
)
def test_the_system_is_that_of_what_was_typed(texts, system, volume):
    found = typed_system(texts)
    assert (found.name, found.units["volume"].symbol) == (system, volume)


@pytest.mark.parametrize(
    ("tank", "asked", "system", "volume"),
    [
        (["900 mm", "40 L"], ["1.5in,5ft", "16gpm"], "metric", "L"),
        (["40 L"], ["1.5in,5ft"], "metric", "L"),
        ([], ["60L/min", "1.5in,1.5m"], "metric", "L"),
        ([], ["12in", "60L/min"], "us", "L"),
        ([], ["5inHg", "38mm,1.5m"], "us", "US gal"),
        (["900 mm"], ["11gal"], "metric", "US gal"),
    ],
)
def test_the_tank_rules_and_without_one_what_was_typed_first(tank, asked, system, volume):
    found = typed_system(tank, asked)
    assert (found.name, found.units["volume"].symbol) == (system, volume)


def test_every_system_has_a_unit_for_every_kind():
    for system in SYSTEMS.values():
        assert sorted(system.units) == KINDS


@pytest.mark.parametrize("system", SYSTEMS.values(), ids=SYSTEMS)
@pytest.mark.parametrize("kind", sorted(PARSED))
@given(value=st.floats(1e-3, 300.0))
def test_what_is_told_reads_back_within_its_rounding(system, kind, value):
    unit = system.units[kind]
    words = told(value, kind, system=system).replace("US gal", "gal")
    words = words.replace("imperial gal", "imperial_gallon").replace("lbf", "lb")
    assert parse(words, kind) == pytest.approx(value, abs=0.51 * unit.size * 10.0**-unit.digits)


@pytest.mark.parametrize("system", SYSTEMS.values(), ids=SYSTEMS)
@pytest.mark.parametrize("kind", KINDS)
@given(value=st.floats(-300.0, 300.0))
def test_bounds_stay_on_their_side(system, kind, value):
    unit = system.units[kind]
    number = re.compile(r"-?[\d.]+")
    down, up = (
        float(number.match(told(value, kind, side, system))[0]) * unit.size + unit.zero
        for side in ("down", "up")
    )
    hair = 1.1e-6 * unit.size * 10.0**-unit.digits + 1e-12 * abs(value)
    assert down <= value + hair
    assert up >= value - hair


@given(metres=st.floats(-2.0, 2.0), side=st.sampled_from(["up", "down"]))
def test_sixteenths_stay_on_their_side(metres, side):
    with using(US):
        words = tape_words(metres, side)
    fraction = words.split(" in (")[0]
    size = sum(
        float(part.split("/")[0]) / float(part.split("/")[1]) if "/" in part else float(part)
        for part in fraction.lstrip("-").split()
    )
    inches = -size if fraction.startswith("-") else size
    off = inches - metres / 0.0254
    assert (0.0 if side == "up" else -0.0625) - 1e-6 <= off
    assert off <= (0.0625 if side == "up" else 0.0) + 1e-6
    assert f"({told(metres, 'length', side, US)})" in words


def test_a_tape_in_words():
    with using(US):
        assert tape_words(0.1, "up") == "3 15/16 in (3.94 in)"
        assert tape_words(0.1, "down") == "3 7/8 in (3.93 in)"
        assert tape_words(0.0635) == "2 1/2 in (2.50 in)"
    assert tape_words(0.1) == "100.0 mm"


def test_a_system_is_in_force_for_a_block_only():
    assert current() is METRIC
    with using(IMPERIAL):
        assert length_words(0.0254) == "1.00 in"
        assert volume_words(4.54609e-3) == "1.00 imperial gal"
        assert vacuum_words(-3386.38) == "1.00 inHg above the atmosphere"
    assert length_words(0.0254) == "25.4 mm"
    assert told(math.radians(10.0), "angle", system=US) == "10.0°"
