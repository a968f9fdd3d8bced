"""The site of the docs: every page in its contents, no link that leads nowhere, the box of its first page."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    pytest.importorskip("mkdocs")
    out = tmp_path_factory.mktemp("site")
    build = (
        sys.executable,
        "-m",
        "mkdocs",
        "build",
        "-f",
        ".mkdocs.yml",
        "--strict",
        "-d",
        str(out),
    )
    done = subprocess.run(build, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return out


def test_every_page_is_built_and_named_in_the_contents(site):
    contents = (ROOT / ".mkdocs.yml").read_text()
    for page in (ROOT / "docs").glob("**/*.md"):
        name = page.relative_to(ROOT / "docs")
        assert f": {name}\n" in contents, f"{name} is in no list of .mkdocs.yml"
        built = "index.html" if name.name == "README.md" else f"{name.stem}.html"
        assert (site / name.parent / built).is_file()


def test_the_gallery_shows_what_its_commands_drew(site):
    """Every command of the tutorial, the designer's page and the page of pools that draws something."""
    page = (site / "gallery.html").read_text()
    shown = re.findall(r'<img[^>]*src="(gallery/[^"]+)"', page)
    assert len(shown) == len(set(shown)) > 8
    assert all((site / name).stat().st_size > 2000 for name in shown)
    asked = "".join(
        (ROOT / "docs" / name).read_text() for name in ("index.md", "designer.md", "pools.md")
    )
    drawn = re.findall(r"(?:--picture|-o) (\S+\.(?:png|svg|gif))", asked)
    assert sorted(shown) == sorted(f"gallery/{name}" for name in drawn)


def test_the_box_of_the_first_page_is_one_to_tilt(site):
    first = (site / "index.html").read_text()
    assert first.index('src="box.html"') < first.index("<h2")  # before the first step
    box = (site / "box.html").read_text()
    assert "<canvas" in box or "<svg" in box
    assert "15.0" in box
