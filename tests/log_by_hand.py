"""A log judged row by row in a plain loop, as anyone would write it first: the oracle of ``replay``.

Knows the statement in docs/theory/replay.md and nothing of the reader, the table of margins or the
blocks. Only the level at one attitude is asked of the kernel, a call for each row.
"""

import csv
import math

import numpy as np

from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels

KEPT, BROKEN, NOT_KNOWN = 0, 1, 2


def number(text):
    try:
        found = float(text)
    except ValueError:
        return math.nan
    return found if math.isfinite(found) else math.nan


def spoilt_log(path, rows, seed, *, fills, spoilt=0.01):
    """A day on rolling ground, 10 rows a second, with faults of every kind in it."""
    rng = np.random.default_rng(seed)
    out = ["time_s,pitch_deg,roll_deg" + (",fill_L" if fills else "")]
    t = 0.0
    for k in range(rows):
        t += 0.1
        pitch = 14 * math.sin(k / 470) + 9 * math.sin(k / 31) + rng.normal(0, 0.4)
        roll = 9 * math.sin(k / 330) + 5 * math.sin(k / 23 + 1) + rng.normal(0, 0.4)
        cells = [f"{t:.1f}", f"{pitch:.2f}", f"{roll:.2f}"]
        if fills:
            cells.append(f"{90 + 30 * math.sin(k / 900):.2f}")
        if rng.random() < spoilt:
            kind = int(rng.integers(0, 12))
            if kind == 0:
                cells[1] = ""
            elif kind == 1:
                cells[2] = "ERR"
            elif kind == 2:
                cells[1] = "95"
            elif kind == 3:
                cells[2] = "-999"
            elif kind == 4:
                cells[1:3] = ["80", "80"]
            elif kind == 5:
                t += float(rng.integers(1, 90))
                cells[0] = f"{t:.1f}"
            elif kind == 6:
                cells[0] = f"{t - 0.35:.2f}"
            elif kind == 7:
                cells[0] = ""
            elif kind == 8:
                cells = cells[:2]
            elif kind == 9:
                cells = []
            elif fills:
                cells[3] = str(rng.choice(["0", "900", "-3", "", "479.9"]))
        out.append(",".join(cells))
    path.write_text("\n".join(out) + "\n")


def attitude(pitch_deg, roll_deg):
    """What an inclinometer's pair of readings (deg) is: an up vector or None, and whether it lies on its side."""
    steepest = max(abs(pitch_deg), abs(roll_deg))
    if steepest > 180.0:
        return None, False
    if steepest >= 90.0:
        return None, True
    x, y = math.sin(math.radians(pitch_deg)), math.sin(math.radians(roll_deg))
    if x * x + y * y > 1.0:
        return None, False
    # nose up lifts x; right side down lifts y, which points left
    return np.array([[x, y, math.sqrt(1.0 - x * x - y * y)]]), False


def judge(path, tank, ports, fill, gap):
    """Seconds and rows kept, broken and not known, all rules together, and excursions of each port.

    ``ports`` : a wet one and a dry one. ``gap`` [s].
    """
    wet, dry = ports
    seconds, counts, excursions = [0.0] * 3, [0] * 3, [0, 0]
    out_before = [False, False]
    latest, before, before_timed, before_time = -math.inf, None, True, None
    with path.open(newline="") as file:
        header, *rows = list(csv.reader(file))
    for cells in rows:
        read = (
            dict(zip(header, map(number, cells), strict=False)) if len(cells) == len(header) else {}
        )
        time = read.get("time_s", math.nan)
        timed = time >= latest
        latest = max(latest, time) if not math.isnan(time) else latest
        pitch, roll = read.get("pitch_deg", math.nan), read.get("roll_deg", math.nan)
        up, on_side = (None, False) if math.isnan(pitch + roll) else attitude(pitch, roll)
        litres = read.get("fill_L", math.nan) if "fill_L" in header else None
        state = [NOT_KNOWN, NOT_KNOWN]
        whole = NOT_KNOWN
        if litres is None:
            volume = fill
        elif math.isnan(litres) or litres < 0.0:
            volume = math.nan
        else:
            volume = litres / 1000.0
        empty, over = volume == 0.0, volume > tank.capacity
        if up is not None and not math.isnan(volume) and not empty and not over:
            level = levels(tank.tree, up, volume)[0][0]
            margins = (
                level - support_high(wet.discs, up)[0] - wet.required_cover,
                support_low(dry.discs, up)[0] - dry.required_cover - level,
            )
            state = [BROKEN if m < 0.0 else KEPT for m in margins]
            whole = max(state)
        if on_side:
            state, whole = [BROKEN, BROKEN], BROKEN
        elif empty or over:
            state, whole = [BROKEN if empty else state[0], BROKEN if over else state[1]], BROKEN
        shown = time if not math.isnan(time) else before_time
        sure = False
        if before is not None and shown is not None and before_time is not None:
            length = max(shown - before_time, 0.0)
            sure = timed and before_timed and length <= gap
            known = sure and NOT_KNOWN not in (before, whole)
            seconds[before if known else NOT_KNOWN] += length
        counts[NOT_KNOWN if whole == KEPT and not timed else whole] += 1
        for k in range(2):
            excursions[k] += state[k] == BROKEN and not (out_before[k] and sure)
            out_before[k] = state[k] == BROKEN
        before, before_timed, before_time = whole, timed, shown
    return seconds, counts, excursions
