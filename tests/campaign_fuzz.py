"""Fuzzes every reader of outside input: ``python tests/campaign_fuzz.py --minutes 60``.

Takes the targets of tests/fuzzing.py in turn. Inputs that reach lines of the program that none reached before
are kept in tests/corpus/TARGET, so the next run begins where this one ended; findings (a traceback, more than
10 s of processor time or 1 GB, an empty or unclean message, a file left behind) are kept in
tests/corpus/TARGET too, and printed. The suite replays the corpus and tries a few inputs more
(tests/gate/test_fuzz.py). ``--no-keep`` writes only findings.
"""

import argparse
import random
import resource
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "cli"), str(ROOT / "tests")]
MEMORY = 1 << 30  # bytes beyond what the process has at first
MOST_KEPT = 150  # inputs of a target: the suite replays them


def main() -> int:
    """Fuzz; exit code 1 where anything was found."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60.0, help="of processor time")
    parser.add_argument(
        "--inputs", type=int, default=10**9, help="at most, of all targets together"
    )
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--target", action="append", help="only this; may be repeated")
    parser.add_argument("--no-keep", action="store_true")
    asked = parser.parse_args()
    import fuzzing

    targets = asked.target or list(fuzzing.TARGETS)
    known = {target: fuzzing.seeds(target) for target in targets}
    cover = {target: fuzzing.Coverage() for target in targets}
    for target in targets:
        fuzzing.outcome(target, known[target][0])  # what is compiled at first use is not traced
        for data in known[target]:
            cover[target].of(lambda t=target, d=data: fuzzing.outcome(t, d))
    if sys.platform == "linux":
        now = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (now + MEMORY, now + MEMORY))
    end, tried, found = time.process_time() + 60.0 * asked.minutes, 0, 0
    chance = random.Random(asked.seed)
    counts: dict[str, int] = {}
    while time.process_time() < end and tried < asked.inputs:
        target = targets[tried % len(targets)]
        tried += 1
        data = fuzzing.spoiled(target, known[target], chance)
        told, new = cover[target].of(lambda t=target, d=data: fuzzing.outcome(t, d))
        counts[told if told in ("result", "refused") else "FOUND"] = (
            counts.get(told if told in ("result", "refused") else "FOUND", 0) + 1
        )
        if told not in ("result", "refused"):
            found += 1
            print(f"{target}: {fuzzing.keep(target, data)}\n{told}", flush=True)
        elif new:
            known[target].append(data)
            if not asked.no_keep and len(known[target]) < MOST_KEPT:
                fuzzing.keep(target, data)
        if tried % 500 == 0:
            print(f"{tried} inputs, {counts}", flush=True)
    lines = {target: len(cover[target].lines) for target in targets}
    print(f"{tried} inputs, seed {asked.seed}: {counts}; lines reached {lines}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
