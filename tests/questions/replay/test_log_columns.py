import math

import numpy as np
import pytest

from tanksolve.errors import FileFormatError, QuantityError
from tanksolve.questions.replay.log_columns import find_columns

ROWS = [["0", "1", "2", "3"]]


def columns(*header: str, **options: object):
    return find_columns(list(header), ROWS, "day.csv, line 1", **options)


@pytest.mark.parametrize(
    ("title", "expected"),
    [
        ("pitch_deg", math.radians(10)),
        ("Pitch [deg]", math.radians(10)),
        ('"Pitch (°)"', math.radians(10)),
        ("pitch_rad", 10.0),
        ("pitch %", math.atan(0.1)),
        ("PITCH (percent)", math.atan(0.1)),
        ("pitch_nose_down_deg", -math.radians(10)),
        ("pitch nose-down (%)", -math.atan(0.1)),
        ("pitch_nose_up_deg", math.radians(10)),
    ],
)
def test_pitch_is_read_with_its_unit_and_sign(title: str, expected: float) -> None:
    found = columns("time_s", title)["pitch"]
    assert found.position == 1
    assert found.to_si(np.array([10.0]))[0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("title", "quantity", "expected"),
    [
        ("time_ms", "time", 0.010),
        ("t [min]", "time", 600.0),
        ("roll_left_down_deg", "roll", -math.radians(10)),
        ("ax_g", "forward", 98.0665),
        ("acc_y (m/s^2)", "left", 10.0),
        ("fill_L", "fill", 0.010),
        ("Fuel volume (gal)", "fill", 0.03785411784),
        ("alt_ft", "elevation", 3.048),
        ("distance_km", "distance", 10000.0),
        ("heading (deg)", "heading", math.radians(10)),
    ],
)
def test_other_quantities(title: str, quantity: str, expected: float) -> None:
    assert columns(title)[quantity].to_si(np.array([10.0]))[0] == pytest.approx(expected, rel=1e-12)


def test_options_name_columns_units_and_signs() -> None:
    found = columns(
        "Zeit",
        "Inc1",
        "pitch",
        names={"time": "Zeit", "roll": "Inc1"},
        units={"time": "s", "roll": "deg", "pitch": "%"},
        reversed_signs=frozenset({"roll"}),
    )
    assert {q: c.position for q, c in found.items()} == {"time": 0, "roll": 1, "pitch": 2}
    assert found["roll"].to_si(np.array([10.0]))[0] == pytest.approx(-math.radians(10))


def test_columns_about_other_things_are_passed_over() -> None:
    found = columns("time_s", "Fuel (%)", "oil [bar]", "height [mm]")
    assert set(found) == {"time"}


def test_dates_and_times_need_no_unit() -> None:
    rows = [["2026-05-01T10:00:00Z", "1"]]
    assert find_columns(["timestamp", "pitch_deg"], rows, "x")["time"].is_stamp


@pytest.mark.parametrize(
    ("header", "options", "message"),
    [
        (("time_s", "pitch"), {}, "'pitch' has no unit"),
        (("time", "pitch_deg"), {}, "'time' has no unit"),
        (("pitch_deg", "Pitch [deg]"), {}, "both look like pitch"),
        (("time_s",), {"names": {"pitch": "Inc1"}}, "no column is called 'Inc1'"),
        (("time_s",), {"units": {"yaw": "deg"}}, "'yaw' is not a quantity"),
    ],
)
def test_doubt_is_refused(
    header: tuple[str, ...], options: dict[str, object], message: str
) -> None:
    with pytest.raises(FileFormatError, match=message):
        columns(*header, **options)


def test_a_unit_of_another_kind_is_refused() -> None:
    with pytest.raises(QuantityError, match="column 'pitch \\[kg\\]'"):
        columns("pitch [kg]")
