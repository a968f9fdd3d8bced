"""Spoilt logs against a loop that judges row by row; 100,000 rows in tests/campaign_replay.py."""

from pathlib import Path

import pytest
from log_by_hand import judge, spoilt_log

from tanksolve.geometry.parts import box
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.replay import log_rows
from tanksolve.questions.replay.replay import replay

TANK = box(1.2, 0.5, 0.8)
PORTS = (
    pickup("suction", (0.2, 0.25, 0.04), bore=0.0254, facing="down"),
    breather("breather", (0.6, 0.25, 0.5), bore=0.01, facing="down"),
)


@pytest.mark.parametrize("arrow", [False, True])
@pytest.mark.parametrize("fills", [False, True])
def test_same_answer_as_a_loop_over_rows_with_every_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, fills: bool, arrow: bool
) -> None:
    if arrow:
        pytest.importorskip("pyarrow")
    monkeypatch.setattr(log_rows, "has_arrow", lambda: arrow)
    monkeypatch.setattr(log_rows, "SMALL", 2000)  # so that pyarrow is asked at all
    path = tmp_path / "day.csv"
    spoilt_log(path, 4000, 11, fills=fills, spoilt=0.03)
    found = replay(TANK, PORTS, 0.09, path, block_bytes=20_000)
    seconds, counts, excursions = judge(path, TANK, PORTS, 0.09, found.gap_s)
    told = found.outcome
    assert counts == [told.kept_rows, told.broken_rows, told.not_known_rows]
    assert seconds == pytest.approx([told.kept_s, told.broken_s, told.not_known_s], abs=1e-6)
    assert excursions == [port.excursion_count for port in found.ports]
    assert min(counts) > 30
    assert min(excursions) > 10
