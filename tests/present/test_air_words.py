"""What the screen says, as a user runs it. Shut-in air as the commands tell it: keys, words, and the bay by."""

from pathlib import Path

import pytest
from program import answer, run

KEYS = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()


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


def test_inspect_names_the_bay_whose_roof_cannot_vent(curtained):
    (bay,) = answer("inspect", curtained)["roof_bays"]
    assert bay["names"] == ["ahead of 'curtain'"]
    assert bay["edge_m"] == pytest.approx(0.06)
    for name in ["roof_bays", *bay]:
        assert f"`{name}`" in KEYS, name
    assert "caution: bay ahead of 'curtain' has no vent gap" in run("inspect", curtained).stdout
