"""Logs made here, each with its right answer written by hand: none is told 'kept' that is not.

The tank is a box 1.2 x 0.5 x 0.8 m with 90 L, 0.15 m deep; its pickup sits in the floor's front edge and
comes dry at tan = 2 x 0.15 / 1.2 nose up: 14.036 degrees, 25 % (closed form). The breather is under the
roof. 'asks' is an error that names what settles the doubt.
"""

import gzip
import itertools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from tanksolve.errors import FileFormatError
from tanksolve.geometry.parts import box
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.replay import log_rows
from tanksolve.questions.replay.replay import LogOptions, replay

TANK = box(1.2, 0.5, 0.8)
FILL = 0.09
PORTS = (
    pickup("edge", (1.2, 0.25, 0.0), cover=0.0),
    breather("breather", (0.6, 0.25, 0.78), bore=0.01, facing="down"),
)
KEPT, BROKEN, NOT_KNOWN, ASKS = "kept", "broken", "not known", "asks"
PLAIN = "time_s,pitch_deg,roll_deg"
FILLED = "time_s,pitch_deg,roll_deg,fill_L"
STAMPED = "time,pitch_deg,roll_deg"
COMMAS = "time_s;pitch_deg;roll_deg"
PUSHED = "time_s,pitch_deg,roll_deg,ax_g,ay_g,az_g"
ROUTE = "time_s,distance_m,elevation_m"
RIDE = "distance_m,elevation_m"


class Case(NamedTuple):
    """A log: its lines or its bytes, how it is to be read, and the right answer."""

    right: str
    header: str
    rows: Sequence[str]
    options: dict[str, Any]
    pack: Callable[[str], bytes]
    ending: str


CASES: dict[str, Case] = {}


def case(
    name: str,
    right: str,
    header: str,
    rows: Sequence[str],
    pack: Callable[[str], bytes] = str.encode,
    ending: str = ".csv",
    **options: Any,
) -> None:
    assert name not in CASES
    CASES[name] = Case(right, header, rows, options, pack, ending)


def day(*pitches: object, start: float = 0.0) -> list[str]:
    return [f"{start + t:g},{pitch},0" for t, pitch in enumerate(pitches)]


def fills(*litres: object) -> list[str]:
    return [f"{t},0,0,{v}" for t, v in enumerate(litres)]


def with_row(k: int, row: str, rows: Sequence[str]) -> list[str]:
    return [row if j == k else r for j, r in enumerate(rows)]


LEVEL = day(*([0] * 30))

# --- whole logs
case("level all day", KEPT, PLAIN, LEVEL)
case("just within the limit", KEPT, PLAIN, day(0, 14.0, 14.0, 0))
case("just beyond the limit", BROKEN, PLAIN, day(0, 14.1, 14.1, 0))
case("one row of a thousand beyond", BROKEN, PLAIN, with_row(700, "700,15,0", day(*([0] * 1000))))
case("beyond in its last row only", BROKEN, PLAIN, day(0, 0, 0, 15))
case("nose-down column, nose up 20", BROKEN, "time_s,pitch_nose_down_deg,roll_deg", day(0, -20, 0))
case("nose-down column, nose down 20", KEPT, "time_s,pitch_nose_down_deg,roll_deg", day(0, 20, 0))
case("grade of 24 %", KEPT, "time_s,pitch_%,roll_deg", day(0, 24, 0))
case("grade of 26 %", BROKEN, "time_s,pitch_%,roll_deg", day(0, 26, 0))
case("units in a row of their own", KEPT, "time,pitch,roll", ["s,deg,deg", *day(0, 14, 0)])
case("grades in a row of their own", BROKEN, "time,pitch,roll", ["s,%,deg", *day(0, 26, 0)])

