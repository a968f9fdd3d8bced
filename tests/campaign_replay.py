"""Replay of 100,000 rows with faults of every kind, with and without a fill column, against a plain loop.

``PYTHONPATH=.:cli:tests python tests/campaign_replay.py [rows]``; half a minute of processor time. Prints
what differs, and the processor time of both; a bounded one runs in tests/questions/replay/test_by_hand.py.
"""

import sys
import tempfile
import time
from pathlib import Path

from log_by_hand import judge, spoilt_log

from tanksolve.geometry.parts import box
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.replay.replay import replay

PORTS = (
    pickup("suction", (0.2, 0.25, 0.04), bore=0.0254, facing="down"),
    breather("breather", (0.6, 0.25, 0.5), bore=0.01, facing="down"),
)


def main(rows: int) -> None:
    tank, path = box(1.2, 0.5, 0.8), Path(tempfile.mkdtemp()) / "day.csv"
    for seed, (fills, spoilt) in enumerate(((False, 0.001), (False, 0.02), (True, 0.02))):
        spoilt_log(path, rows, seed, fills=fills, spoilt=spoilt)
        begun = time.process_time()
        found = replay(tank, PORTS, 0.09, path)
        middle = time.process_time()
        seconds, counts, excursions = judge(path, tank, PORTS, 0.09, found.gap_s)
        looped = time.process_time() - middle
        told = found.outcome
        same = (
            counts == [told.kept_rows, told.broken_rows, told.not_known_rows]
            and excursions == [port.excursion_count for port in found.ports]
            and max(
                abs(a - b)
                for a, b in zip(
                    seconds, (told.kept_s, told.broken_s, told.not_known_s), strict=True
                )
            )
            < 1e-6 * rows
        )
        print(
            f"{rows} rows, {'with' if fills else 'no'} fill column, {100 * spoilt:g} % spoilt: "
            f"{'same' if same else 'DIFFERENT'}; rows kept, broken, not known {counts}, excursions {excursions}; "
            f"{middle - begun:.2f} s, the loop {looped:.2f} s of processor time"
        )
        if not same:
            print("  told", told, [port.excursion_count for port in found.ports])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
