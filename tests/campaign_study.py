"""Studies on trial: 1,000 variants of the demo, in processes, on a cluster, killed, bereft of a worker.

    PYTHONPATH=.:cli:tests python tests/campaign_study.py FOLDER [--variants 1000] [--kills 10] [PHASE ...]

Phases, in this order by default: ``two`` and ``one`` (processes), ``cluster`` (a Dask scheduler and two
workers of one thread, started here), ``killed`` (kill -9 of the program at random moments, then gone on
with), ``bereft`` (a worker of the cluster is killed half-way), ``many`` (100,000 rows of a box's capacity
alone: cheap variants, to see the memory), ``chunks`` (what Dask itself costs). Needs ``pip install -e
'.[dev]'``, two processors and 20 minutes of their time. Each phase prints its figures and adds them to
FOLDER/figures.json; results of all but the last two must be the same bytes.

Speed is told twice: by the clock, which other work on the machine upsets, and by processor time, as
rows' seconds x processes / processor seconds of everything that ran, times the balance between the
processes: what two free processors would gain, if they shared nothing that is scarce.
"""

import argparse
import atexit
import contextlib
import json
import os
import random
import re
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

QUIETER = {  # as docs/study.md says: Dask's own watching takes a tenth of a processor otherwise
    "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "False",
    "DASK_DISTRIBUTED__ADMIN__TICK__INTERVAL": "1s",
    "DASK_DISTRIBUTED__ADMIN__SYSTEM_MONITOR__INTERVAL": "10s",
    "DASK_DISTRIBUTED__WORKER__MEMORY__MONITOR_INTERVAL": "5s",
}
RESULTS = ("results.csv", "results.parquet")
DEMO = Path(__file__).resolve().parents[1] / "meshes" / "hillside_sprayer.toml"
STUDY = """tanksolve_study = 1
name = "the demo, coarsely"
tank = "demo.toml"
compute = ["worst_slope", "capacity", "liquid_mass"]
[settings]
tolerance = "2 deg"
search_to = "20 deg"
headings_every = "90 deg"
[sample]
variants = {variants}
seed = 17
[[vary]]
key = "sump.sump.depth"
from = "30 mm"
to = "70 mm"
[[vary]]
keys = ["internal.sump pipe.mouth", "port.sump pickup.at.up"]
from = "-60 mm"
to = "10 mm"
[[vary]]
key = "baffle.rear baffle.at"
from = "250 mm"
to = "400 mm"
[[vary]]
key = "port.breather.at.forward"
from = "100 mm"
to = "800 mm"
[[vary]]
key = "tank.height"
from = "280 mm"
to = "340 mm"
[[want]]
measure = "worst_slope"
at_least = "10 deg"
aim = "most"
[[want]]
measure = "capacity"
aim = "least"
"""
BOXES = """tanksolve_study = 1
tank = "box.toml"
compute = ["capacity", "length"]
[[vary]]
key = "tank.length"
from = "500 mm"
to = "1499 mm"
step = "1 mm"
[[vary]]
key = "tank.width"
from = "301 mm"
to = "400 mm"
step = "1 mm"
[[want]]
measure = "capacity"
at_least = "50 L"
aim = "least"
"""


def study(folder, out, *options, cwd=None):
    """Start the program on the study."""
    command = [sys.executable, "-m", "tanksolve_cli", "study", "study.toml", "--out", out, *options]
    places = os.pathsep.join(str(Path(place).resolve()) for place in sys.path if place)
    env = {**os.environ, "PYTHONPATH": places}
    return subprocess.Popen(command, cwd=folder, env=env, stdout=subprocess.DEVNULL)


def used():
    """Processor seconds of all processes that were started and have ended."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return children.ru_utime + children.ru_stime


def rows(folder, out):
    """The rows' file as (number, seconds)."""
    text = (folder / out / "rows.log").read_text()
    return [json.loads(line[9:]) for line in text.splitlines()]


def ended(process):
    assert process.wait() == 0, f"the program ended with {process.returncode}"


def timed(folder, out, *options):
    """A whole run: its figures."""
    clock, before = time.monotonic(), used()
    ended(study(folder, out, *options))
    spent = used() - before
    seconds = [row["seconds"] for _, row in rows(folder, out)]
    return {
        "rows": len(seconds),
        "clock_s": round(time.monotonic() - clock, 1),
        "processor_s": round(spent, 1),
        "rows_s": round(sum(seconds), 1),
    }


