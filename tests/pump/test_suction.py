import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tanksolve.errors import LineError, LiquidError
from tanksolve.model.fluid import user_liquid
from tanksolve.model.fluid_catalogue import LIQUIDS
from tanksolve.model.fluid_laws import LinearExpansion
from tanksolve.model.suction_line import (
    FITTINGS,
    HOSE_BORES,
    LineSection,
    PumpLimits,
    Strainer,
    SuctionLine,
    fitting,
)
from tanksolve.pump.suction import Duty, Regime, friction_factor, inlet_state
from tanksolve.pump.suction_limits import (
    passing_temperatures,
    smallest_bore,
    solve_suction,
    suction_curve,
    worst_state,
)

OIL = LIQUIDS["ISO VG 46"]
ELBOWS = (fitting("drop tube"), fitting("elbow"), fitting("elbow"))
LINE = SuctionLine((LineSection(0.0381, 1.5, ELBOWS),))
PUMP = PumpLimits.common_practice()


def celsius(t: float) -> float:
    return t + 273.15


def duty(
    liquid: str = "ISO VG 46", lpm: float = 60.0, level: float = 0.3, altitude: float = 0.0
) -> Duty:
    return Duty(LIQUIDS[liquid], lpm / 60000.0, level, altitude)


@given(low=st.floats(-400, 8999), rise=st.floats(1, 9000), t=st.floats(-10, 120))
@settings(deadline=None, max_examples=40)
def test_higher_sites_give_lower_inlet_pressure(low: float, rise: float, t: float) -> None:
    high = min(low + rise, 9000.0)
    states = [inlet_state(LINE, duty(altitude=a), PUMP, celsius(t)) for a in (low, high)]
    assert states[0].inlet_pressure_pa > states[1].inlet_pressure_pa
    assert states[0].npsh_available_m > states[1].npsh_available_m


def test_friction_falls_with_heat_but_for_the_step() -> None:
    busy = duty(lpm=150.0)
    answer = solve_suction(LINE, busy, PUMP, celsius(20), celsius(80))
    (step,) = answer.steps_k
    temperatures = sorted([*(celsius(-40 + 2 * k) for k in range(90)), step - 1e-6, step + 1e-6])
    friction = [inlet_state(LINE, busy, PUMP, t).sections[0].friction_drop_pa for t in temperatures]
    rises = [t for t, a, b in zip(temperatures[1:], friction, friction[1:], strict=False) if b > a]
    assert rises == [step + 1e-6]
    before, after = (inlet_state(LINE, busy, PUMP, step + d) for d in (-1e-6, 1e-6))
    assert before.sections[0].regime is Regime.LAMINAR
    assert after.sections[0].regime is Regime.TRANSITIONAL
    assert "larger friction" in after.sections[0].regime.value


@given(reynolds=st.floats(2000.1, 3999.9), roughness=st.floats(0, 0.04))
@settings(deadline=None, max_examples=40)
def test_between_laminar_and_turbulent_the_larger_is_taken(
    reynolds: float, roughness: float
) -> None:
    factor, regime = friction_factor(reynolds, roughness)
    assert regime is Regime.TRANSITIONAL
    assert factor >= 64.0 / reynolds
    assert factor >= friction_factor(4000.0, roughness)[0] * 0.999


@pytest.mark.parametrize("liquid", ["water", "petrol"])
def test_water_and_petrol_fail_hot_by_vapour_pressure(liquid: str) -> None:
    pump = PumpLimits(npsh_required_m=2.0)
    ((_, hottest),) = passing_temperatures(LINE, duty(liquid), pump)
    assert hottest < LIQUIDS[liquid].highest
    beyond = inlet_state(LINE, duty(liquid), pump, hottest + 0.1)
    assert not beyond.passes
    at = inlet_state(LINE, duty(liquid), pump, hottest)
    assert at.npsh_available_m == pytest.approx(2.0, abs=1e-6)
    cooler = inlet_state(LINE, duty(liquid), pump, hottest - 20.0)
    assert at.vapour_pressure_pa - cooler.vapour_pressure_pa > 0.9 * (cooler.pressure_margin_pa)


def test_cold_limit_is_a_root_and_not_a_grid_point() -> None:
    answer = solve_suction(LINE, duty(), PUMP, celsius(20), celsius(60))
    assert answer.coldest_k is not None
    at = inlet_state(LINE, duty(), PUMP, answer.coldest_k)
    assert at.pressure_margin_pa == pytest.approx(0.0, abs=1e-3)
    assert not inlet_state(LINE, duty(), PUMP, answer.coldest_k - 0.01).passes
    assert answer.hottest_k == OIL.highest


