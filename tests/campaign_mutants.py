"""Changes the program at random and lists the changes that no test sees: ``python -m tests.campaign_mutants``.

    python -m tests.campaign_mutants --seed 1 --each 25

Each mutant is one change of one module: a comparison turned, plus for minus, times for divided, ``and`` for
``or``, a number altered, a ``not`` dropped, a statement dropped. It is made in a copy of the project. First the
tests of a layer run once on the sound copy (``tests/reach.py``), which tells what each costs and which functions
it calls. A mutant then meets the tests that call the changed function: those of its mirror file first, cheap ones
before dear ones, until one fails or ``--seconds`` of processor time are planned. The kernel is not compiled for
this, so tests that take long uncompiled do not run. Three verdicts:

- ``failed``: a test failed; told which.
- ``time-out``: no test failed; one took ten times as long as on the sound copy and 10 s more.
- ``SURVIVED``, with the line before and after: it wants a test, or an explanation (a change of speed or of words).

Sound runs take twelve minutes of processor time, 25 mutants of a layer two to ten. ``--keep FOLDER`` keeps the
sound runs, for a second campaign on the same sources; ``--only FILE:LINE`` runs one mutant of the list again.
"""

import argparse
import ast
import json
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LAYERS = ("kernel", "state", "questions", "geometry", "model", "pump")
COPIED = ("tanksolve", "cli", "tests", "meshes", "docs", "README.md", "pyproject.toml")
# tests that a sound run takes: of the layer, and where they are quick, of those that rest on it
TESTS = {
    "kernel": ("kernel",),
    "state": ("state", "laws", "questions", "pump"),
    "questions": ("questions", "validation"),
    "geometry": ("geometry", "laws", "validation"),
    "model": ("model", "state"),
    "pump": ("pump",),
}
LONGEST, LONGEST_PLAIN = 40.0, 4.0  # processor time of one test [s]; more is left out
# an edit of the kernel compiles it anew, a minute or more: it is run as plain Python
PLAIN = {"NUMBA_DISABLE_JIT": "1", "NUMBA_NUM_THREADS": "1"}
PLAIN_WARNINGS = ("-W", "ignore::RuntimeWarning")  # compiled integers overflow without one
ENVIRONMENT = {
    "PYTHONPATH": os.pathsep.join((".", "cli", "tests")),
    "PYTHONDONTWRITEBYTECODE": "1",
    "OMP_WAIT_POLICY": "PASSIVE",
}
Change = Callable[[], object]

_TURNED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
}  # fmt: skip
_SWAPPED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
}  # fmt: skip
_NOT_DROPPED = (ast.Import, ast.ImportFrom, ast.FunctionDef, ast.ClassDef, ast.Pass, ast.Return)


def changes(tree: ast.Module) -> Iterator[tuple[ast.AST, Change]]:
    """Every change that can be made to a module, with the node that it is made to."""
    words = _annotations(tree)
    for node in ast.walk(tree):
        if node in words:
            continue
        if isinstance(node, ast.Compare):
            for k, op in enumerate(node.ops):
                if type(op) in _TURNED:
                    yield node, partial(node.ops.__setitem__, k, _TURNED[type(op)]())
        elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _SWAPPED:
            yield node, partial(setattr, node, "op", _SWAPPED[type(node.op)]())
        elif isinstance(node, ast.BoolOp):
            other = ast.Or if isinstance(node.op, ast.And) else ast.And
            yield node, partial(setattr, node, "op", other())
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float, bool):
            yield node, partial(setattr, node, "value", _altered(node.value))
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            yield node, partial(setattr, node, "op", ast.UAdd())
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, partial(setattr, node, "operand", ast.UnaryOp(ast.Not(), node.operand))
        for body in (getattr(node, name, None) for name in ("body", "orelse")):
            if isinstance(body, list) and not isinstance(node, ast.Module | ast.ClassDef):
                yield from _dropped(body)


def _annotations(tree: ast.Module) -> set[ast.AST]:
    """Nodes of annotations and docstrings: a change there is none."""
    found: set[ast.AST] = set()
    for node in ast.walk(tree):
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None)):
            found.update(ast.walk(part) if isinstance(part, ast.AST) else ())
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "TypeVar":
            found.update(ast.walk(node))
    return found


