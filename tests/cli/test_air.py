"""Shut-in air as the commands tell it: keys, words, and the bay by its name."""

from pathlib import Path

import pytest
from program import answer

KEYS = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()


BOX = ["--box", "900x300x300mm", "--fill", "42L", "--pickup", "suction=20,150,100mm"]


@pytest.fixture
def curtained(tmp_path):
    """A wall from 60 mm over the floor up to the roof; the breather is behind it, the pickup ahead."""
    file = tmp_path / "curtained.toml"
    file.write_text(
        'tanksolve_file = 1\nname = "curtained"\nfill = "79.664 L"\n'
        '[tank]\nshape = "box"\nlength = "1000 mm"\nwidth = "400 mm"\nheight = "300 mm"\n'
        '[[baffle]]\nname = "curtain"\nstands = "across"\nat = "497 mm"\nthickness = "6 mm"\n'
        'bottom_gap = "60 mm"\n'
        '[[port]]\nname = "suction"\nkind = "pickup"\nat = "900, 200, 15 mm"\n'
        '[[port]]\nname = "vent"\nkind = "breather"\nat = "100, 200, 300 mm"\n'
    )
    return file


def test_level_tells_the_bodies_of_air(curtained):
    found = answer("level", curtained)  # 200 mm deep
    assert [pocket["vented"] for pocket in found["air"]] == [True, False]
    shut = found["air"][1]
    assert shut["volume_m3"] == pytest.approx(0.497 * 0.4 * 0.1, rel=1e-6)
    assert shut["edge_depth_m"] == pytest.approx(0.14, rel=1e-6)
    assert sum(pocket["volume_m3"] for pocket in found["air"]) == pytest.approx(found["ullage_m3"])
    assert found["breathers_under_liquid"] == []
    assert len(found["air_warnings"]) == 1
    for name in [*shut, "air", "breathers_under_liquid", "air_warnings"]:
        assert f"`{name}`" in KEYS, name


def test_a_breather_under_liquid_is_named():
    words = [*BOX, "--breather", "vent=800,150,300mm", "--attitude", "-30deg"]
    assert answer("level", *words)["breathers_under_liquid"] == ["vent"]


def test_envelope_cautions_where_the_pickup_stands_under_shut_air(curtained):
    first = answer("envelope", curtained, "--every", "90deg")["cautions"]
    assert any(
        words.startswith("the air over pickup suction cannot vent on level ground")
        for words in first
    )


def test_of_a_fill_range_air_is_told_at_the_most_too():
    """At 30 L the breather is clear; at 65 L it is under liquid, and nothing vents."""
    words = ["level", "--box", "900x300x300mm", "--pickup", "p=20,150,20mm", "--attitude=-10deg"]
    words += ["--breather", "b=880,150,290mm", "--fill", "30L..65L"]
    found = answer(*words)
    assert found["breathers_under_liquid"] == []
    assert found["air_warnings"] == []
    assert found["breathers_under_liquid_at_most"] == ["b"]
    most = answer(*words, "--most")
    assert found["air_warnings_at_most"] == most["air_warnings"] != []
    assert found["air_at_most"] == most["air"]
    for key in ("breathers_under_liquid_at_most", "air_warnings_at_most", "air_at_most"):
        assert f"`{key}`" in KEYS