@given(
    lpm=st.floats(20, 400),
    level=st.floats(-1.5, 1.0),
    altitude=st.floats(0, 4000),
    liquid=st.sampled_from(sorted(LIQUIDS)),
)
@settings(deadline=None, max_examples=40)
def test_intervals_agree_with_a_fine_scan(
    lpm: float, level: float, altitude: float, liquid: str
) -> None:
    """The solver scans nothing; a scan finds nothing that it missed."""
    job = duty(liquid, lpm, level, altitude)
    intervals = passing_temperatures(LINE, job, PUMP)
    start = max(job.liquid.lowest, job.liquid.flows_from)
    span = job.liquid.highest - start
    for k in range(200):
        t = start + span * k / 199
        near = any(min(abs(t - a), abs(t - b)) < 1e-6 for a, b in intervals)
        inside = any(a <= t <= b for a, b in intervals)
        assert near or inside == inlet_state(LINE, job, PUMP, t).passes


@given(lpm=st.floats(20, 400), cold=st.floats(-20, 30), hot=st.floats(40, 100))
@settings(deadline=None, max_examples=30)
def test_nothing_in_the_range_is_worse_than_the_worst(lpm: float, cold: float, hot: float) -> None:
    worst = worst_state(LINE, duty(lpm=lpm), PUMP, celsius(cold), celsius(hot))
    for k in range(101):
        t = celsius(cold + (hot - cold) * k / 100)
        state = inlet_state(LINE, duty(lpm=lpm), PUMP, t)
        assert state.pressure_margin_pa >= worst.pressure_margin_pa - 1e-2


def test_smallest_bore_passes_and_the_next_smaller_does_not() -> None:
    ends = (celsius(5), celsius(70))
    bore = smallest_bore(LINE, duty(), PUMP, *ends)
    assert bore in HOSE_BORES
    smaller = HOSE_BORES[HOSE_BORES.index(bore) - 1]
    assert worst_state(LINE.with_bore(bore), duty(), PUMP, *ends).passes
    assert not worst_state(LINE.with_bore(smaller), duty(), PUMP, *ends).passes
    assert smallest_bore(LINE, duty(altitude=5000), PUMP, *ends) is None


def test_velocity_bore_is_the_first_under_the_advice() -> None:
    answer = solve_suction(LINE, duty(), PUMP, celsius(20), celsius(60))
    assert answer.smallest_bore_for_velocity_m == 0.0381  # 0.877 m/s; 31.8 mm would have 1.26 m/s


def test_each_metre_of_level_adds_its_weight() -> None:
    low, high = (inlet_state(LINE, duty(level=z), PUMP, celsius(20)) for z in (-0.5, 0.5))
    assert high.npsh_available_m - low.npsh_available_m == pytest.approx(1.0, rel=1e-12)
    assert high.inlet_pressure_pa - low.inlet_pressure_pa == pytest.approx(
        high.density_kg_m3 * 9.80665
    )


def test_two_sections_add_up() -> None:
    halves = SuctionLine((LineSection(0.0381, 0.75, ELBOWS), LineSection(0.0381, 0.75)))
    one, two = (inlet_state(line, duty(), PUMP, celsius(10)) for line in (LINE, halves))
    assert two.inlet_pressure_pa == pytest.approx(one.inlet_pressure_pa, rel=1e-12)
    assert halves.volume == pytest.approx(LINE.volume, rel=1e-12)


def test_a_blocked_strainer_costs_more_and_a_thick_oil_more_still() -> None:
    clean = Strainer(3000.0, 0.001, 32e-6)
    assert clean.drop(0.001, 32e-6) == pytest.approx(3000.0)
    half = dataclasses.replace(clean, blocked=0.5)
    assert half.drop(0.001, 32e-6) == pytest.approx(12000.0)
    assert clean.drop(0.001, 320e-6) == pytest.approx(30000.0)
    fitted = SuctionLine(LINE.sections, clean)
    with_it, without = (inlet_state(x, duty(), PUMP, celsius(40)) for x in (fitted, LINE))
    assert without.inlet_pressure_pa - with_it.inlet_pressure_pa == pytest.approx(
        clean.drop(0.001, OIL.viscosity(celsius(40)))
    )


def test_cold_oil_loses_more_in_an_elbow_than_the_constant_coefficient_says() -> None:
    elbow = SuctionLine((LineSection(0.0381, 0.0, (fitting("elbow"),)),))
    constant = SuctionLine((LineSection(0.0381, 0.0, (fitting("K=0.75"),)),))
    cold, fixed = (inlet_state(x, duty(), PUMP, celsius(0)) for x in (elbow, constant))
    assert cold.sections[0].fittings_drop_pa > 10 * fixed.sections[0].fittings_drop_pa


