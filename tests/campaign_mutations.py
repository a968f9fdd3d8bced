"""Feeds spoiled mesh and tank files to tanksolve: ``python tests/campaign_mutations.py``.

Every spoiled file must end in a result or in one TanksolveError, within 10 s and 2 GB, leaving no
file behind. Cases that fail are written to tests/geometry/spoiled/, where the suite reads them ever
after. The suite itself runs a small sample (tests/geometry/test_mutations.py).
"""

import argparse
import multiprocessing
import random
import resource
import sys
import tempfile
import time
import traceback
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "cli"), str(ROOT / "tests")]
KEPT = ROOT / "tests" / "geometry" / "spoiled"
SECONDS, BYTES, BATCH = 10.0, 2 << 30, 200


def say(text: str) -> None:
    """Print at once, so that a long campaign shows where it is."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def outcome(file: Path) -> str:
    """What becomes of one file: ``tank``, ``refused``, or the traceback of a failure."""
    from tanksolve.errors import TanksolveError
    from tanksolve.geometry.mesh_file import read_mesh
    from tanksolve.geometry.mesh_report import inspect_mesh
    from tanksolve.project.load import load

    verdict = "tank"
    before = sorted(path.name for path in file.parent.iterdir())
    try:
        if file.suffix == ".toml":
            load(file)
        else:
            if file.suffix != ".step":  # a second conversion would only take time
                inspect_mesh(file, "mm", "+x", "+z", body="all")
            read_mesh(file, "mm", "+x", "+z", body="all")
    except TanksolveError as error:
        verdict = "refused" if error.message.strip() else "an empty message"
    except BaseException:
        return traceback.format_exc()
    if sorted(path.name for path in file.parent.iterdir()) != before:
        return "files were left behind"
    return verdict


def spoil(kind: str, seed: int, sound: dict[str, bytes], folder: Path) -> Path:
    """Write the spoiled file of a kind and seed."""
    from mutations import mutated

    file = folder / f"{seed}.{kind.split('.')[-1]}"
    file.write_bytes(mutated(sound[kind], random.Random(f"{kind} {seed}")))
    return file


def _work(
    pipe: "multiprocessing.connection.Connection", kind: str, seeds: range, sound: dict[str, bytes]
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for seed in seeds:
            file = spoil(kind, seed, sound, folder)
            pipe.send((seed, "started"))
            pipe.send((seed, outcome(file)))
            file.unlink()
    pipe.send((-1, str(1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)))


def run_batch(kind: str, seeds: range, sound: dict[str, bytes]) -> tuple[dict[int, str], int]:
    """Run a batch in a process of its own; gives each seed's outcome and the peak memory."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    worker = context.Process(target=_work, args=(there, kind, seeds, sound))
    worker.start()
    there.close()
    found: dict[int, str] = {}
    seed, peak, patience = seeds.start, 0, 120.0  # the first answer waits for compiling
    while len(found) < len(seeds) or peak == 0:
        if not here.poll(patience):
            found[seed] = f"no answer within {SECONDS:.0f} s"
            break
        try:
            seed, text = here.recv()
        except EOFError:
            found[seed] = "the process died"
            break
        if seed < 0:
            peak = int(text)
        elif text != "started":
            found[seed] = text
        patience = SECONDS if found else 120.0
    worker.kill()
    worker.join()
    if seed >= 0 and seed + 1 < seeds.stop and peak == 0:  # go on after a hang or a crash
        more, peak = run_batch(kind, range(seed + 1, seeds.stop), sound)
        found |= more
    return found, peak


def main() -> int:
    """Run the campaign; exit code 1 where any case failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--meshes", type=int, default=10_000)
    parser.add_argument("--tank-files", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--only", default="", help="kinds, such as stl,glb; all by default")
    chosen = parser.parse_args()
    from mutations import FORMATS, sound_files, sound_tank_files

    with tempfile.TemporaryDirectory() as name:
        sound = sound_files(Path(name)) | sound_tank_files()
    tanks = [kind for kind in sound if kind.endswith("toml")]
    plan = [(kind, chosen.meshes // len(FORMATS)) for kind in FORMATS]
    plan += [(kind, chosen.tank_files // len(tanks)) for kind in tanks]
    plan = [(kind, n) for kind, n in plan if not chosen.only or kind in chosen.only.split(",")]
    failed = 0
    for kind, number in plan:
        counts: dict[str, int] = {}
        most, begun = 0, time.perf_counter()
        for start in range(chosen.seed, chosen.seed + number, BATCH):
            seeds = range(start, min(start + BATCH, chosen.seed + number))
            found, peak = run_batch(kind, seeds, sound)
            most = max(most, peak)
            for seed, text in found.items():
                known = text if text in ("tank", "refused") else "failed"
                counts[known] = counts.get(known, 0) + 1
                if known == "failed":
                    failed += 1
                    KEPT.mkdir(exist_ok=True)
                    kept = spoil(kind, seed, sound, KEPT)
                    say(f"{kept.name} ({kind}): {text}")
        failed += most > BYTES
        took = time.perf_counter() - begun
        say(f"{kind}: {counts}, peak {most / 2**20:.0f} MiB, {took:.0f} s")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
