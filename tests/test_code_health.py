"""The whole check in one command: style, types, import fences, docstrings and sizes of modules.

Every fence is also shown to hold: a wrong import in a copy of the sources must break it.
"""

import ast
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted([*ROOT.glob("tanksolve/**/*.py"), *ROOT.glob("cli/**/*.py")])
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
MODULE_LINES = 450  # one idea a module
FUNCTION_LINES = 60  # a command's options and docstrings are not counted


def run(*command: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    paths = os.pathsep.join([str(cwd), str(cwd / "cli")])
    return subprocess.run(
        [sys.executable, *command],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
        check=False,
    )


def relative(path: Path) -> str:
    return str(path.relative_to(ROOT))


LINT_IMPORTS = ("-c", "from importlinter.cli import lint_imports_command as run; run()")


@pytest.mark.parametrize(
    "command",
    [
        ("-m", "ruff", "check", "."),
        ("-m", "ruff", "format", "--check", "."),
        ("-m", "mypy"),
        (*LINT_IMPORTS, "--no-cache"),
    ],
    ids=["style", "format", "types", "imports"],
)
def test_checks_pass(command):
    done = run(*command)
    assert done.returncode == 0, done.stdout + done.stderr


def wrong_import(contract: dict[str, object]) -> tuple[str, str]:
    """Name a module and an import that the contract forbids in it."""
    if contract["type"] == "layers":
        prefix = f"{contract['containers'][0]}." if "containers" in contract else ""
        first, last = (contract["layers"][k].split("|")[0].strip() for k in (0, -1))
        return prefix + last, prefix + first
    assert contract["type"] == "forbidden", "teach this test the new type of contract"
    return contract["source_modules"][0], contract["forbidden_modules"][0]


def source_file(root: Path, module: str) -> Path:
    base = root / ("cli" if module.startswith("tanksolve_cli") else "")
    path = base.joinpath(*module.split("."))
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


@pytest.mark.parametrize("contract", CONTRACTS["contracts"], ids=lambda c: c["name"])
def test_each_fence_stops_a_wrong_import(contract, tmp_path):
    ignore = shutil.ignore_patterns("__pycache__")
    for folder in ("tanksolve", "cli"):
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=ignore)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    module, forbidden = wrong_import(contract)
    with source_file(tmp_path, module).open("a") as file:
        file.write(f"\nimport {forbidden}\n")
    done = run(*LINT_IMPORTS, "--no-cache", cwd=tmp_path)
    assert done.returncode == 1, done.stdout + done.stderr
    assert f"{contract['name']} BROKEN" in " ".join(done.stdout.split())


def public_definitions(tree: ast.Module) -> list[ast.ClassDef | ast.FunctionDef]:
    """Classes and functions of the module and of its public classes, without a leading underscore."""
    kinds = (ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    found = [n for n in tree.body if isinstance(n, kinds) and not n.name.startswith("_")]
    for node in list(found):
        if isinstance(node, ast.ClassDef):
            found += [n for n in node.body if isinstance(n, kinds) and not n.name.startswith("_")]
    return found


@pytest.mark.parametrize("path", SOURCES, ids=relative)
def test_everything_public_is_explained(path):
    tree = ast.parse(path.read_text())
    assert not tree.body or ast.get_docstring(tree), "the module has no docstring"
    silent = [node.name for node in public_definitions(tree) if not ast.get_docstring(node)]
    assert silent == []


@pytest.mark.parametrize("path", SOURCES, ids=relative)
def test_modules_and_functions_stay_short(path):
    text = path.read_text()
    assert len(text.splitlines()) <= MODULE_LINES
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    functions = [node for node in ast.walk(ast.parse(text)) if isinstance(node, kinds)]
    lines = {node.name: code_lines(node) for node in functions}
    assert {name: count for name, count in lines.items() if count > FUNCTION_LINES} == {}


def code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of the body, without the signature and the docstring."""
    body = node.body[1:] if ast.get_docstring(node) else node.body
    return node.end_lineno - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("path", SOURCES, ids=relative)
def test_public_names_are_listed_sorted_and_real(path):
    tree = ast.parse(path.read_text())
    lists = [
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
    ]
    if path.name in ("__init__.py", "__main__.py", "version.py"):
        return
    assert len(lists) == 1, "a module says once what it offers"
    assert lists[0] == sorted(lists[0], key=sort_key)
    offered = {getattr(node, "name", "") for node in tree.body}
    statements = [
        n for n in tree.body if isinstance(n, ast.Assign | ast.AnnAssign | ast.ImportFrom)
    ]
    names = [name for node in statements for name in ast.walk(node)]
    assigned = {n.id for n in names if isinstance(n, ast.Name)}
    imported = {n.name for n in names if isinstance(n, ast.alias)}
    assert set(lists[0]) <= offered | assigned | imported


def sort_key(name: str) -> tuple[int, str]:
    """Ruff's order: CONSTANTS, then Classes, then functions."""
    return (0 if name.isupper() else 1 if name[0].isupper() else 2, name)


def test_no_module_is_a_catch_all():
    stems = {path.stem for path in SOURCES}
    assert stems.isdisjoint({"utils", "util", "helpers", "misc", "common"})


def test_no_star_imports():
    stars = [relative(path) for path in SOURCES if " import *" in path.read_text()]
    assert stars == []
