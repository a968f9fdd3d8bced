import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tanksolve.errors import PortError
from tanksolve.model.ports import COVER_BORES, pickup
from tanksolve.pump.cover import Mouth, cover_advice


def test_default_is_the_ports_own_default() -> None:
    port = pickup("p", (0.0, 0.0, 0.0), bore=0.05)
    advice = cover_advice(0.002, 0.05)
    assert advice.recommended == port.required_cover
    assert advice.rule_of_thumb_m == COVER_BORES * 0.05
    assert advice.larger == advice.vortex_formula_m


def test_words_state_both_and_the_difference() -> None:
    words = cover_advice(0.002, 0.05).words
    assert "100 mm by the rule of thumb" in words
    assert "217 mm by ANSI/HI 9.8 (at second hand), derived for water: 117 mm more" in words


@given(flow=st.floats(1e-4, 0.01), bore=st.floats(0.01, 0.1), widening=st.floats(1.2, 3.0))
@settings(deadline=None, max_examples=50)
def test_a_bell_mouth_never_speeds_the_entry(flow: float, bore: float, widening: float) -> None:
    bare = cover_advice(flow, bore)
    bell = cover_advice(flow, bore, Mouth.BELL, bore * widening)
    assert bell.entry_velocity_m_s == pytest.approx(bare.entry_velocity_m_s / widening**2)
    assert bell.rule_of_thumb_m == bare.rule_of_thumb_m


def test_a_strainer_is_entered_all_round() -> None:
    advice = cover_advice(0.002, 0.05, Mouth.STRAINER, 0.09, 0.15)
    assert advice.entry_velocity_m_s == pytest.approx(0.002 / (3.141592653589793 * 0.09 * 0.15))
    assert "no source" in advice.words


def test_nonsense_is_refused() -> None:
    with pytest.raises(PortError, match="narrower than the bore"):
        cover_advice(0.002, 0.05, Mouth.BELL, 0.04)
    with pytest.raises(PortError, match="needs its diameter"):
        cover_advice(0.002, 0.05, Mouth.BELL)
    with pytest.raises(PortError, match="needs its length"):
        cover_advice(0.002, 0.05, Mouth.STRAINER, 0.09)
    with pytest.raises(PortError, match="not positive"):
        cover_advice(0.0, 0.05)