def same(folder, one, other):
    return all(
        (folder / one / f).read_bytes() == (folder / other / f).read_bytes() for f in RESULTS
    )


def two(folder, options):
    return timed(folder, "two", "--processes", "2")


def one(folder, options):
    return {**timed(folder, "one", "--processes", "1"), "same_bytes": same(folder, "one", "two")}


class Cluster:
    """A scheduler and two workers, as a user starts them."""

    def __init__(self, folder):
        self.file = folder / "scheduler.json"
        self.file.unlink(missing_ok=True)
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": folder}
        places = os.pathsep.join(str(Path(place).resolve()) for place in sys.path if place)
        quiet["env"] = {**os.environ, **QUIETER, "PYTHONPATH": places}
        dask = [sys.executable, "-m", "dask"]
        file = ["--scheduler-file", str(self.file)]
        self.parts = [
            subprocess.Popen([*dask, "scheduler", *file, "--port", "0", "--no-dashboard"], **quiet)
        ]
        for _ in range(2):
            command = [*dask, "worker", *file, "--nthreads", "1", "--no-dashboard"]
            self.parts.append(subprocess.Popen(command, **quiet))
        atexit.register(self.end)  # whatever goes wrong, it is not left behind
        while not self.file.exists():
            time.sleep(0.1)

    def lose_a_worker(self):
        """Kill the process that works, not the nanny that starts another in its place."""
        os.kill(children(self.parts[1].pid)[0], signal.SIGKILL)

    def end(self):
        for part in self.parts[::-1]:
            part.terminate()
        for part in self.parts:
            part.wait()
        self.parts = []


def children(pid):
    found = []
    with contextlib.suppress(OSError):  # a thread, or the process, may end meanwhile
        for task in Path(f"/proc/{pid}/task").iterdir():
            found += [int(word) for word in (task / "children").read_text().split()]
    return found


def cluster(folder, options):
    before = used()
    dask = Cluster(folder)
    figures = timed(folder, "cluster", "--cluster", str(dask.file))
    dask.end()
    figures["processor_s"] = round(used() - before, 1)
    return {**figures, "same_bytes": same(folder, "cluster", "two")}


def killed(folder, options):
    """Kill the program at random moments: some before a row is done, some between."""
    dice, moments = random.Random(17), []
    seconds = json.loads((folder / "figures.json").read_text())["two"]["clock_s"]
    for _ in range(options.kills):
        program = study(folder, "killed", "--processes", "2")
        at = dice.uniform(0.0, 1.6 * seconds / options.kills)
        try:
            program.wait(at)
            break  # it was quicker than it was to be
        except subprocess.TimeoutExpired:
            program.send_signal(signal.SIGKILL)
            program.wait()
        log = folder / "killed" / "rows.log"
        moments.append(
            {"after_s": round(at, 1), "rows": log.read_bytes().count(b"\n") if log.exists() else 0}
        )
    ended(study(folder, "killed", "--processes", "2"))
    found = rows(folder, "killed")
    twice = len(found) - len({number for number, _ in found})
    return {"kills": moments, "rows_twice": twice, "same_bytes": same(folder, "killed", "two")}