# --- the liquid in it
case("a fill column as told", KEPT, FILLED, fills(90, 90, 90))
case("empty all day", BROKEN, FILLED, fills(0, 0, 0))
case("empty in one row", BROKEN, FILLED, fills(90, 0, 90))
case("overfull in one row", BROKEN, FILLED, fills(90, 900, 90))
case("overfull by half a litre", BROKEN, FILLED, fills(90, 480.5, 90))
case("a fill below nought", NOT_KNOWN, FILLED, fills(90, -3, 90))
case("a fill left out", NOT_KNOWN, FILLED, fills(90, "", 90))
case("a fill that is no number", NOT_KNOWN, FILLED, fills(90, "nan", 90))
case("the breather goes under", BROKEN, FILLED, fills(90, 475, 90))

# --- how it stands
case("on its tail", BROKEN, PLAIN, day(0, 95, 0))
case("on its nose, all liquid at the pickup", BROKEN, PLAIN, day(0, -95, 0))
case("on its side", BROKEN, PLAIN, ["0,0,0", "1,0,-95", "2,0,0"])
case("upright on its end", BROKEN, PLAIN, day(0, -90, 0))
case("on its roof, by rotations", BROKEN, PLAIN, ["0,0,0", "1,0,180", "2,0,0"], reading="rotations")
case("on its side, by projections", BROKEN, PLAIN, ["0,0,0", "1,0,100"], reading="projected")
case("a pair no inclinometer reads", NOT_KNOWN, PLAIN, ["0,0,0", "1,-80,80", "2,0,0"])
case("the same by rotations", KEPT, PLAIN, ["0,0,0", "1,-13,13", "2,0,0"], reading="rotations")
case("a turn past the circle", NOT_KNOWN, PLAIN, day(0, 400, 0))
case("a sensor's mark for no value", NOT_KNOWN, PLAIN, day(0, -999, 0))
case("degrees told as radians", NOT_KNOWN, "time_s,pitch_rad,roll_rad", day(0, -10, 0))
case("a pitch left out", NOT_KNOWN, PLAIN, day(0, "", 0))
case("a roll left out", NOT_KNOWN, PLAIN, ["0,0,0", "1,0,", "2,0,0"])
case("a word for a pitch", NOT_KNOWN, PLAIN, day(0, "ERR", 0))
case("an endless pitch", NOT_KNOWN, PLAIN, day(0, "inf", 0))
case("a broken row beside one left out", BROKEN, PLAIN, day(0, "", 20, 0))

# --- rows that are missing
case("49 blank rows of 50", NOT_KNOWN, PLAIN, ["0,0,0", *([",,"] * 49)])
case(
    "49 rows of 50 with a time only", NOT_KNOWN, PLAIN, ["0,0,0", *(f"{t},," for t in range(1, 50))]
)
case("48 empty lines in between", NOT_KNOWN, PLAIN, ["0,0,0", *([""] * 48), "1,0,0"])
case("an empty line at the end", KEPT, PLAIN, [*LEVEL, ""])
case("empty lines for half the log", NOT_KNOWN, PLAIN, [*LEVEL, *([""] * 30)])
case("a row cut short", NOT_KNOWN, PLAIN, ["0,0,0", "1,0", "2,0,0"])
case("the last row cut short", NOT_KNOWN, PLAIN, [*LEVEL, "30,0"])
case("a row with a field too many", NOT_KNOWN, PLAIN, ["0,0,0", "1,-25,5,0", "2,0,0"])
case("every row with fields too many", ASKS, PLAIN, [f"{t},-25,5,0,0" for t in range(9)])
case("separators at every row's end", KEPT, PLAIN, [f"{row}," for row in LEVEL])
case("a remark among the rows", NOT_KNOWN, PLAIN, with_row(9, "# battery changed", LEVEL))
case("one row alone", NOT_KNOWN, PLAIN, day(0))
case("one row alone, broken", BROKEN, PLAIN, day(20))

