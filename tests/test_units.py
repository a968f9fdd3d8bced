"""Reading quantities with units, and writing them for people."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tanksolve import unit_hints, units
from tanksolve.bound_words import safe_volume_words
from tanksolve.errors import QuantityError


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("4in", "length", 0.1016),
        ('4"', "length", 0.1016),
        ("900 mm", "length", 0.9),
        ("-2.5cm", "length", -0.025),
        ("1e3mm", "length", 1.0),
        ("42L", "volume", 0.042),
        ("42 l", "volume", 0.042),
        ("250ml", "volume", 0.00025),
        ("0.042 m3", "volume", 0.042),
        ("42 dm³", "volume", 0.042),
        ("231 in3", "volume", 3.785411784e-3),  # the US gallon: NIST Handbook 44, Appendix C
        ("1 gal", "volume", 3.785411784e-3),
        ("1 US gal", "volume", 3.785411784e-3),
        ("1 imperial_gallon", "volume", 4.54609e-3),
        ("1 imperial gal", "volume", 4.54609e-3),
        ("0.4g", "acceleration", 3.92266),
        ("2 m/s2", "acceleration", 2.0),
        ("60 L/min", "flow", 1e-3),
        ("30 gpm", "flow", 30 * 3.785411784e-3 / 60),
        ("20C", "temperature", 293.15),
        ("-20 °C", "temperature", 253.15),
        ("212 F", "temperature", 373.15),
        ("870 kg/m3", "density", 870.0),
        ("0.87 kg/L", "density", 870.0),
        ("46 cSt", "viscosity", 46e-6),
        ("46 mm2/s", "viscosity", 46e-6),
        ("5 inHg", "pressure", 16931.943),
        ("36 km/h", "speed", 10.0),
        ("120rpm", "frequency", 2.0),
        ("2 min", "time", 120.0),
    ],
)
def test_quantities_become_si(text, kind, si):
    assert units.parse(text, kind) == pytest.approx(si, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("15deg", 15.0),
        ("15°", 15.0),
        ("-15 degrees", -15.0),
        ("0.5rad", math.degrees(0.5)),
        ("100%", 45.0),
        ("26.8%", 15.0027),
        ("1:4", 14.0362),
        ("-1:4", -14.0362),
        ("0:4", 0.0),
    ],
)
def test_angles_in_degrees_radians_grade_and_ratio(text, degrees):
    assert math.degrees(units.parse_angle(text)) == pytest.approx(degrees, abs=1e-4)


def test_a_ratio_and_its_grade_are_the_same_slope():
    assert units.parse_angle("1:4") == pytest.approx(units.parse_angle("25%"), abs=1e-15)


@pytest.mark.parametrize(
    ("text", "kind", "part_of_message"),
    [
        ("42", "volume", "has no unit"),
        ("42", "length", "write '42mm'"),
        ("1,5L", "volume", "write '1.5L'"),
        ("42 LL", "volume", "did you mean 'L'"),
        ("42 L", "length", "not a unit of length"),
        ("42 furlongg", "length", "not a unit of length"),
        ("five mm", "length", "not a number with a unit"),
        ("", "length", "not a number with a unit"),
        ("1e999mm", "length", "not a number with a unit"),
        ("nan mm", "length", "not a number with a unit"),
        ("1 000mm", "length", "did you mean 'mm'"),
        ("15%", "length", "not a unit of length"),
    ],
)
def test_what_is_ambiguous_is_refused_with_advice(text, kind, part_of_message):
    with pytest.raises(QuantityError) as caught:
        units.parse(text, kind, where="--option")
    assert part_of_message in caught.value.message
    assert caught.value.message.startswith("--option: ")


@pytest.mark.parametrize(
    "text", ["mm**9**9**9", "m^9^9", "(" * 2000, "mm#x", "lambda: 0", "m" * 5000]
)
def test_a_unit_is_not_an_expression_to_be_evaluated(text):
    """Pint would work on a tower of powers for ever."""
    with pytest.raises(QuantityError, match=r"not a unit of length|too long for a quantity"):
        units.parse(f"5 {text}", "length")


@pytest.mark.parametrize(
    ("text", "part_of_message"),
    [
        ("15", "may be degrees or grade percent"),
        ("15 mm", "not a unit of angle"),
        ("1:0", "not a ratio"),
        ("1:1.2.3", "not a ratio"),
        ("1:-4", "give an angle with a unit"),
    ],
)
def test_angles_that_are_refused(text, part_of_message):
    with pytest.raises(QuantityError, match=part_of_message):
        units.parse_angle(text)


@pytest.mark.parametrize("unit", ["mn", "mmm", "mm,"])
def test_a_hint_never_picks_between_units_a_thousand_times_apart(unit):
    with pytest.raises(QuantityError) as caught:
        units.parse(f"500 {unit}", "length")
    hint = caught.value.next_step
    assert "did you mean 'm'" not in hint
    assert "mm" in hint


@pytest.mark.parametrize(
    ("text", "kind", "hint"),
    [
        ("3 m", "volume", "'m' is a unit of length; give a volume"),
        ("3 kg", "distance", "'kg' is a unit of mass; give a distance"),
        ("18kg", "volume", "'kg' is a unit of mass; give a volume"),
        ("15degC", "angle", "'degC' is a unit of temperature; give an angle"),
        ("42 L", "length", "'L' is a unit of volume; give a length"),
        ("15%", "length", "'%' is a unit of angle; give a length"),
        ("5 KPA", "pressure", "did you mean 'kPa'?"),
    ],
)
def test_a_unit_of_another_kind_is_named_as_such(text, kind, hint):
    with pytest.raises(QuantityError) as caught:
        units.parse_angle(text) if kind == "angle" else units.parse(text, kind)
    assert hint in caught.value.next_step


@pytest.mark.parametrize("kind", sorted(unit_hints.FAMILIAR))
def test_examples_are_of_the_kind_asked_for_and_can_be_read(kind):
    read = units.parse_angle if kind == "angle" else lambda text: units.parse(text, kind)
    with pytest.raises(QuantityError) as caught:
        read("left")
    examples = caught.value.allowed.removeprefix("as in ").split(", ")
    assert all(read(example) == read(example) for example in examples)


def test_a_heading_is_told_by_the_sides_of_the_machine():
    with pytest.raises(QuantityError, match="90deg left side"):
        units.parse_heading("left", "--heading")
    assert units.parse_heading("90deg") == pytest.approx(math.pi / 2)


def test_nought_needs_no_unit_as_an_angle():
    assert units.parse_angle("0") == units.parse_angle("-0.0") == 0.0


@pytest.mark.parametrize(
    ("text", "separator", "hint"),
    [
        ("400,250,300mm", "x", "write '400x250x300mm'"),
        ("400 250 300", "x", "write '400x250x300mm'"),
        ("20x30x40in", ",", "write '20,30,40in'"),
        ("400x250mm", "x", "write 3 numbers and a unit"),
    ],
)
def test_a_list_with_the_wrong_separator_is_written_right(text, separator, hint):
    with pytest.raises(QuantityError) as caught:
        units.parse_list(text, "length", separator, 3)
    assert hint in caught.value.next_step


def test_a_list_without_a_unit_is_said_back_as_it_was_typed():
    with pytest.raises(QuantityError) as caught:
        units.parse_sizes("400x250x300", 3)
    assert "'400x250x300mm'" in caught.value.next_step
    assert ".0" not in caught.value.message


def test_lists_share_the_last_unit():
    assert units.parse_list("20,150,100mm", "length", ",", 3) == pytest.approx((0.02, 0.15, 0.1))
    assert units.parse_list("2in,15cm,100mm", "length", ",", 3) == pytest.approx(
        (0.0508, 0.15, 0.1)
    )
    assert units.parse_sizes("900x300X250mm", 3) == pytest.approx((0.9, 0.3, 0.25))
    assert units.parse_sizes("900 × 300mm", 2) == pytest.approx((0.9, 0.3))


def test_a_decimal_comma_in_a_list_is_noticed_by_the_count():
    with pytest.raises(QuantityError, match="use a decimal point") as caught:
        units.parse_list("20,5,150,100mm", "length", ",", 3, where="--pickup")
    assert "has 4 numbers where 3 are needed" in caught.value.message


def test_sizes_must_be_positive():
    with pytest.raises(QuantityError, match="not positive"):
        units.parse_sizes("900x0x300mm", 3)


@given(st.floats(-1e4, 1e4), st.sampled_from(["mm", "in", "m", "ft"]))
def test_a_length_written_in_any_unit_is_the_same_length(metres, unit):
    size = {"mm": 1e-3, "in": 0.0254, "m": 1.0, "ft": 0.3048}[unit]
    text = f"{metres / size!r} {unit}"
    assert units.parse_length(text) == pytest.approx(metres, rel=1e-12, abs=1e-15)


@given(st.floats(-90.0, 90.0), st.sampled_from([0.1, 0.05, 0.01]))
def test_a_printed_limit_is_never_above_the_solved_one(value, step):
    printed = units.floor_to(value, step)
    assert printed <= value + 1.1e-9 * step
    assert printed > value - step * (1.0 + 1e-9)
    assert printed / step == pytest.approx(round(printed / step), abs=1e-6)


def test_floor_keeps_a_figure_that_is_already_round():
    assert units.floor_to(0.3, 0.1) == 0.3  # 0.3 / 0.1 is just under 3 in floating point
    assert units.floor_to(-0.25, 0.1) == pytest.approx(-0.3)  # down is away from nought


def test_figures_for_people():
    assert units.slope_words(math.radians(15.0)) == "15.0° (26.7 % grade)"
    assert units.slope_words(math.radians(95.0)) == "95.0° (upright or beyond: no grade)"
    assert units.length_words(0.0254) == "25.4 mm"
    assert units.volume_words(0.042) == "42.00 L"
    assert units.volume_words(0.042, "gal") == "11.10 US gal"
    assert units.volume_words(0.042, "imperial_gallon") == "9.24 imperial gal"


@pytest.mark.parametrize("unit", ["L", "gal", "imperial_gallon"])
def test_a_written_volume_can_be_read_back(unit):
    assert units.parse_volume(units.volume_words(0.042, unit)) == pytest.approx(0.042, rel=1e-3)


def test_the_exact_divisors_agree_with_the_unit_library():
    import pint

    registry = pint.UnitRegistry()
    for name, divisor in units._DIVISORS.items():
        kind, unit = name.split()
        spelling = {"rpm": "1/min"}.get(unit, unit.replace("m3", "m**3"))
        one = registry.Quantity(1.0, spelling).to(units._SI[kind]).magnitude
        assert 1.0 / divisor == pytest.approx(one, rel=1e-15)
        assert units.parse(f"7{unit}", kind) == 7.0 / divisor


@pytest.mark.parametrize(
    "unit", ["L", "ml", "m3", "cm3", "gal", "imperial_gallon", "qt", "in3", "ft3", "litre"]
)
def test_a_volume_is_written_in_every_unit_that_it_is_read_in(unit):
    volume = 0.000421 if unit in ("ml", "cm3") else 0.0421  # from 1 L on these give way to L
    amount, name = units.volume_words(volume, unit).split(" ", 1)
    assert float(amount) == pytest.approx(volume / units.parse_volume(f"1{unit}"), rel=5e-3)
    assert name


@pytest.mark.parametrize(
    ("text", "kind", "meant"),
    [
        ("500 nm", "length", "500mm"),
        ("500 MM", "length", "500mm"),
        ("500 Mm", "length", "500mm"),
        ("3 km", "length", "3mm"),
        ("5 nanometers", "length", "5mm"),
        ("2 MM2", "area", "2mm2"),
        ("2 km3", "volume", "2mm3"),
    ],
)
def test_a_metre_that_no_tank_is_measured_in_is_refused_and_mm_offered(text, kind, meant):
    with pytest.raises(QuantityError) as caught:
        units.parse(text, kind, "--box")
    assert f"did you mean {meant.lstrip('0123456789')}?" in str(caught.value.next_step)
    assert meant in str(caught.value.next_step)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("5 dm", "length", 0.5),
        ("5 millimetres", "length", 0.005),
        ("5 m", "length", 5.0),
        ("2 meter", "length", 2.0),
        ("9 mm2", "area", 9e-6),
        ("5 dm3", "volume", 0.005),
        ("6 km/h", "speed", 6 / 3.6),
    ],
)
def test_the_metres_of_the_trade_are_read(text, kind, si):
    assert units.parse(text, kind) == pytest.approx(si)


def test_sizes_in_capitals_are_no_million_metres_nor_taken_for_mm():
    assert units.parse_sizes("900X300x300mm", 3) == (0.9, 0.3, 0.3)
    with pytest.raises(QuantityError, match="MM"):
        units.parse_sizes("900x300x300MM", 3)


@pytest.mark.parametrize(
    ("litres", "unit", "told"),
    [
        (0.042, "mL", "42.00 mL"),
        (0.9996, "mL", "999.60 mL"),
        (81.0, "mL", "81.00 L"),
        (81.0, "cm3", "81.00 L"),
        (81.0, "in3", "4942.92 in3"),
        (81.0, "m3", "0.08100 m3"),
        (81.0, "gal", "21.40 US gal"),
    ],
)
def test_a_small_metric_unit_gives_way_to_litres(litres, unit, told):
    assert units.volume_words(litres / 1000.0, unit) == told


def test_a_bound_told_in_litres_is_rounded_in_litres():
    """81.0012 L with a fill in mL: not 81.00 L as a least fill, nor 81.01 L as a most one."""
    assert safe_volume_words(0.0810012, "mL", up=True) == "81.01 L"
    assert safe_volume_words(0.0810089, "mL", up=False) == "81.00 L"
