"""Logs through a tank whose wall parts the liquid: whatever the route, and along the log's own route.

A box 0.8 x 0.3 x 0.4 m with a wall 100 mm high in its middle; each bay is 390 mm long. The pickup lies in
front of the wall, its mouth 20 mm above the floor. On level ground the rear bay holds at most 11.7 L and the
front one needs 2.34 L: so 14.04 L whatever came before. Nose up by b the front bay keeps W a² / (2 tan b).
"""

from pathlib import Path

import numpy as np
import pytest

from tanksolve.geometry.parts import extrusion
from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.kernel.pools.settle import settle
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.replay.replay import Replay, replay
from tanksolve.state import carried_route
from tanksolve.state.conditions import Conditions
from tanksolve.state.margin_table import one_level_margins
from tanksolve.state.row_margins import RowMargins

WALLED = extrusion(
    [(0, 0), (0.39, 0), (0.39, 0.1), (0.41, 0.1), (0.41, 0), (0.8, 0), (0.8, 0.4), (0, 0.4)],
    0.3, "across",
)  # fmt: skip
FRONT = (pickup("front", (0.6, 0.15, 0.02), bore=0.001, cover=0.0, facing="down"),)
ENOUGH, SCANT = 0.0145, 0.0135  # beside the 14.04 L that are needed


def run(folder: Path, fill: float, *rows: str, header: str = "time_s,pitch_deg,roll_deg") -> Replay:
    path = folder / "day.csv"
    path.write_text("\n".join((header, *rows)) + "\n")
    return replay(WALLED, FRONT, fill, path)


def pitched(*degrees: float) -> list[str]:
    return [f"{t},{p},0" for t, p in enumerate(degrees)]


def test_what_is_kept_whatever_the_route_is_kept(tmp_path: Path) -> None:
    for fill in (0.048, ENOUGH):
        result = run(tmp_path, fill, *pitched(*([0] * 20)))
        assert result.verdict == "kept"
        assert result.outcome.kept_s == 19.0
        assert (result.this_route, result.why_not_known) == (None, ())
    assert (
        0.0 < result.ports[0].worst.margin_m < 0.46e-3 / (0.39 * 0.3) + 1e-6
    )  # 0.46 L more than needed


def test_what_some_route_would_break_is_not_known_though_this_one_keeps_it(tmp_path: Path) -> None:
    result = run(tmp_path, SCANT, *pitched(*([0] * 20)))
    assert result.verdict == "not known"
    assert (result.outcome.kept_s, result.outcome.not_known_s) == (0.0, 19.0)
    assert "at 20 rows walls part the liquid" in result.why_not_known[0]
    assert result.this_route is not None
    assert (result.this_route.verdict, result.this_route.kept_s) == ("kept", 19.0)
    assert result.carried is not None
    assert result.carried.least[0].margin_m == pytest.approx(
        SCANT / (2 * 0.39 * 0.3) - 0.02, abs=1e-9
    )


def test_a_climb_that_empties_the_bay_breaks_the_level_ground_after_it(tmp_path: Path) -> None:
    """Nose up 45 degrees the front bay keeps 0.3 x 0.1² / 2 = 1.5 L; level again the rear one keeps 11.7 L."""
    climb = [0, 0, *range(5, 50, 5), *range(40, -5, -5), *([0] * 30)]
    result = run(tmp_path, SCANT, *pitched(*climb))
    assert result.verdict == "broken"
    assert result.this_route is not None
    assert result.this_route.broken_s >= 30.0
    assert result.this_route.kept_s + result.this_route.broken_s == len(climb) - 1
    assert result.outcome.broken_rows == 0  # no row of it is broken by every route
    keeps = Conditions.of(WALLED, FRONT, SCANT)
    carrier = carried_route.Carrier(keeps)
    last = carrier._margins(up_from_pitch_roll(np.radians([0, 45.0, 0]), np.zeros(3)), poured=True)
    assert last[-1, 0] == pytest.approx((SCANT - 0.0117) / (0.39 * 0.3) - 0.02, abs=1e-9)


def test_after_a_gap_the_route_is_not_known(tmp_path: Path) -> None:
    rows = [*pitched(*([0] * 20)), *(f"{t},0,0" for t in range(4000, 4020))]
    result = run(tmp_path, SCANT, *rows)
    assert result.verdict == "not known"
    assert result.this_route is not None
    assert (result.this_route.kept_s, result.this_route.broken_s) == (19.0, 0.0)
    assert result.this_route.not_known_s == 4019.0 - 19.0
    assert (result.this_route.kept_rows, result.this_route.not_known_rows) == (20, 20)


