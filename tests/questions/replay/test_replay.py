import math
import os
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from tanksolve.errors import FileFormatError
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_inclinometer
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.ports import breather, pickup
from tanksolve.model.tank import Tank
from tanksolve.questions.replay.replay import LogOptions, Replay, replay
from tanksolve.state.conditions import Conditions
from tanksolve.state.margin_table import MarginTable, one_level_margins

# Box 1.2 x 0.5 x 0.8 m filled 0.15 m deep: the floor's front edge dries at tan = 2 d / L, nose up.
LIMIT = math.degrees(math.atan(2 * 0.15 / 1.2))  # 14.0362
FILL = 1.2 * 0.5 * 0.15
EDGE = (pickup("edge", (1.2, 0.25, 0.0), cover=0.0),)
PORTS = (
    pickup("suction", (0.2, 0.25, 0.04), bore=0.0254, facing="down"),
    breather("breather", (0.6, 0.25, 0.78), bore=0.01, facing="down"),
)


@pytest.fixture(scope="module")
def tank() -> Tank:
    return box(1.2, 0.5, 0.8)


def log(folder: Path, *rows: str, header: str = "time_s,pitch_deg,roll_deg") -> Path:
    path = folder / "day.csv"
    path.write_text("\n".join((header, *rows)) + "\n")
    return path


def ramp(folder: Path, *pitches: float) -> Path:
    return log(folder, *(f"{t},{p},0" for t, p in enumerate(pitches)))


def run(tank: Tank, path: Path, **options: object) -> Replay:
    return replay(tank, EDGE, FILL, path, LogOptions(**options), hold=1.5)


def loop(tank: Tank, ports, up: np.ndarray, fill: float) -> np.ndarray:
    """One call of the level solver a row, as anyone would write it first."""
    out = np.empty((len(up), 2))
    for k in range(len(up)):
        u = up[k : k + 1]
        level = levels(tank.tree, u, fill)[0][0]
        out[k, 0] = level - support_high(ports[0].discs, u)[0] - ports[0].required_cover
        out[k, 1] = support_low(ports[1].discs, u)[0] - level
    return out


def random_log(folder: Path, rows: int, seed: int = 1) -> tuple[Path, np.ndarray]:
    rng = np.random.default_rng(seed)
    readings = np.round(rng.normal(0.0, (14.0, 10.0), (rows, 2)), 2)
    readings = np.clip(readings, -44, 44)
    path = log(folder, *(f"{0.1 * k:.1f},{p:.2f},{r:.2f}" for k, (p, r) in enumerate(readings)))
    return path, up_from_inclinometer(*np.radians(readings).T)


def test_excursions_begin_and_end_at_the_closed_form_limit(tank: Tank, tmp_path: Path) -> None:
    path = ramp(tmp_path, 0, LIMIT - 0.01, LIMIT + 0.01, 20, LIMIT + 0.01, LIMIT - 0.01, 0, 16, 0)
    result = run(tank, path)
    (port,) = result.ports
    assert [(e.start_s, e.length_s, e.line) for e in port.excursions] == [(2, 3, 4), (7, 1, 9)]
    assert [e.worst.line for e in port.excursions] == [5, 9]
    assert port.seconds_out == 4.0
    assert port.longest_s == 3.0
    assert result.verdict == "broken"
    assert (port.outcome.kept_s, port.outcome.broken_s, port.outcome.not_known_s) == (4.0, 4.0, 0.0)
    assert [e.running_left_s for e in port.excursions] == [-1.5, 0.5]
    assert port.worst == port.excursions[0].worst


def test_depth_at_the_worst_row_is_the_closed_form(tank: Tank, tmp_path: Path) -> None:
    """Past the limit the wetted wedge has length l = sqrt(2 d L / tan); depth (L - l) sin."""
    slope = math.radians(25)
    wedge = math.sqrt(2 * 0.15 * 1.2 / math.tan(slope))
    (port,) = run(tank, ramp(tmp_path, 0, 25, 0)).ports
    assert port.worst.margin_m == pytest.approx(-(1.2 - wedge) * math.sin(slope), abs=1e-9)
    assert not port.excursions[0].cut_short


def test_all_well(tank: Tank, tmp_path: Path) -> None:
    result = run(tank, ramp(tmp_path, 0, 10, -30, 5))
    assert result.verdict == "kept"
    assert (result.outcome.kept_s, result.outcome.kept_share, result.outcome.kept_rows) == (
        3.0,
        1.0,
        4,
    )
    assert result.ports[0].excursions == ()
    assert result.ports[0].worst.line == 3


