"""Results as data: sent to other processes, compared, told short, as tables; and wrong calls are told."""

import json
import pickle
import subprocess
import sys
import typing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import tanksolve
from tanksolve import (
    Fill,
    Requirement,
    TanksolveError,
    box,
    breather,
    compare,
    dip,
    envelope,
    level,
    marks,
    pickup,
    place,
    pools,
    smallest,
)
from tanksolve.model.ports import PortOptions

ROOT = Path(__file__).resolve().parents[1]
TANK = box(0.9, 0.3, 0.3)
PORTS = [pickup("suction", (0.45, 0.15, 0.04), bore=0.038, facing="down")]
FIVE = Requirement.every_heading(np.radians(5.0))
MAKE = {
    "envelope": lambda: envelope(TANK, PORTS, 0.042, every_deg=90.0, search_to_deg=30.0),
    "marks": lambda: marks(TANK, PORTS, FIVE),
    "level": lambda: level(TANK, fill=0.042, ports=PORTS),
    "pools": lambda: pools(TANK, fill=0.042, ports=PORTS),
    "dip": lambda: dip(TANK, 0.1),
    "place": lambda: place(TANK, PORTS[0], 0.042, FIVE, tolerance_deg=1.0),
    "smallest": lambda: smallest(TANK, PORTS, FIVE, "height", fill=Fill.of(0.042)),
}


@pytest.fixture(scope="module")
def made():
    return {name: (make(), make()) for name, make in MAKE.items()}


@pytest.mark.parametrize("name", MAKE)
def test_a_result_is_a_value(made, name):
    one, other = made[name]
    assert one == other
    assert hash(one) == hash(other)
    assert pickle.loads(pickle.dumps(one)) == one
    assert one != "nothing"
    assert len(repr(one)) < 260
    assert "\n" not in repr(one)
    json.dumps(one.to_dict(), allow_nan=False)
    assert one._repr_html_().startswith("<p>&lt;")


def test_a_result_that_differs_is_not_equal(made):
    one = made["envelope"][0]
    assert replace(one, capacity_m3=1.0) != one
    assert one != made["marks"][0]


def test_what_is_worked_out_late_survives_the_way(made):
    limits = made["envelope"][0]
    back = pickle.loads(pickle.dumps(limits))
    assert np.array_equal(back.map.margin_m, limits.map.margin_m, equal_nan=True)


def test_arrays_have_nan_where_nothing_limits():
    shallow = envelope(TANK, PORTS, 0.042, every_deg=90.0, search_to_deg=5.0)
    assert list(shallow.headings_deg) == [0.0, 90.0, 180.0, 270.0]
    assert np.isnan(shallow.slopes_deg).all()
    assert (shallow.held_to_deg == 5.0).all()


def test_a_table_for_pandas(made):
    limits = made["envelope"][0]
    table = limits.to_dataframe()
    assert list(table["heading_deg"]) == list(limits.headings_deg)
    assert np.allclose(table["slope_deg"].astype(float), limits.slopes_deg, equal_nan=True)
    assert len(made["dip"][0].to_dataframe()) == len(made["dip"][0].rows)
    assert len(made["smallest"][0].to_dataframe()) == 1


def test_without_pandas_the_way_out_is_told(made, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(TanksolveError, match="pip install pandas"):
        made["dip"][0].to_dataframe()


WRONG = {
    "a port alone": lambda: envelope(TANK, PORTS[0], 0.042),
    "names for ports": lambda: envelope(TANK, ["suction"], 0.042),
    "a text for a number": lambda: box("900mm", 0.3, 0.3),
    "a text for a slope": lambda: envelope(TANK, PORTS, 0.042, search_to_deg="60deg"),
    "no fill": lambda: envelope(TANK, PORTS, None),
    "a pair for a fill": lambda: envelope(TANK, PORTS, (0.03, 0.042)),
    "no tank": lambda: level(None, 0.042),
    "a file for a tank": lambda: level("tank.stl", 0.042),
    "two coordinates": lambda: pickup("suction", (0.45, 0.15)),
    "coordinates as texts": lambda: breather("cap", ("450mm", "150mm", "290mm")),
    "an unknown keyword": lambda: pickup("suction", (0.45, 0.15, 0.04), diameter=0.038),
    "an unknown option": lambda: envelope(TANK, PORTS, 0.042, slope=15.0),
    "too few": lambda: envelope(TANK),
    "an old name": lambda: level(TANK, volume=0.042),
    "a text for a bore": lambda: pickup("suction", (0.45, 0.15, 0.04), bore="38mm"),
    "ports for contenders": lambda: compare(PORTS, 0.042),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_call_is_told_in_words(name):
    with pytest.raises(TanksolveError) as caught:
        WRONG[name]()
    assert len(caught.value.message) < 600
    assert caught.value.allowed or caught.value.next_step


def test_an_error_keeps_its_parts_in_another_process():
    with pytest.raises(TanksolveError) as caught:
        envelope(TANK, PORTS, 99.0)
    back = pickle.loads(pickle.dumps(caught.value))
    assert type(back) is type(caught.value)
    assert (back.message, back.allowed) == (caught.value.message, caught.value.allowed)


FORKED = """
import multiprocessing, sys
from tanksolve import box, envelope, level, pickup
tank, ports = box(0.9, 0.3, 0.3), [pickup("s", (0.45, 0.15, 0.04))]
if sys.argv[1] == "before":
    envelope(tank, ports, 0.042, every_deg=90.0, search_to_deg=20.0)
with multiprocessing.get_context("fork").Pool(1) as pool:
    done = pool.apply_async(level, (tank, 0.042))
    try:
        print("depth", round(done.get(60).depth_m, 4))
    except Exception as error:
        print(type(error).__name__, error)
"""


@pytest.mark.skipif(not hasattr(__import__("os"), "fork"), reason="no fork on this system")
@pytest.mark.parametrize(("when", "says"), [("before", "spawn"), ("never", "depth 0.1556")])
def test_a_pool_forked_after_a_call_is_refused_and_does_not_hang(when, says):
    done = subprocess.run(
        [sys.executable, "-c", FORKED, when],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert says in done.stdout, done.stdout + done.stderr


def test_ports_keep_their_keywords_for_an_editor():
    kept = typing.get_type_hints(PortOptions)
    assert {"bore", "facing", "length", "rule", "cover", "flow"} == set(kept)
    assert "fill" in tanksolve.level.__wrapped__.__annotations__