def _altered(value: Any) -> float:
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else 1.5 * value or 1.0


def _dropped(body: list[ast.stmt]) -> Iterator[tuple[ast.AST, Change]]:
    for k, statement in enumerate(body):
        plain = isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)
        if not plain and not isinstance(statement, _NOT_DROPPED):
            yield statement, partial(body.__setitem__, k, ast.Pass())


def mutant(source: str, chance: random.Random) -> tuple[str, int, str, str] | None:
    """A module with one change: its text, the line, and that line's statement before and after."""
    tree = ast.parse(source)
    found: list[tuple[Any, Change]] = [one for one in changes(tree) if hasattr(one[0], "lineno")]
    if not found:
        return None
    node, change = chance.choice(found)
    before = ast.unparse(tree).splitlines()
    line = int(node.lineno)
    change()
    text = ast.unparse(ast.fix_missing_locations(tree))
    after = text.splitlines()
    differ = [(a, b) for a, b in zip(before, after, strict=False) if a != b]
    if not differ:
        return None
    return text, line, differ[0][0].strip(), differ[0][1].strip()


@dataclass(frozen=True)
class Mutant:
    """One change: the module, relative to the project; the line, the function that it stands in."""

    module: str
    line: int
    function: str
    before: str
    after: str
    text: str


def mutants(root: Path, layer: str, count: int, seed: int) -> list[Mutant]:
    """The mutants of one layer for a seed: modules by their length, changes evenly."""
    chance = random.Random(f"{layer} {seed}")
    modules = sorted((root / "tanksolve" / layer).rglob("*.py"))
    sources = [module.read_text(encoding="utf-8") for module in modules]
    made: list[Mutant] = []
    while len(made) < count:
        (k,) = chance.choices(range(len(modules)), [len(source) for source in sources])
        found = mutant(sources[k], chance)
        if found is not None and all(found[0] != one.text for one in made):
            text, line, before, after = found
            inner = str(modules[k].relative_to(root))
            made.append(Mutant(inner, line, function_at(sources[k], line), before, after, text))
    return made


def function_at(source: str, line: int) -> str:
    """The outermost function, or method, that a line stands in; empty outside of any."""

    def within(body: list[ast.stmt], prefix: str) -> str:
        for node in body:
            if node.lineno <= line <= (node.end_lineno or 0):
                if isinstance(node, ast.ClassDef):
                    return within(node.body, f"{prefix}{node.name}.")
                if isinstance(node, ast.FunctionDef):
                    return prefix + node.name
        return ""

    return within(ast.parse(source).body, "")


def pytest_run(
    root: Path, tests: list[str], seconds: float, *options: str, plain: bool, **env: str
) -> tuple[str, int]:
    """What pytest prints, and its exit code; killed after twice ``seconds`` of processor time."""

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (int(2 * seconds) + 60,) * 2)

    listed = root / ".tests"
    listed.write_text("\n".join(tests), encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-n",
        "0",
        "--tb=line",
        "-p",
        "no:cacheprovider",
    ]
    if plain:
        env, options = env | PLAIN, (*options, *PLAIN_WARNINGS)
    done = subprocess.run(
        [*command, "-p", "tests.reach", *options, f"@{listed}"],
        cwd=root,
        env=os.environ | ENVIRONMENT | {"XDG_CACHE_HOME": str(root / ".cache")} | env,
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
        preexec_fn=bound,
    )
    return done.stdout + done.stderr, done.returncode


def sound_run(root: Path, layer: str, keep: Path) -> list[dict[str, Any]]:
    """What the tests of a layer call and cost on the sound copy: those that pass there in time."""
    plain = layer == "kernel"
    limits = root / ".limits"
    limits.write_text(json.dumps({"": LONGEST_PLAIN if plain else LONGEST}), encoding="utf-8")
    lines: list[dict[str, Any]] = []
    for name in TESTS[layer]:
        into = keep / f"{'plain-' * plain}{name.replace('/', '-')}.jsonl"
        if not into.exists():
            partly = into.with_suffix(".part")
            partly.unlink(missing_ok=True)
            env = {"REACH_INTO": str(partly), "REACH_LIMITS": str(limits)}
            pytest_run(root, [f"tests/{name}"], 3600.0, plain=plain, **env)
            partly.rename(into)
        lines += [json.loads(line) for line in into.read_text(encoding="utf-8").splitlines()]
    return [line for line in lines if line["outcome"] == "passed"]


