"""The documentation: no link leads nowhere, drawings are what their scripts draw."""

import re
import runpy
from pathlib import Path

import pytest

from tanksolve.model.requirement_presets import PRESETS

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("meshes/**/*.md")])
DRAWINGS = sorted((ROOT / "docs" / "drawings").glob("*.py"))


def name(path: Path) -> str:
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_lead_somewhere(page):
    links = re.findall(r"\]\(([^)\s#]+)[^)]*\)", page.read_text())
    missing = [
        link
        for link in links
        if not re.match(r"[a-z]+:", link) and not (page.parent / link).exists()
    ]
    assert missing == []


@pytest.mark.parametrize("script", DRAWINGS, ids=name)
def test_drawings_are_drawn_by_their_scripts(script, tmp_path):
    """The file made now and the one in docs hold as many shapes (fonts may differ by version)."""
    made = tmp_path / "drawing.svg"
    runpy.run_path(str(script))["draw"](made)
    kept = script.with_suffix(".svg").read_text()
    assert made.read_text().count('<g id="patch_') == kept.count('<g id="patch_') > 0


def test_every_published_source_is_listed_for_the_reader():
    listed = (ROOT / "docs" / "validation.md").read_text()
    files = {path.name for path in (ROOT / "tests" / "validation").glob("test_*.py")}
    assert {file for file in files if f"`{file}`" not in listed} == set()
    named = set(re.findall(r"`(test_\w+\.py)`", listed))
    assert named <= files


def test_the_figures_beside_the_published_ones_are_what_comes_out_now():
    """Every file of tests/validation tells its own; the page names the source of each."""
    page = (ROOT / "docs" / "validation.md").read_text()
    made = runpy.run_path(str(ROOT / "docs" / "validation_figures.py"))
    told = "run: PYTHONPATH=.:cli:tests python docs/validation_figures.py"
    assert made["filled"](page) == page, told
    files = {path.name for path in (ROOT / "tests" / "validation").glob("test_*.py")}
    named = set(re.findall(r"`(test_\w+\.py)`", made["MARKS"].search(page)[0]))
    assert named == files - set(made["WITHOUT"])


def test_the_table_of_presets_is_what_the_program_takes():
    page = ROOT / "docs" / "presets.md"
    made = runpy.run_path(str(page.with_suffix(".py")))
    assert made["filled"](page.read_text()) == page.read_text(), "run: python docs/presets.py"
    for name, entry in PRESETS.items():
        (row,) = [line for line in page.read_text().splitlines() if line.startswith(f"| `{name}` ")]
        assert entry.source in row