# --- time
case("one false time far ahead", NOT_KNOWN, PLAIN, with_row(2, "99999,0,0", LEVEL))
case(
    "one false time, then broken",
    BROKEN,
    PLAIN,
    with_row(20, "20,16,0", with_row(2, "9e4,0,0", LEVEL)),
)
case("a false time that is broken", BROKEN, PLAIN, with_row(9, "3,16,0", LEVEL))
case("time goes back by half a second", NOT_KNOWN, PLAIN, with_row(9, "7.5,0,0", LEVEL))
case("a time left out", NOT_KNOWN, PLAIN, with_row(9, ",0,0", LEVEL))
case("a time left out, broken there", BROKEN, PLAIN, with_row(9, ",20,0", LEVEL))
case("the first time left out", NOT_KNOWN, PLAIN, with_row(0, ",0,0", LEVEL))
case("no times at all", NOT_KNOWN, PLAIN, [",0,0"] * 9)
case("all rows at one time", NOT_KNOWN, PLAIN, ["5,0,0"] * 9)
case("times rounded to the second", KEPT, PLAIN, [f"{k // 10},0,0" for k in range(100)])
case("an hour is missing", NOT_KNOWN, PLAIN, [*LEVEL, *day(0, 0, 0, start=3630)])
case("an hour is missing, as told", KEPT, PLAIN, [*LEVEL, *day(0, 0, start=3630)], gap=4000.0)
case("five rows are missing", NOT_KNOWN, PLAIN, [*LEVEL, *day(0, 0, 0, start=35)])
case("one row is missing", KEPT, PLAIN, [*LEVEL, *day(0, 0, 0, start=31)])
case("seconds of the day past midnight", NOT_KNOWN, PLAIN, [*day(0, 0, start=86398), *day(0, 0)])


def stamps(*texts: str, pitch: object = 0) -> list[str]:
    return [f"{text},{pitch},0" for text in texts]


def autumn(summer: str, winter: str) -> list[str]:
    """Ten minutes apart over the hour that comes twice on 25 October 2026."""
    at = [f"2026-10-25T{h:02}:{m:02}:00" for h in (1, 2) for m in range(0, 60, 10)]
    back = [f"2026-10-25T{h:02}:{m:02}:00" for h in (2, 3) for m in range(0, 60, 10)]
    return stamps(*(t + summer for t in at), *(t + winter for t in back))


def spring(winter: str, summer: str) -> list[str]:
    at = [f"2026-03-29T01:{m:02}:00" for m in range(0, 60, 10)]
    on = [f"2026-03-29T03:{m:02}:00" for m in range(0, 60, 10)]
    return stamps(*(t + winter for t in at), *(t + summer for t in on))


case("autumn with right offsets", KEPT, STAMPED, autumn("+02:00", "+01:00"))
case("autumn with short offsets", KEPT, STAMPED, autumn("+0200", "+0100"))
case("autumn without offsets", NOT_KNOWN, STAMPED, autumn("", ""))
case("autumn with one offset for all", NOT_KNOWN, STAMPED, autumn("+02:00", "+02:00"))
case("spring with right offsets", KEPT, STAMPED, spring("+01:00", "+02:00"))
case("spring without offsets", NOT_KNOWN, STAMPED, spring("", ""))
case(
    "offsets, then broken",
    BROKEN,
    STAMPED,
    [*autumn("+02:00", "+01:00"), *stamps("2026-10-25T04:00:00+01:00", pitch=20)],
)
Z = [f"2026-05-01T10:00:{s:02}Z" for s in range(9)]
case("stamps in UTC", KEPT, STAMPED, stamps(*Z))
case("one stamp without its zone", NOT_KNOWN, STAMPED, stamps(*Z[:4], Z[4][:-1], *Z[5:]))
case(
    "a 30th of February",
    NOT_KNOWN,
    STAMPED,
    stamps("2026-02-28 10:00:00", "2026-02-30 10:00:01", "2026-02-28 10:00:02"),
)
case(
    "a 31st of April",
    NOT_KNOWN,
    STAMPED,
    stamps("2026-04-30T10:00:00Z", "2026-04-31T10:00:01Z", "2026-04-30T10:00:02Z"),
)
case(
    "fractions of a second after a comma",
    KEPT,
    STAMPED.replace(",", ";"),
    [f"2026-05-01 10:00:00,{k}00;0;0" for k in range(9)],
)
DMY = [f"03/04/2026 10:00:{s:02}" for s in range(9)]
case("third of April or fourth of March", ASKS, STAMPED, stamps(*DMY))
case("third of April, as told", KEPT, STAMPED, stamps(*DMY), units={"time": "d/m/y"})
case(
    "fourth of March over a month's end",
    KEPT,
    STAMPED,
    stamps("04/30/2026 23:59:59", "05/01/2026 00:00:00"),
    units={"time": "m/d/y"},
)
case(
    "the same read as days first",
    NOT_KNOWN,
    STAMPED,
    stamps("04/30/2026 23:59:59", "05/01/2026 00:00:00"),
    units={"time": "d/m/y"},
)