def bereft(folder, options):
    """The last tenth of the study on the cluster, a worker killed meanwhile."""
    (folder / "bereft").mkdir(exist_ok=True)
    lines = (folder / "two" / "rows.log").read_bytes().splitlines(keepends=True)
    (folder / "bereft" / "rows.log").write_bytes(b"".join(lines[: -(len(lines) // 10)]))
    (folder / "bereft" / "study.json").write_bytes((folder / "two" / "study.json").read_bytes())
    there = len(rows(folder, "bereft"))
    dask = Cluster(folder)
    program = study(folder, "bereft", "--cluster", str(dask.file))
    while len((folder / "bereft" / "rows.log").read_bytes().splitlines()) <= there:
        assert program.poll() is None
        time.sleep(0.05)
    dask.lose_a_worker()
    ended(program)
    dask.end()
    return {"rows_anew": len(lines) // 10, "same_bytes": same(folder, "bereft", "two")}


def many(folder, options):
    """100,000 rows; the greatest memory of the program and of its processes."""
    from studies import BOX

    (folder / "box.toml").write_text(BOX)
    (folder / "study.toml").write_text(BOXES)
    clock, before = time.monotonic(), used()
    program = study(folder, "many", "--processes", "2")
    most = {"program": 0, "process": 0}
    while program.poll() is None:
        for name, pids in (("program", [program.pid]), ("process", children(program.pid))):
            most[name] = max([most[name], *(peak(pid) for pid in pids)])
        time.sleep(0.5)
    ended(program)
    sizes = {f: (folder / "many" / f).stat().st_size for f in (*RESULTS, "rows.log")}
    return {
        "rows": len(rows(folder, "many")),
        "clock_s": round(time.monotonic() - clock, 1),
        "processor_s": round(used() - before, 1),
        "peak_MB": {name: round(size / 1024) for name, size in most.items()},
        "bytes_a_row": {name: round(size / 100_000) for name, size in sizes.items()},
    }


def chunks(folder, options):
    """What 400 chunks of ten rows cost the scheduler and the program, the work itself left out."""
    from distributed import Client, as_completed

    dask = Cluster(folder)
    client = Client(scheduler_file=str(dask.file))
    client.wait_for_workers(2)
    job = client.scatter({"text": "x" * 5000}, broadcast=True, hash=True)
    client.submit(no_rows, job, pure=False).result()
    scheduler, own = used_by(dask.parts[0].pid), time.process_time()
    done, sent, out = as_completed(loop=client.loop), 0, 0
    while sent < 400 or out:
        while out < 6 and sent < 400:
            done.add(client.submit(no_rows, job, pure=False, retries=2))
            sent, out = sent + 1, out + 1
        future = next(done)
        future.result()
        future.release()
        out -= 1
    per_chunk = {
        "scheduler_ms": round(1000 * (used_by(dask.parts[0].pid) - scheduler) / 400, 2),
        "program_ms": round(1000 * (time.process_time() - own) / 400, 2),
    }
    client.close()
    dask.end()
    return per_chunk


def no_rows(job):
    """Ten rows that nobody computed."""
    row = {"status": "ok", "reason": "", "values": {"a": 1.0, "b": 2.0}, "inputs": "x" * 64}
    return [(k, {**row, "version": "", "seconds": 0.1}) for k in range(10)]


def used_by(pid):
    """Processor seconds of a process that is running."""
    words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def peak(pid):
    """Greatest resident memory of a process so far [kB]; 0 where it is gone."""
    try:
        found = re.search(r"VmHWM:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    except OSError:
        return 0
    return int(found[1]) if found else 0


def told(figures):
    """Ratios of what was measured."""
    lines = []
    for name, processes in (("two", 2), ("one", 1), ("cluster", 2)):
        if name in figures:
            f = figures[name]
            gain = processes * f["rows_s"] / f["processor_s"]
            lines.append(f"{name}: {f['rows']} rows, {gain:.2f} x one processor, by processor time")
    if {"one", "two"} <= set(figures):
        ratio = figures["one"]["clock_s"] / figures["two"]["clock_s"]
        lines.append(f"two processes against one, by the clock: {ratio:.2f}")
        anew = 2.0 * figures["one"]["processor_s"] / figures["two"]["processor_s"]
        lines.append(f"two processes against one, by processor time: {anew:.2f}")
    if {"cluster", "two"} <= set(figures):
        ratio = figures["cluster"]["clock_s"] / figures["two"]["clock_s"]
        lines.append(f"cluster against two processes, time by the clock: {ratio:.2f}")
        ratio = figures["cluster"]["processor_s"] / figures["two"]["processor_s"]
        lines.append(f"cluster against two processes, processor time: {ratio:.2f}")
    return lines


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("phases", nargs="*")
    parser.add_argument("--variants", type=int, default=1000)
    parser.add_argument("--kills", type=int, default=10)
    options = parser.parse_intermixed_args()
    folder = options.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "demo.toml").write_text(DEMO.read_text())
    kept = folder / "figures.json"
    figures = json.loads(kept.read_text()) if kept.exists() else {}
    for phase in options.phases or ["two", "one", "cluster", "killed", "bereft", "many", "chunks"]:
        (folder / "study.toml").write_text(STUDY.format(variants=options.variants))
        figures[phase] = globals()[phase](folder, options)
        kept.write_text(json.dumps(figures, indent=1))
        print(phase, figures[phase], flush=True)
    print("\n".join(told(figures)))


if __name__ == "__main__":
    main()