def test_trace_holds_the_margins(tank: Tank, tmp_path: Path) -> None:
    trace = run(tank, ramp(tmp_path, 0, 10, 20)).trace
    assert trace.least_m.shape == (3, 1)
    assert trace.start_s.tolist() == [0, 1, 2]
    assert trace.least_m[0, 0] == pytest.approx(0.15)
    assert trace.least_m[1, 0] > 0 > trace.least_m[2, 0]


def test_trace_of_a_long_log_keeps_its_extremes(tank: Tank, tmp_path: Path) -> None:
    pitches = np.zeros(9001)
    pitches[7777] = 20.0
    trace = run(tank, ramp(tmp_path, *pitches)).trace
    assert len(trace.start_s) <= 4000
    k = int(np.argmin(trace.least_m[:, 0]))
    assert trace.start_s[k] <= 7777 <= trace.end_s[k]
    assert trace.least_m[k, 0] < 0 < trace.greatest_m[k, 0]
    assert trace.end_s[-1] == 9000


def test_bad_rows_gaps_and_time_going_back_are_told_by_line(tank: Tank, tmp_path: Path) -> None:
    path = log(
        tmp_path,
        *("0,0,0", "1,x,0", "2,0", "", "3,0,0", "2.5,20,0", "4,120,0", "5,80,80", "6,0,0"),
        *("60,16,0", "61,16,0", "161,16,0", "162,0,0"),
    )
    result = run(tank, path, gap=10.0)
    assert [(p.line, p.words) for p in result.problems] == [
        (3, "no number in column 'pitch_deg'"),
        (4, "too few columns"),
        (5, "an empty line"),
        (7, "time goes back by 0.5 s"),
        (11, "a gap of 54 s before this line"),
        (13, "a gap of 100 s before this line"),
        (9, "no attitude reads 80° pitch, 80° roll"),
    ]
    assert result.problem_count == 7
    assert result.gaps == 2
    assert result.rows == 13
    back, over, first, second = result.ports[0].excursions
    assert (back.line, back.length_s, back.fault) == (7, 0.0, "")
    assert (over.line, over.length_s, over.fault) == (8, 0.0, "overturned")
    assert (first.start_s, first.length_s, first.cut_short) == (60.0, 1.0, True)
    assert (second.start_s, second.length_s, second.cut_short) == (161.0, 1.0, False)
    outcome = result.outcome
    assert (outcome.kept_s, outcome.broken_s, outcome.not_known_s) == (0.0, 2.0, 160.5)
    assert (outcome.kept_rows, outcome.broken_rows, outcome.not_known_rows) == (4, 5, 4)
    assert outcome.not_known_share == 160.5 / 162.5


def told(result: Replay) -> list[tuple[object, ...]]:
    return [
        (e.start_s, e.length_s, e.line, e.cut_short, round(e.worst.margin_m, 9))
        for e in result.ports[0].excursions
    ]


def test_blocks_do_not_show(tank: Tank, tmp_path: Path) -> None:
    pitches = [0, 16, 20, 16, 0, 0, 18, 0, 25, 26, 27] * 7
    rows = [f"{t},{p},0" for t, p in enumerate(pitches)]
    rows[20], rows[40], rows[30] = "oops,1,1", "3,1,1", f"\n\n{rows[30]}"
    path = log(tmp_path, *rows)
    whole = replay(tank, EDGE, FILL, path)
    for size in (1, 13, 64, 500):
        parts = replay(tank, EDGE, FILL, path, block_bytes=size)
        assert told(parts) == told(whole)
        assert parts.ports[0].worst.margin_m == pytest.approx(whole.ports[0].worst.margin_m)
        assert parts.rows == whole.rows
        assert sorted(p.line for p in parts.problems) == sorted(p.line for p in whole.problems)


def test_same_answer_as_the_loop_on_10_000_random_rows(tank: Tank, tmp_path: Path) -> None:
    path, up = random_log(tmp_path, 10_000)
    expected = loop(tank, PORTS, up, FILL)
    result = replay(tank, PORTS, FILL, path)
    for k, port in enumerate(result.ports):
        broken = expected[:, k] < 0.0
        starts = np.flatnonzero(broken & ~np.concatenate([[False], broken[:-1]]))
        assert port.excursion_count == len(starts)
        assert port.worst.margin_m == pytest.approx(expected[:, k].min(), abs=1e-9)
        assert port.worst.line == 2 + int(np.argmin(expected[:, k]))
    assert result.ports[0].excursion_count > 500