def chosen(mutant: Mutant, sound: list[dict[str, Any]], seconds: float) -> dict[str, float]:
    """The tests that call what a mutant changes, in their order, with what each costs [s]."""
    module = mutant.module.removeprefix("tanksolve/")
    mirror = f"tests/{Path(module).parent}/test_{Path(module).name}"
    wanted = f"{module}:{mutant.function}"

    def calls(names: list[str]) -> bool:
        if mutant.function:
            return wanted in names
        return any(name.startswith(f"{module}:") for name in names)

    files = {line["test"].split("::")[0] for line in sound if calls(line["set_up"])}
    reach = [
        line for line in sound if calls(line["calls"]) or line["test"].split("::")[0] in files
    ] or [line for line in sound if line["test"].startswith(mirror)]
    reach.sort(key=lambda line: (not line["test"].startswith(mirror), line["seconds"]))
    tests, total = {}, 0.0
    for line in reach:
        total += line["seconds"]
        if total <= seconds:
            tests[line["test"]] = line["seconds"]
    return tests


def verdict(root: Path, layer: str, mutant: Mutant, tests: dict[str, float], seconds: float) -> str:
    """How the tests take a mutant: ``failed``, ``time-out``, or ``SURVIVED``, with details."""
    if not tests:
        return "SURVIVED: no test of the sound run calls it"
    limits = root / ".limits"
    limits.write_text(json.dumps({k: 10.0 * v + 10.0 for k, v in tests.items()}), encoding="utf-8")
    module = root / mutant.module
    sound = module.read_text(encoding="utf-8")
    module.write_text(mutant.text, encoding="utf-8")
    try:
        told, code = pytest_run(
            root, list(tests), seconds, "-x", plain=layer == "kernel", REACH_LIMITS=str(limits)
        )
    finally:
        module.write_text(sound, encoding="utf-8")
    if code == 0:
        return f"SURVIVED {len(tests)} tests"
    if "TOOLONG" in told or code < 0:
        return f"time-out: {told[told.find('TOOLONG') :][:120].splitlines()[:1]} exit {code}"
    lines = [line for line in told.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return f"failed: {lines[0][:150] if lines else told[-300:]}"


def copied(folder: Path) -> Path:
    """A copy of the project, with what is compiled of it."""
    root = folder / "project"
    root.mkdir()
    for name in COPIED:
        copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
        copy(ROOT / name, root / name)
    compiled = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "tanksolve"
    if compiled.is_dir():
        shutil.copytree(compiled, root / ".cache" / "tanksolve")
    return root


def main() -> None:
    """Make mutants and tell which are not seen."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--layers", nargs="+", choices=LAYERS, default=LAYERS[:4])
    parser.add_argument("--each", type=int, default=25)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=60.0, help="of tests, for each mutant")
    parser.add_argument("--keep", type=Path, help="folder of sound runs, used again")
    parser.add_argument("--only", default="", help="FILE:LINE of one mutant")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        root = copied(Path(folder))
        keep = (asked.keep or root).resolve()
        keep.mkdir(exist_ok=True, parents=True)
        for layer in asked.layers:
            made = mutants(root, layer, asked.each, asked.seed)
            sound = sound_run(root, layer, keep)
            counts: dict[str, int] = {}
            for k, one in enumerate(made, 1):
                place = f"{one.module}:{one.line}"
                if asked.only not in ("", place):
                    continue
                tests = chosen(one, sound, asked.seconds)
                found = verdict(root, layer, one, tests, asked.seconds)
                first = found.split(":")[0].split()[0]
                counts[first] = counts.get(first, 0) + 1
                spent = sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2])
                print(f"{layer} {k} {place} {one.function} {found}  [{spent:.0f} s]")
                print(f"    {one.before}\n    {one.after}", flush=True)
            print(f"{layer}, seed {asked.seed}: {counts}", flush=True)


if __name__ == "__main__":
    main()
