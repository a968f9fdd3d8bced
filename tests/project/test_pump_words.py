import math

import pytest

from tanksolve.errors import (
    AttitudeError,
    FillError,
    LineError,
    LiquidError,
    QuantityError,
    TanksolveError,
)
from tanksolve.model.attitude import GRAVITY
from tanksolve.project.liquid_words import (
    parse_line,
    parse_liquid,
    parse_part,
    parse_pump,
    parse_strainer,
)
from tanksolve.project.motion_words import parse_attitude, parse_hose, parse_manoeuvre, parse_ram


def test_liquids_by_name_and_by_figures() -> None:
    assert parse_liquid("vg46").name == "ISO VG 46"
    own = parse_liquid(None, "46cSt@40C,6.8cSt@100C", "870kg/m3@20C", "0.4kPa@40C,101kPa@170C")
    assert own.viscosity(313.15) == pytest.approx(46e-6)
    assert own.density(293.15) == pytest.approx(870.0)
    assert own.vapour_pressure(313.15) == pytest.approx(400.0)
    assert parse_liquid("mine", "46cSt@104F,6.8cSt@100C", "0.87kg/L").density(288.15) == (
        pytest.approx(870.0)
    )


def test_lines_in_order_with_counted_fittings() -> None:
    line = parse_line(["50.8mm,0.5m,drop tube", "1.5in,3ft,2 elbow,gate valve,K=0.3"])
    assert [s.bore for s in line.sections] == pytest.approx([0.0508, 0.0381])
    assert [s.length for s in line.sections] == pytest.approx([0.5, 0.9144])
    assert [f.name for f in line.sections[1].fittings] == ["elbow", "elbow", "gate valve", "K=0.3"]


def test_strainers_and_pump_limits() -> None:
    strainer = parse_strainer("3kPa@60L/min@46cSt", "25%")
    assert strainer.drop(0.001, 46e-6) == pytest.approx(3000 / 0.75**2)
    assert parse_strainer("3kPa@60L/min", "0%").viscosity == 32e-6
    assert "common practice" in parse_pump().source
    both = parse_pump("5inHg", "90kPa", "2m")
    assert both.least_pressure_pa == 90e3
    assert both.npsh_required_m == 2.0
    assert parse_pump("3inHg", "80kPa").least_pressure_pa == pytest.approx(91166, abs=1)
    assert parse_part("25%", "x") == 0.25


@pytest.mark.parametrize(
    ("text", "push"),
    [
        ("brake 0.4g", (-0.4 * GRAVITY, 0, 0)),
        ("accelerate 2m/s2", (2, 0, 0)),
        ("corner left 8m/s 20m", (0, 3.2, 0)),
        ("corner right 28.8km/h 20m", (0, -3.2, 0)),
    ],
)
def test_manoeuvres(text: str, push: tuple[float, float, float]) -> None:
    assert parse_manoeuvre(text).acceleration_m_s2 == pytest.approx(push)


def test_a_manoeuvre_on_a_slope() -> None:
    found = parse_manoeuvre("accelerate 2m/s2 on 15deg")
    assert math.degrees(found.effective.slope) == pytest.approx(25.5985, abs=5e-5)
    assert found.name == "accelerate 0.20 g on 15deg"
    assert math.degrees(parse_attitude("10%,-5deg").inclinometer[1]) == pytest.approx(-5.0)


@pytest.mark.parametrize(
    ("text", "pitch", "roll"),
    [
        ("10deg", 10.0, 0.0),
        ("slope=9deg,heading=90deg", 0.0, 9.0),
        ("slope=9deg,heading=180deg", -9.0, 0.0),
        ("nose_down=10deg,left_down=3deg", -10.0, -3.0),
        ("right_down=3deg", 0.0, 3.0),
        ("pitch=10deg,roll=-5deg", 10.0, -5.0),
    ],
)
def test_an_attitude_in_any_of_its_words(text: str, pitch: float, roll: float) -> None:
    found = [math.degrees(angle) for angle in parse_attitude(text).inclinometer]
    assert found == pytest.approx([pitch, roll], abs=1e-9)


@pytest.mark.parametrize(
    "text", ["slope=9deg,pitch=3deg", "nose_up=1deg,pitch=2deg", "pitch=1deg,pitch=2deg", "x=3deg"]
)
def test_an_attitude_said_twice_or_at_odds_is_refused(text: str) -> None:
    with pytest.raises(AttitudeError, match="allowed: 15deg,-5deg"):
        parse_attitude(text)


def test_rams_and_hoses() -> None:
    ram = parse_ram("80,40,500mm,x2,single")
    assert (ram.bore, ram.rod, ram.stroke, ram.count) == pytest.approx((0.08, 0.04, 0.5, 2))
    assert ram.drawn == pytest.approx(2 * math.pi / 4 * 0.08**2 * 0.5)
    assert parse_ram("80,40,500mm").count == 1
    assert parse_hose(["25mm,2m"])[0].volume == pytest.approx(math.pi / 4 * 0.025**2 * 2)


@pytest.mark.parametrize(
    ("read", "error", "message"),
    [
        (lambda: parse_liquid(None), LiquidError, "no liquid is given"),
        (lambda: parse_liquid("water", None, "870kg/m3"), LiquidError, "points of your own"),
        (lambda: parse_liquid(None, "46cSt@40C", "870kg/m3"), QuantityError, "two points"),
        (lambda: parse_liquid(None, "46cSt@40C,6.8cSt@100C"), LiquidError, "no density"),
        (
            lambda: parse_liquid(None, "6.8cSt@40C,46cSt@100C", "870kg/m3"),
            LiquidError,
            "thicker when hotter",
        ),
        (
            lambda: parse_liquid(None, "46cSt@-300C,6.8cSt@100C", "870kg/m3"),
            LiquidError,
            "absolute zero",
        ),
        (lambda: parse_line(["38mm"]), LineError, "no length"),
        (lambda: parse_line(["38mm,1m,elbo"]), LineError, "not a fitting"),
        (lambda: parse_line(["38mm,1m,elbo"]), LineError, "did you mean 'elbow'"),
        (lambda: parse_line(["38mm,1m,2elbow"]), LineError, "did you mean '2 elbow'"),
        (lambda: parse_line(["38mm,1m,2x elbows"]), LineError, "did you mean '2 elbow'"),
        (lambda: parse_line([]), LineError, "no section"),
        (lambda: parse_strainer("3kPa", "0%"), QuantityError, "no strainer"),
        (lambda: parse_part("0.5", "--blocked"), QuantityError, "no unit"),
        (lambda: parse_manoeuvre("jump 1m"), AttitudeError, "no manoeuvre"),
        (lambda: parse_manoeuvre("corner up 8m/s 20m"), AttitudeError, "not a side"),
        (lambda: parse_ram("40,80,500mm"), FillError, "thinner than the bore"),
        (lambda: parse_ram("80,500mm"), FillError, "no cylinder"),
        (lambda: parse_hose(["25mm"]), QuantityError, "2 are needed"),
    ],
)
def test_nonsense_is_refused(read, error: type[TanksolveError], message: str) -> None:
    with pytest.raises(error, match=message):
        read()
