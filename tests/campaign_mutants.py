"""Changes the program at random and lists the changes that no test sees: ``python tests/campaign_mutants.py``.

    python tests/campaign_mutants.py --layer state --count 25 --seed 1

Each mutant is one change of one module: a comparison turned, plus for minus, times for divided, ``and`` for
``or``, a number altered, a ``not`` dropped, a statement dropped. It is made in a copy of the project; there the
tests run that mirror the module, then those that import it, each until the first failure. What passes all of
them is printed as a survivor, with its line before and after: it wants a test, or an explanation (a mutant that
changes nothing, such as a message or a tolerance of speed). A run that takes longer than ``--seconds`` counts as
seen, and is told apart. Kernel mutants compile anew: up to a minute of processor time each.
"""

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
LAYERS = ("kernel", "state", "questions", "geometry", "model", "pump")
COPIED = ("tanksolve", "cli", "tests", "meshes", "docs", "README.md", "pyproject.toml")
Change = Callable[[], None]

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
            yield from _of_comparison(node)
        elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _SWAPPED:
            yield node, lambda n=node: setattr(n, "op", _SWAPPED[type(n.op)]())  # type: ignore[misc]
        elif isinstance(node, ast.BoolOp):
            other = ast.Or if isinstance(node.op, ast.And) else ast.And
            yield node, lambda n=node, o=other: setattr(n, "op", o())  # type: ignore[misc]
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float, bool):
            yield node, lambda n=node: setattr(n, "value", _altered(n.value))  # type: ignore[misc]
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            yield (
                node,
                lambda n=node: setattr(
                    n, "op", ast.UAdd() if isinstance(n.op, ast.USub) else ast.Not()
                ),
            )  # type: ignore[misc]
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


def _of_comparison(node: ast.Compare) -> Iterator[tuple[ast.AST, Change]]:
    for k, op in enumerate(node.ops):
        if type(op) in _TURNED:
            yield node, lambda k=k, op=op: node.ops.__setitem__(k, _TURNED[type(op)]())  # type: ignore[misc]


def _altered(value: complex) -> complex:
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else (1.5 * value if value else 1.0)  # type: ignore[operator]


def _dropped(body: list[ast.stmt]) -> Iterator[tuple[ast.AST, Change]]:
    for k, statement in enumerate(body):
        plain = isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)
        if not plain and not isinstance(statement, _NOT_DROPPED):
            yield statement, lambda k=k: body.__setitem__(k, ast.Pass())  # type: ignore[misc]


def mutant(source: str, chance: random.Random) -> tuple[str, int, str, str] | None:
    """A module with one change: its text, the line, and that line's statement before and after."""
    tree = ast.parse(source)
    found = [(node, change) for node, change in changes(tree) if hasattr(node, "lineno")]
    if not found:
        return None
    node, change = chance.choice(found)
    before = ast.unparse(tree).splitlines()
    line = int(node.lineno)  # type: ignore[attr-defined]
    change()
    text = ast.unparse(ast.fix_missing_locations(tree))
    after = text.splitlines()
    differ = [(a, b) for a, b in zip(before, after, strict=False) if a != b]
    if not differ:
        return None
    return text, line, differ[0][0].strip(), differ[0][1].strip()


def tests_of(module: Path, root: Path) -> list[list[str]]:
    """Stages of tests for a module of the package: its mirror, then all that import it."""
    inner = module.relative_to(root / "tanksolve").with_suffix("")
    mirror = root / "tests" / inner.parent / f"test_{inner.name}.py"
    dotted = "tanksolve." + ".".join(inner.parts)
    folder = root / "tests" / inner.parent
    naming = [
        file
        for file in sorted((root / "tests").rglob("test_*.py"))
        if file != mirror and f"{dotted} " in file.read_text(encoding="utf-8")
    ]
    beside = [file for file in sorted(folder.glob("test_*.py")) if file not in [mirror, *naming]]
    stages = [[mirror] if mirror.exists() else [], naming, beside]
    return [[str(file.relative_to(root)) for file in stage] for stage in stages if stage]


def seen(root: Path, stages: list[list[str]], seconds: float, *, spoiled_kernel: bool) -> str:
    """Which tests notice: the first failure, ``slow`` or, where none does, nothing."""
    env = os.environ | {
        "PYTHONPATH": os.pathsep.join(str(root / part) for part in ("", "cli", "tests")),
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    if spoiled_kernel:  # code of mutants is not to fill the user's store
        env["XDG_CACHE_HOME"] = str(root / ".cache")
    for files in stages:
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-x",
            "-n",
            "0",
            "-p",
            "no:cacheprovider",
            *files,
        ]
        try:
            done = subprocess.run(
                command,
                cwd=root,
                env=env,
                capture_output=True,
                text=True,
                timeout=seconds,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return "slow"
        if done.returncode not in (0, 5):
            told = [
                line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))
            ]
            return told[0][:120] if told else f"exit {done.returncode}"
    return ""


def main() -> None:
    """Make mutants of one layer and tell which are not seen."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--layer", choices=LAYERS, default="state")
    parser.add_argument("--count", type=int, default=25)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=900.0, help="by the clock, each stage")
    asked = parser.parse_args()
    chance = random.Random(f"{asked.layer} {asked.seed}")
    survivors = made = 0
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "project"
        root.mkdir()
        for name in COPIED:
            copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
            copy(ROOT / name, root / name)
        modules = sorted((root / "tanksolve" / asked.layer).rglob("*.py"))
        weights = [len(module.read_text(encoding="utf-8")) for module in modules]
        while made < asked.count:
            (module,) = chance.choices(modules, weights)
            source = module.read_text(encoding="utf-8")
            found = mutant(source, chance)
            if found is None:
                continue
            made += 1
            module.write_text(found[0], encoding="utf-8")
            noticed = seen(
                root,
                tests_of(module, root),
                asked.seconds,
                spoiled_kernel=asked.layer == "kernel",
            )
            module.write_text(source, encoding="utf-8")
            place = f"{module.relative_to(root)}:{found[1]}"
            survivors += not noticed
            verdict = f"seen: {noticed}" if noticed else f"SURVIVED\n    {found[2]}\n    {found[3]}"
            print(f"{made} {place} {verdict}", flush=True)
    print(f"{asked.layer}: {survivors} of {made} survived, seed {asked.seed}")


if __name__ == "__main__":
    main()