# --- decimal marks
case(
    "quoted decimal commas, broken",
    BROKEN,
    "time_s,roll_deg,pitch_deg",
    ['0,"0,9","0"', '1,"0,9","25,5"', '2,"0,9","0,1"'],
)
case(
    "quoted decimal commas, kept",
    KEPT,
    "time_s,roll_deg,pitch_deg",
    ['0,"0,9","0"', '1,"0,9","-25,5"', '2,"0,9","0,1"'],
)
case("quoted decimal commas, in full", BROKEN, PLAIN, [f'"{t},0","14,5","0,0"' for t in range(5)])
case("quoted decimal points", BROKEN, PLAIN, [f'"{t}.0","14.5","0.0"' for t in range(5)])
case("decimal commas between semicolons, kept", KEPT, COMMAS, ["0,5;13,9;0", "1,5;13,9;0"])
case("decimal commas between semicolons, broken", BROKEN, COMMAS, ["0,5;14,2;0", "1,5;13,9;0"])
case(
    "decimal commas between tabs", BROKEN, COMMAS.replace(";", "\t"), ["0,5\t14,2\t0", "1,5\t0\t0"]
)
case("decimal points between semicolons", BROKEN, COMMAS, ["0.5;14.2;0", "1.5;13.9;0"])
THREE = ['"1,201","0","0"', '"1,202","0","0"', '"1,203","0","0"']
case("thousands or three decimals", ASKS, PLAIN, THREE)
case("three decimals, as told", KEPT, PLAIN, THREE, decimal="comma")
case("thousands, as told", NOT_KNOWN, PLAIN, THREE, decimal="point")
case("points in one column, commas in another", ASKS, COMMAS, ["0.5;14,2;0", "1.5;13,9;0"])
case("points and commas in one number", ASKS, COMMAS, ["1.200,5;0,5;0", "1.201,5;0,5;0"])
case(
    "one decimal point among commas",
    NOT_KNOWN,
    COMMAS,
    [*(f"{t},0;0,5;0" for t in range(5000)), "5000,0;13.5;0", "5001,0;0,5;0"],
)

# --- what a file can be
case(
    "lines as another system ends them",
    BROKEN,
    PLAIN,
    day(0, 15, 0),
    lambda s: s.replace("\n", "\r\n").encode(),
)
case(
    "lines that end by a return alone",
    BROKEN,
    PLAIN,
    day(0, 15, 0),
    lambda s: s.replace("\n", "\r").encode(),
)
case("16-bit text", BROKEN, PLAIN, day(0, 15, 0), lambda s: s.encode("utf-16"))
case("16-bit text, kept", KEPT, PLAIN, day(0, 13, 0), lambda s: s.encode("utf-16"))
case("a mark of 8-bit text", KEPT, PLAIN, day(0, 13, 0), lambda s: s.encode("utf-8-sig"))
case(
    "a degree sign of one byte",
    BROKEN,
    "time_s,pitch [°],roll [°]",
    day(0, 15, 0),
    lambda s: s.encode("cp1252"),
)
case("squeezed", BROKEN, PLAIN, day(0, 15, 0), lambda s: gzip.compress(s.encode()), ".csv.gz")
case("squeezed, kept", KEPT, PLAIN, day(0, 13, 0), lambda s: gzip.compress(s.encode()), ".gz")
case(
    "squeezed and cut off",
    ASKS,
    PLAIN,
    day(*([0] * 5000)),
    lambda s: gzip.compress(s.encode())[:-200],
    ".csv.gz",
)
case(
    "a quote that never ends",
    NOT_KNOWN,
    f"{PLAIN},note",
    [*(f"{r},ok" for r in LEVEL), '30,0,0,"stop', "31,0,0,ok"],
)
case("separators within notes", KEPT, f"note,{PLAIN}", [f'"a, b","{t}",0,0' for t in range(9)])