def test_table_is_right_in_sign_everywhere_and_near_in_size(tank: Tank) -> None:
    rng = np.random.default_rng(5)
    readings = np.radians(rng.uniform(-40, 40, (10_000, 2)))
    up = up_from_inclinometer(*readings.T)
    conditions = Conditions.of(tank, PORTS, FILL)
    table = MarginTable(conditions, step=1 / 128)
    rough, exact = table.margins(up), one_level_margins(conditions, up)
    table.margins(up)  # what was marked is known by now
    assert table.solved_nodes > 0
    assert (np.sign(rough) == np.sign(exact)).all()
    solved_again = table.margins(up)
    assert (np.sign(solved_again) == np.sign(exact)).all()
    error = np.abs(solved_again - exact)
    assert error.max() < 3e-4
    assert np.count_nonzero(error > 1e-12) > 0  # or the table was not used at all


def test_an_overturned_row_is_solved_outside_the_table(tank: Tank) -> None:
    conditions = Conditions.of(tank, PORTS, FILL)
    up = np.array([[0.6, 0.0, -0.8], [0.0, 0.0, 1.0]])
    np.testing.assert_allclose(
        MarginTable(conditions).margins(up), one_level_margins(conditions, up), atol=1e-12
    )


def test_memory_does_not_grow_with_the_log(tank: Tank, tmp_path: Path) -> None:
    peaks = []
    for rows in (10_000, 60_000):
        path, _ = random_log(tmp_path, rows)
        tracemalloc.start()
        replay(tank, PORTS, 4 * FILL, path, block_bytes=1 << 17)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.1 * peaks[0] + 1e6