@pytest.mark.parametrize("name", FITTINGS)
def test_every_named_fitting_is_in_the_library(name: str) -> None:
    assert fitting(name).laminar >= 100.0


def test_vacuum_limit_is_absolute_so_altitude_tells() -> None:
    assert PUMP.least_pressure_pa == pytest.approx(101325.0 - 16931.9)
    assert inlet_state(LINE, duty(), PUMP, celsius(40)).passes
    assert not inlet_state(LINE, duty(altitude=3000), PUMP, celsius(40)).passes


def test_curve_touches_its_states_and_holds_both_sides_of_the_step() -> None:
    busy = duty(lpm=150.0)
    curve = suction_curve(LINE, busy, PUMP, celsius(0), celsius(80))
    (step,) = solve_suction(LINE, busy, PUMP, celsius(0), celsius(80)).steps_k
    near = [
        p
        for t, p in zip(curve.temperature_k, curve.inlet_pressure_pa, strict=True)
        if abs(t - step) < 1e-6
    ]
    assert len(near) == 2
    assert near[0] > near[1]
    assert curve.limit_pa == pytest.approx([PUMP.least_pressure_pa] * len(curve.limit_pa))


def test_nonsense_is_refused() -> None:
    with pytest.raises(LineError, match="larger than the tank"):
        LINE.check_against_tank(0.03)
    with pytest.raises(LineError, match="not positive"):
        LineSection(0.0, 1.0)
    with pytest.raises(LineError, match="check the unit"):
        LineSection(38.1, 1.0)
    with pytest.raises(LineError, match="flow"):
        duty(lpm=-3)
    with pytest.raises(LineError, match="altitude"):
        inlet_state(LINE, duty(altitude=12000), PUMP, celsius(20))
    with pytest.raises(LineError, match="colder temperature first"):
        solve_suction(LINE, duty(), PUMP, celsius(60), celsius(20))
    with pytest.raises(LiquidError, match="absolute zero"):
        solve_suction(LINE, duty(), PUMP, -3.0, celsius(20))
    with pytest.raises(LineError, match="not a fitting"):
        fitting("elbo")
    with pytest.raises(LineError, match="vacuum"):
        PumpLimits.from_vacuum(2e5)
    with pytest.raises(LineError, match="blocked"):
        Strainer(3000.0, 0.001, blocked=1.0)
    with pytest.raises(LineError, match="no limit"):
        PumpLimits()


def test_hoopers_two_terms_at_a_bore() -> None:
    """K = 800/Re + 0.4 (1 + 1/1.5 in) for a screwed elbow."""
    elbow = SuctionLine((LineSection(0.0381, 0.0, (fitting("elbow"),)),))
    (flow,) = inlet_state(elbow, duty(), PUMP, celsius(40)).sections
    dynamic = 0.5 * OIL.density(celsius(40)) * flow.velocity_m_s**2
    expected = 800.0 / flow.reynolds + 0.4 * (1.0 + 1.0 / 1.5)
    assert flow.fittings_drop_pa / dynamic == pytest.approx(expected, rel=1e-12)


def test_a_pump_that_asks_for_little_still_may_not_boil() -> None:
    easy = PumpLimits(least_pressure_pa=100.0)
    hot = inlet_state(LINE, duty("petrol"), easy, celsius(60))
    assert hot.set_by == "vapour pressure of the liquid"
    assert not hot.passes
    assert not hot.carries_flow
    left = hot.available_pa - hot.needed_pa - hot.vapour_pressure_pa
    assert hot.pressure_margin_pa == pytest.approx(left)


def test_what_is_needed_and_available_makes_the_inlets_pressure() -> None:
    for level in (-0.5, 0.4):
        state = inlet_state(LINE, duty(level=level), PUMP, celsius(40))
        assert state.carries_flow
        assert state.inlet_pressure_pa == pytest.approx(state.available_pa - state.needed_pa)
        assert sum(state.shares_pa.values()) == pytest.approx(
            state.needed_pa + state.vapour_pressure_pa
        )


def test_a_part_blocked_strainer_is_told_beside_a_clean_one() -> None:
    blocked = SuctionLine(LINE.sections, Strainer(3000.0, 0.001, 32e-6, blocked=0.3))
    clean = SuctionLine(LINE.sections, Strainer(3000.0, 0.001, 32e-6))
    ends = (celsius(22), celsius(60))
    answer, other = (solve_suction(x, duty(), PUMP, *ends) for x in (blocked, clean))
    assert other.clean is None
    assert answer.clean is not None
    assert (answer.clean.passes, answer.clean.coldest_k) == (other.passes, other.coldest_k)
    assert answer.passes is False
    assert answer.clean.passes is True
    assert answer.coldest_k > answer.clean.coldest_k + 2.0