# --- accelerations
def pushed(*rows: tuple[float, ...]) -> list[str]:
    return [f"{t},{','.join(f'{x:.5f}' for x in row)}" for t, row in enumerate(rows)]


def resting(pitch: float, count: int = 9) -> list[str]:
    """What an accelerometer fixed to the machine reads at rest, nose up by ``pitch`` degrees."""
    p = np.radians(pitch)
    return pushed(*([(pitch, 0, np.sin(p), 0, np.cos(p))] * count))


case(
    "a machine's own accelerations",
    KEPT,
    PUSHED,
    pushed((0, 0, 0.05, 0, 0.1), (0, 0, -0.05, 0, -0.1)),
)
case("a machine's own, broken", BROKEN, PUSHED, pushed((0, 0, 0.4, 0, 0), (0, 0, -0.4, 0, 0)))
case(
    "an upright accelerometer",
    ASKS,
    "time_s,pitch_deg,roll_deg,az_g",
    [f"{t},-28,0,0.99" for t in range(9)],
)
case(
    "an upright accelerometer in m/s2",
    ASKS,
    "time_s,pitch_deg,roll_deg,az_m/s2",
    [f"{t},0,0,9.7" for t in range(9)],
)
case(
    "one mounted upside down",
    ASKS,
    "time_s,pitch_deg,roll_deg,az_g",
    [f"{t},0,0,-1.01" for t in range(9)],
)
case(
    "one mounted on its side",
    ASKS,
    "time_s,pitch_deg,roll_deg,ax_g",
    [f"{t},0,0,1.0" for t in range(9)],
)
case(
    "one that starts late",
    ASKS,
    "time_s,pitch_deg,roll_deg,az_g",
    [f"{t},0,0,{0.0 if t < 4000 else 1.0}" for t in range(20000)],
)
case(
    "a third axis left out",
    ASKS,
    "time_s,pitch_deg,roll_deg,ax_g",
    [f"{t},{p},0,{np.sin(np.radians(p)):.4f}" for t, p in enumerate([0, 5, 10, 13, -9, -12, 3])],
)
case("felt, steep", BROKEN, PUSHED, resting(14.2), acceleration="felt")
case("felt, within", KEPT, PUSHED, resting(13.9), acceleration="felt")
case(
    "felt, without pitch and roll",
    BROKEN,
    "time_s,ax_g,ay_g,az_g",
    ["0,0.3,0,0.95", "1,0,0,1"],
    acceleration="felt",
)
case("felt, not told", ASKS, "time_s,ax_g,ay_g,az_g", ["0,0.3,0,0.95", "1,0,0,1"])
case(
    "felt, one axis only",
    ASKS,
    "time_s,pitch_deg,roll_deg,az_g",
    [f"{t},0,0,1" for t in range(9)],
    acceleration="felt",
)
case(
    "felt, upside down",
    BROKEN,
    PUSHED,
    pushed(*([(0, 0, 0, 0, 1)] * 9), (0, 0, 0, 0, -1)),
    acceleration="felt",
)
case(
    "in free fall once",
    NOT_KNOWN,
    PUSHED,
    pushed(*([(0, 0, 0, 0, 0)] * 9), (0, 0, 0, 0, -1), (0, 0, 0, 0, 0)),
)
case(
    "a push left out", NOT_KNOWN, "time_s,pitch_deg,roll_deg,ax_g", ["0,0,0,0", "1,0,0,", "2,0,0,0"]
)


