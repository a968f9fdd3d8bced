from itertools import pairwise

import pytest

from tanksolve.errors import LiquidError
from tanksolve.model.fluid import user_liquid
from tanksolve.model.fluid_catalogue import LIQUIDS, TYPICAL, liquid_by_name
from tanksolve.model.fluid_laws import D341Line, LinearExpansion, VapourLine, WaterDensity

TWO_POINTS = ((313.15, 46e-6), (373.15, 6.8e-6))


@pytest.mark.parametrize("name", LIQUIDS)
def test_hotter_is_thinner_lighter_and_boils_sooner(name: str) -> None:
    liquid = LIQUIDS[name]
    start = max(liquid.lowest, 277.2)  # water is densest at 4 °C
    steps = [start + (liquid.highest - start) * k / 40 for k in range(41)]
    for law in (liquid.viscosity, liquid.density):
        values = [law(t) for t in steps]
        assert all(a > b > 0.0 for a, b in pairwise(values))
    vapour = [liquid.vapour_pressure(t) for t in steps]
    assert all(0.0 < a < b for a, b in pairwise(vapour))


@pytest.mark.parametrize("name", LIQUIDS)
def test_every_figure_has_a_source(name: str) -> None:
    liquid = LIQUIDS[name]
    assert {"viscosity", "density", "vapour pressure"} <= {
        f.quantity.split(" at ")[0] for f in liquid.figures
    }
    assert all(len(f.source) > 8 for f in liquid.figures)
    assert liquid.cautions


def test_guesses_about_oil_are_marked_typical() -> None:
    figures = {f.quantity: f.source for f in LIQUIDS["ISO VG 46"].figures}
    assert figures["viscosity at 100 °C"].startswith(TYPICAL)
    assert figures["density at 15 °C"].startswith(TYPICAL)
    assert "ISO 3448" in figures["viscosity at 40 °C"]


@pytest.mark.parametrize(
    ("spelling", "name"),
    [("vg46", "ISO VG 46"), ("iso vg-46", "ISO VG 46"), ("gasoline", "petrol"), ("Water", "water")],
)
def test_names_are_read_as_people_write_them(spelling: str, name: str) -> None:
    assert liquid_by_name(spelling).name == name


def test_an_unknown_name_is_refused_with_a_near_one() -> None:
    with pytest.raises(LiquidError, match="did you mean 'diesel'"):
        liquid_by_name("diezel")


def test_water_against_the_steam_tables() -> None:
    water = LIQUIDS["water"]
    assert water.density(293.15) == pytest.approx(998.2, abs=0.05)
    assert water.viscosity(293.15) == pytest.approx(1.004e-6, rel=0.025)
    assert water.viscosity(333.15) == pytest.approx(0.474e-6, rel=0.025)
    assert water.vapour_pressure(373.15) == pytest.approx(101.42e3, rel=1e-3)
    densest = max(range(100), key=lambda k: WaterDensity().at(273.15 + 0.1 * k))
    assert densest == pytest.approx(40, abs=1)


def test_temperature_of_viscosity_inverts_viscosity() -> None:
    oil = LIQUIDS["ISO VG 46"]
    assert oil.temperature_of_viscosity(46e-6) == pytest.approx(313.15, abs=1e-6)
    assert oil.temperature_of_viscosity(1e-7) is None


def test_user_liquid_keeps_both_points() -> None:
    liquid = user_liquid("mine", TWO_POINTS, LinearExpansion(880.0))
    assert liquid.viscosity(313.15) == pytest.approx(46e-6, rel=1e-12)
    assert liquid.viscosity(373.15) == pytest.approx(6.8e-6, rel=1e-12)
    assert any("taken as 0" in caution for caution in liquid.cautions)
    assert liquid.vapour_pressure(300.0) == 0.0


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (((313.15, 6.8e-6), (373.15, 46e-6)), "thicker when hotter"),
        (((313.15, 46e-6), (313.15, 6.8e-6)), "same temperature"),
        (((-1.0, 46e-6), (313.15, 6.8e-6)), "not above absolute zero"),
        (((0.0, 46e-6), (313.15, 6.8e-6)), "not above absolute zero"),
        (((313.15, -46e-6), (373.15, 6.8e-6)), "outside the formula's range"),
        (((313.15, float("nan")), (373.15, 6.8e-6)), "outside the formula's range"),
    ],
)
def test_nonsense_viscosity_points_are_refused(
    points: tuple[tuple[float, float], tuple[float, float]], message: str
) -> None:
    with pytest.raises(LiquidError, match=message):
        D341Line(*points)


def test_other_nonsense_is_refused() -> None:
    with pytest.raises(LiquidError, match=r"check the unit: 0\.87 kg/L"):
        LinearExpansion(0.87)
    with pytest.raises(LiquidError, match="do not rise"):
        VapourLine((300.0, 500.0), (350.0, 400.0))
    with pytest.raises(LiquidError, match="absolute zero"):
        LIQUIDS["water"].viscosity(-5.0)
    with pytest.raises(LiquidError, match="outside the range"):
        LIQUIDS["water"].density(263.15)


def test_frozen_oil_gives_a_huge_number_not_an_overflow() -> None:
    assert D341Line((313.15, 460e-6), (373.15, 30e-6)).at(150.0) >= 1e6