@pytest.mark.parametrize("name", ["ISO VG 46", "engine oil 15W-40", "diesel", "water"])
@pytest.mark.parametrize("lpm", [30.0, 90.0])
def test_both_sides_of_every_solved_limit(name: str, lpm: float) -> None:
    """Just inside each end of what passes the line passes, just outside it fails or does not flow."""
    job = duty(name, lpm, level=-0.3)
    liquid = job.liquid
    for low, high in passing_temperatures(LINE, job, PUMP):
        for end, out in ((low, -1.0), (high, 1.0)):
            assert inlet_state(LINE, job, PUMP, end - out * 1e-6).passes
            beyond = end + out * 1e-5
            flows = liquid.flows_from - 1e-9 <= beyond <= liquid.highest and beyond >= liquid.lowest
            assert not (flows and inlet_state(LINE, job, PUMP, beyond).passes)


def test_no_start_below_the_pour_point_passes() -> None:
    """A short, wide line carries even oil that would not leave its tank."""
    wide = SuctionLine((LineSection(0.1016, 0.1),))
    job = duty("ISO VG 46", 5.0, level=1.0)
    at_pour = solve_suction(wide, job, PUMP, celsius(-15), celsius(80))
    assert at_pour.verdict == "yes"
    assert at_pour.coldest_k == pytest.approx(celsius(-15))
    colder = solve_suction(wide, job, PUMP, celsius(-15.01), celsius(80))
    assert colder.verdict == "no"
    assert colder.worst.passes  # by pressure alone it would
    assert any("does not pour" in words for words in colder.cautions)
    own = dataclasses.replace(job, liquid=job.liquid.with_points(celsius(-39), None))
    assert solve_suction(wide, own, PUMP, celsius(-38.9), celsius(80)).verdict == "yes"


def test_diesel_does_not_pass_below_its_cloud_point() -> None:
    job = duty("diesel", 5.0, level=1.0)
    wide = SuctionLine((LineSection(0.1016, 0.1),))
    assert solve_suction(wide, job, PUMP, celsius(5), celsius(40)).verdict == "yes"
    waxed = solve_suction(wide, job, PUMP, celsius(4.9), celsius(40))
    assert waxed.verdict == "no"
    assert any("wax" in words for words in waxed.cautions)
    winter = dataclasses.replace(job, liquid=job.liquid.with_points(None, celsius(-20)))
    assert solve_suction(wide, winter, PUMP, celsius(-6), celsius(40)).verdict == "yes"


def test_a_liquid_of_ones_own_without_a_pour_point_is_not_known_where_cold() -> None:
    oil = user_liquid("own", ((celsius(40), 46e-6), (celsius(100), 6.8e-6)), LinearExpansion(870.0))
    wide = SuctionLine((LineSection(0.1016, 0.1),))
    job = Duty(oil, 5.0 / 60000.0, 1.0)
    assert solve_suction(wide, job, PUMP, celsius(40), celsius(80)).verdict == "yes"
    assert solve_suction(wide, job, PUMP, celsius(10), celsius(80)).verdict == "not known"
    known = dataclasses.replace(job, liquid=oil.with_points(celsius(-20), None))
    assert solve_suction(wide, known, PUMP, celsius(10), celsius(80)).verdict == "yes"


def test_an_inlet_above_the_air_of_a_high_site_that_fails_is_explained() -> None:
    high = duty("water", 10.0, level=0.5, altitude=3000.0)
    answer = solve_suction(LINE, high, PUMP, celsius(5), celsius(40))
    assert answer.verdict == "no"
    assert answer.worst.vacuum_pa < 0.0
    assert any("absolute pressure" in words for words in answer.cautions)


def test_losses_add_up_to_what_the_line_takes() -> None:
    strainer = Strainer(3000.0, 0.001)
    state = inlet_state(SuctionLine(LINE.sections, strainer), duty(level=-0.4), PUMP, celsius(20))
    assert set(state.losses_pa) == {"friction", "fittings", "strainer", "lift", "speed"}
    assert sum(state.losses_pa.values()) == pytest.approx(state.needed_pa, rel=1e-12)
    assert state.losses_pa["lift"] == pytest.approx(state.density_kg_m3 * 9.80665 * 0.4)