# --- routes
def route(*places: tuple[object, object]) -> list[str]:
    return [f"{10 * t},{d},{e}" for t, (d, e) in enumerate(places)]


case("a level route", KEPT, ROUTE, route((0, 5), (100, 5), (200, 5)))
case("a route at 20 %", KEPT, ROUTE, route((0, 0), (100, 20), (200, 40)))
case("a route at 30 %", BROKEN, ROUTE, route((0, 0), (100, 20), (200, 50), (300, 50)))
case("stands on 20 %", KEPT, ROUTE, route((0, 0), (100, 20), (100, 20), (100, 20), (200, 40)))
case("stands on a climb before it starts", BROKEN, ROUTE, route((0, 0), (0, 0), (100, 30)))
case(
    "stands while its height wanders",
    KEPT,
    ROUTE,
    route((0, 0), (100, 20), (100, 21), (100, 20.5), (200, 40.5)),
)
case(
    "climbs with a coarse odometer",
    ASKS,
    ROUTE,
    route((0, 0), (0, 10), (0, 20), (100, 30), (100, 40), (100, 50), (200, 60)),
)
case("a route that never moves", ASKS, ROUTE, route((5, 0), (5, 0), (5, 0)))
case("a height left out", NOT_KNOWN, ROUTE, route((0, 0), (100, 5), (200, ""), (300, 5), (400, 5)))
case(
    "stands where a height is missing",
    NOT_KNOWN,
    ROUTE,
    route((0, 0), (100, 5), (200, ""), (200, 5), (300, 9)),
)
case("rises more than it goes", NOT_KNOWN, ROUTE, route((0, 0), (100, 5), (110, -25), (210, -25)))
case("distance goes back", NOT_KNOWN, ROUTE, route((0, 0), (100, 5), (0, 5), (100, 5)))
case("a route by distance alone", KEPT, RIDE, ["0,0", "100,20", "200,20"], speed=5.0)
case("a route by distance alone, broken", BROKEN, RIDE, ["0,0", "100,30", "200,30"], speed=5.0)


def written(folder: Path, what: Case) -> Path:
    path = folder / f"day{what.ending}"
    path.write_bytes(what.pack("\n".join((what.header, *what.rows)) + "\n"))
    return path


def told(path: Path, options: dict[str, Any], **how: Any) -> str:
    try:
        return replay(TANK, PORTS, FILL, path, LogOptions(**options), **how).verdict
    except FileFormatError as error:
        return ASKS if error.where and (error.allowed or error.next_step) else error.message


@pytest.mark.parametrize("name", CASES)
def test_answer_is_the_one_written_by_hand(name: str, tmp_path: Path) -> None:
    what = CASES[name]
    assert told(written(tmp_path, what), what.options) == what.right


@pytest.mark.parametrize("name", CASES)
def test_answer_does_not_rest_on_how_the_file_is_cut(name: str, tmp_path: Path) -> None:
    what = CASES[name]
    if len(what.rows) > 1000:
        pytest.skip("a long log in blocks of two rows takes a minute")
    assert told(written(tmp_path, what), what.options, block_bytes=40) == what.right


@pytest.mark.parametrize("name", CASES)
def test_answer_is_the_same_by_the_table_library(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(log_rows, "SMALL", 0)
    what = CASES[name]
    assert told(written(tmp_path, what), what.options) == what.right


def test_the_set_is_large_and_has_every_answer() -> None:
    assert len(CASES) >= 60
    for right in (KEPT, BROKEN, NOT_KNOWN, ASKS):
        assert sum(what.right == right for what in CASES.values()) >= 10
    assert all(a != b for a, b in itertools.combinations([w[1:] for w in CASES.values()], 2))
