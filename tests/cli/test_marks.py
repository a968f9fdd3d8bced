"""``tanksolve marks`` as a user runs it: keys that scripts rely on, 'no' with exit code 3."""

import math
from pathlib import Path

import pytest
from program import answer

KEYS = {
    "least_m3", "most_m3", "least_dip_m", "most_dip_m", "least_set_by", "most_set_by", "feasible",
}  # fmt: skip


CASE = [
    "marks", "--box", "900x300x300mm", "--pickup", "suction=100,150,50mm",
    "--breather", "cap=450,150,300mm",
]  # fmt: skip


def test_keys_and_figures():
    found = answer(*CASE, "--require", "15deg")
    assert set(found) >= KEYS | {"format", "version", "inputs", "cautions"}
    assert set(found["least_set_by"]) == {"port", "slope_deg", "heading_deg"}
    assert found["feasible"] is True
    # on paper: the pickup 350 mm from the middle, nose down 15 degrees, no corner met
    depth = 0.05 + 0.35 * math.tan(math.radians(15))
    assert found["limits"]["least_root_m3"] == pytest.approx(0.9 * 0.3 * depth, rel=1e-9)
    assert found["least_m3"] >= found["limits"]["least_root_m3"]
    assert found["least_set_by"]["port"] == "suction"
    documented = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()
    for key in found:
        assert f"`{key}`" in documented, key


TWO_BAYS = ["marks", str(Path(__file__).resolve().parents[2] / "meshes" / "two_bays.toml")]


def test_marks_count_all_that_a_wall_can_keep():
    """On level ground the rear bay, 497 mm long, may brim at the wall's 200 mm."""
    found = answer(*TWO_BAYS, "--require", "0deg")
    front = (0.015 + 0.01 + 0.02) * 0.497 * 0.4
    assert found["least_m3"] == pytest.approx(front + 0.2 * 0.497 * 0.4, rel=1e-9)
    assert any(caution.startswith("walls part the liquid") for caution in found["cautions"])