@pytest.mark.parametrize(
    ("litres", "right"), [(48, "kept"), (14.5, "kept"), (13.5, "not known"), (0, "broken")]
)
def test_a_fill_column_is_looked_at_row_by_row(tmp_path: Path, litres: float, right: str) -> None:
    rows = [f"{t},0,0,{litres if t == 3 else 50}" for t in range(9)]
    result = run(tmp_path, 0.05, *rows, header="time_s,pitch_deg,roll_deg,fill_L")
    assert (result.verdict, result.this_route) == (right, None)


def wander(count: int, step: float, seed: int) -> np.ndarray:
    """A route of ``count`` attitudes, ``step`` degrees of pitch or roll apart, within 25 degrees."""
    rng = np.random.default_rng(seed)
    angles = np.cumsum(rng.choice([-step, step], (count, 2)), axis=0)
    return np.abs((angles + 25.0) % 100.0 - 50.0) - 25.0


def test_signs_are_those_of_the_worst_state_or_of_one_level() -> None:
    """Both ways to a sign: many rows in few cells, and few rows solved one by one."""
    ports = (*FRONT, breather("breather", (0.1, 0.15, 0.36), bore=0.01, facing="down"))
    for fill in (SCANT, 0.03):
        conditions = Conditions.of(WALLED, ports, fill)
        up = up_from_pitch_roll(*np.radians(wander(1500, 0.02, 3)).T)
        rows = RowMargins(conditions)
        margins, certain = rows.at(up)
        expected = conditions.margins(up[:, None, :])[:, 0]
        assert ((margins >= 0.0) == (expected >= 0.0)).all()
        one = one_level_margins(conditions, up)
        np.testing.assert_allclose(expected[certain], one[certain], atol=1e-9)
        assert (expected <= one + 1e-9).all()
        assert rows.solved_cells > 0
        few = RowMargins(conditions)
        alone, sure = few.at(up[::50])
        assert few.solved_cells == 0
        assert ((alone >= 0.0) == (expected[::50] >= 0.0)).all()
        assert not (certain[::50] & ~sure).any()


def test_carried_rows_are_those_of_the_liquid_settled_through_every_row(tmp_path: Path) -> None:
    """Rows more than a step apart are all stops: the same states as by settling through them all."""
    angles = wander(120, 5.0, 8)
    result = run(tmp_path, SCANT, *(f"{t},{p},{r}" for t, (p, r) in enumerate(angles)))
    assert result.this_route is not None
    ups = np.stack([np.sin(np.radians(angles[:, 0])), np.sin(np.radians(angles[:, 1]))], axis=1)
    up = np.concatenate([ups, np.sqrt(1.0 - (ups**2).sum(axis=1, keepdims=True))], axis=1)
    whole = np.concatenate([[[0.0, 0.0, 1.0]], up])
    conditions = Conditions.of(WALLED, FRONT, SCANT)
    found = settle(WALLED.graph, whole, SCANT, [WALLED.seated(FRONT[0].position)])
    broken = found.port_level[0, 1:, 0] < conditions.edge(0, up)
    assert 10 < np.count_nonzero(broken) < 110
    assert result.this_route.broken_rows == np.count_nonzero(broken)
    assert result.this_route.broken_s == np.count_nonzero(broken[:-1])
    assert result.this_route.not_known_rows == 0


def test_too_many_stops_double_the_step_and_lose_no_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [f"{t},{p},{r}" for t, (p, r) in enumerate(wander(300, 1.0, 5))]
    whole = run(tmp_path, SCANT, *rows)
    monkeypatch.setattr(carried_route, "MOST_STOPS", 40)
    thin = run(tmp_path, SCANT, *rows)
    assert whole.carried is not None
    assert thin.carried is not None
    assert whole.carried.step_deg == 0.5 < thin.carried.step_deg
    assert thin.carried.stops <= 40 < whole.carried.stops
    for a, b in ((whole.this_route, thin.this_route),):
        assert a is not None
        assert b is not None
        assert a.kept_s + a.broken_s == pytest.approx(b.kept_s + b.broken_s) == 299.0
