"""Write the table of published figures with ours beside them into docs/validation.md.

    PYTHONPATH=.:cli:tests python docs/validation_figures.py

Each file of ``tests/validation`` tells its cases in ``beside()``; a test holds the page to what comes out.
"""

import importlib.util
import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PAGE = Path(__file__).with_name("validation.md")
MARKS = re.compile(r"(<!-- figures[^>]*-->\n).*?(<!-- end figures -->)", flags=re.S)
WITHOUT = ("test_foreign_meshes.py", "test_same_tank.py")  # compare libraries, no published figure


def cases() -> Iterator[tuple[str, Any]]:
    """Name of the test file and each of its cases. Raises AttributeError where a file tells none."""
    sys.path.insert(0, str(ROOT / "tests"))
    for path in sorted((ROOT / "tests" / "validation").glob("test_*.py")):
        if path.name in WITHOUT:
            continue
        spec = importlib.util.spec_from_file_location(f"beside_{path.stem}", path)
        assert spec is not None and spec.loader is not None  # noqa: PT018
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        for case in module.beside():
            yield path.name, case


def digits(value: float, count: int) -> str:
    """A figure with so many significant digits, trailing noughts kept, never as a power of ten."""
    if value == 0.0:
        return "0"
    after = max(0, count - 1 - math.floor(math.log10(abs(value))))
    return f"{value:,.{after}f}"


def source_of(name: str, text: str) -> str:
    """How the tables of the page call the source of a test file. Raises ValueError where they do not."""
    line = next((one for one in text.splitlines() if one.endswith(f"| `{name}` |")), None)
    if line is None:
        raise ValueError(f"docs/validation.md names no source for {name}")
    return line.split("|")[1].strip()


def row(source: str, name: str, case: Any) -> str:
    """A line of the table; the difference beyond what the digits of the source can show."""
    unit = f" {case.unit}" if case.unit not in ("", "°") else case.unit
    theirs, ours = digits(case.theirs, case.digits), digits(float(case.ours), case.digits + 1)
    share = abs(float(case.ours) / case.theirs - 1.0)
    half = (
        0.5 * 10.0 ** -_after(theirs) / abs(case.theirs)
    )  # what the source's rounding leaves open
    off = "within its digits" if share <= half * (1.0 + 1e-6) else f"{share:.0e} of it"
    return f"| {source} | {case.what} | {theirs}{unit} | {ours}{unit} | {off} | `{name}` |"


def _after(number: str) -> int:
    return len(number.partition(".")[2])


def filled(text: str) -> str:
    """The page with its table as it comes out now."""
    bare = MARKS.sub(r"\1\2", text)
    rows, last = "", ""
    for name, case in cases():
        source = "the same" if name == last else source_of(name, bare)
        rows, last = f"{rows}{row(source, name, case)}\n", name
    head = "| source | what | its figure | tanksolve | difference | test |\n|---|---|---|---|---|---|\n"
    told, count = MARKS.subn(lambda found: f"{found[1]}{head}{rows}{found[2]}", text)
    if count != 1:
        raise ValueError("docs/validation.md has no place for the figures")
    return told


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text()))