def test_progress_counts_bytes_to_the_end(tank: Tank, tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    path = ramp(tmp_path, *range(10))
    replay(tank, EDGE, FILL, path, progress=lambda *x: seen.append(x), block_bytes=20)
    done = [d for d, _ in seen]
    assert done == sorted(done)
    assert done[-1] == seen[-1][1] == path.stat().st_size
    assert len(seen) > 1


def test_a_pair_of_readings_that_is_just_impossible_is_a_problem(
    tank: Tank, tmp_path: Path
) -> None:
    """sin² 50° + sin² 45° = 1.09: no attitude; sin² 50° + sin² 39° = 0.98 is one."""
    path = log(tmp_path, "0,0,0", "1,50,45", "2,50,39", header="time_s,pitch_deg,roll_deg")
    problems = run(tank, path).problems
    assert [(p.line, p.words) for p in problems] == [(3, "no attitude reads 50° pitch, 45° roll")]


def test_accelerations_tilt_what_the_liquid_feels(tank: Tank, tmp_path: Path) -> None:
    """0.4 g forward on the flat is 21.8014° nose up; braking is nose down."""
    path = log(tmp_path, "0,0,0,0.4", "1,0,0,-0.4", header="time_s,pitch_deg,roll_deg,ax_g")
    (port,) = run(tank, path).ports
    assert port.excursion_count == 1
    assert math.degrees(math.asin(port.worst.up[0])) == pytest.approx(21.8014, abs=5e-5)


def test_fill_column_takes_the_fill_s_place(tank: Tank, tmp_path: Path) -> None:
    """At 14.5 deg, twice the fill covers the edge and the usual one does not."""
    path = log(
        tmp_path,
        *("0,14.5,0,90", "1,14.5,0,180", "2,14.5,0,900"),
        header="time_s,pitch_deg,roll_deg,fill_L",
    )
    result = run(tank, path)
    assert [(e.start_s, e.length_s) for e in result.ports[0].excursions] == [(0.0, 1.0)]
    assert result.problems[0].words == "a fill of 900 L does not fit the tank"


def test_filter_lags_by_its_time_constant(tank: Tank, tmp_path: Path) -> None:
    """A step to 25 deg passes the limit after tau ln(1/(1 - part)), in the up vector's x."""
    rows = [f"{k / 100},{0 if k == 0 else 25},0" for k in range(1000)]
    path = log(tmp_path, *rows)
    assert run(tank, path).ports[0].excursions[0].start_s == pytest.approx(0.01)
    lagged = run(tank, path, time_constant=2.0).ports[0].excursions[0]
    slope, limit = math.radians(25), math.radians(LIMIT)
    # filtered (x, z) = (s sin, 1 - s (1 - cos)); its slope is the limit at
    part = math.tan(limit) / (math.sin(slope) + math.tan(limit) * (1 - math.cos(slope)))
    assert lagged.start_s == pytest.approx(-2.0 * math.log(1 - part), abs=0.011)


def test_route_climbs_and_bends(tank: Tank, tmp_path: Path) -> None:
    path = log(
        tmp_path,
        *("0,0,100,0", "10,100,100,0", "20,200,120,0", "30,300,150,0", "40,400,150,0"),
        *("41,410,150,90",),
        header="time_s,distance_m,elevation_m,heading_deg",
    )
    (port,) = run(tank, path).ports
    assert [(e.start_s, e.length_s) for e in port.excursions] == [(30.0, 10.0)]
    assert math.degrees(math.asin(port.worst.up[0])) == pytest.approx(
        math.degrees(math.asin(0.30)), abs=1e-9
    )


def test_a_right_bend_throws_the_liquid_left(tank: Tank, tmp_path: Path) -> None:
    """10 m/s turning 90 deg to the right in 2 s: 7.854 m/s² to the right, felt as left side down."""
    path = log(
        tmp_path,
        *("0,0,0,80", "2,20,0,80", "4,40,0,170"),
        header="time_s,distance_m,elevation_m,heading_deg",
    )
    left = (pickup("right edge", (0.6, 0.0, 0.0), cover=0.0),)
    (port,) = replay(tank, left, FILL, path).ports
    push = 10.0 * math.radians(90) / 2.0
    assert port.worst.line == 4
    assert port.worst.up[1] == pytest.approx(-push / math.hypot(push, 9.80665), rel=1e-9)
    assert port.excursion_count == 1


def test_route_without_times_needs_a_speed(tank: Tank, tmp_path: Path) -> None:
    path = log(tmp_path, "0,100", "100,130", header="distance_m,elevation_m")
    with pytest.raises(FileFormatError, match="needs a speed"):
        run(tank, path)
    result = run(tank, path, speed=10.0)
    assert result.end_s == 10.0
    assert result.ports[0].excursion_count == 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no header line"),
        ("time_s,pitch_deg,roll_deg\n", "a header and no rows"),
        ("time_s\n0\n", "has no columns"),
        ("time_s,pitch_deg\n0,0\n", "no column for roll"),
        ("time_s,pitch_deg,roll_deg\na,b,c\n", "no row that can be used"),
    ],
)
def test_hopeless_logs_are_refused(tank: Tank, tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(FileFormatError, match=message):
        replay(tank, EDGE, FILL, path)


def test_missing_file_and_bad_options_are_refused(tank: Tank, tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="cannot be read"):
        replay(tank, EDGE, FILL, tmp_path / "nothing.csv")
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(FileFormatError, match="a pipe or a device"):
        replay(tank, EDGE, FILL, tmp_path / "pipe.csv")
    with pytest.raises(FileFormatError, match="time constant"):
        LogOptions(time_constant=0.0)


def test_semicolons_commas_marks_and_remarks(tank: Tank, tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    text = (
        "\ufeff# from the cab\n\n# twice\ntime_s;pitch_deg;roll_deg\r\n0;0,5;0\r\n1;16,5;0\r\n2;0;0"
    )
    path.write_text(text, newline="")
    (port,) = replay(tank, EDGE, FILL, path).ports
    assert [(e.start_s, e.length_s, e.line) for e in port.excursions] == [(1.0, 1.0, 6)]


def test_one_false_time_far_ahead_leaves_the_rest_not_known(tank: Tank, tmp_path: Path) -> None:
    rows = [f"{t},0,0" for t in range(100)]
    rows[50] = "99999,0,0"
    result = run(tank, log(tmp_path, *rows))
    assert result.verdict == "not known"
    assert (result.rows, result.outcome.kept_rows, result.outcome.not_known_rows) == (100, 51, 49)
    assert result.outcome.kept_s == 49.0
    assert result.outcome.not_known_s == (99999 - 49) + 48  # the jump, and the rows after it
    assert "49 rows have no time, or one before a time already passed" in result.why_not_known[0]
    assert run(tank, ramp(tmp_path, *range(10))).why_not_known == ()


def test_rows_that_share_a_rounded_time_are_not_gaps(tank: Tank, tmp_path: Path) -> None:
    result = run(tank, log(tmp_path, *(f"{k // 10},0,0" for k in range(100))))
    assert (result.gaps, result.gap_s, result.rows) == (0, 3.0, 100)
