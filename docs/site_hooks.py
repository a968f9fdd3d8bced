"""What the site has beside its pages, made by the program when the site is built.

The box of the first page to tilt, by ``report``; and a gallery: every picture that a command on some page draws,
drawn by running that command. A picture that cannot be made, or a page without its picture, ends the build.
"""

import re
import shlex
import tempfile
from collections.abc import Iterator
from html import escape
from itertools import pairwise
from pathlib import Path
from typing import Any

from mkdocs.structure.files import File
from tanksolve_cli.main import program
from typer.testing import CliRunner

__all__ = ["on_files"]

_DOCS = Path(__file__).parent
_BOX = (
    "report --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm,bore=38mm,facing=down "
    "--breather cap=450,150,300mm --require 15deg --force -o"
)
_FROM = ("index.md", "designer.md", "pools.md")  # in the order of the gallery
_DRAWN = (".png", ".svg", ".gif")
_HEAD = """# Gallery

Every picture here was drawn by the command below it when this page was built; the page named with it says what it
is for, and [reading the pictures](pictures.md) what each line means. The tanks are invented.
"""


def on_files(files: Any, config: Any, **_: Any) -> Any:
    """Add the box and the gallery. Raises RuntimeError where the program does not make one of them."""
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder)
        _run([*_BOX.split(), str(made / "box.html")], [made / "box.html"])
        _add(files, config, "box.html", (made / "box.html").read_bytes())
        parts = [_HEAD]
        for page, line in _commands():
            parts.append(f"## {_named(line)}\n")
            for name in _pictures(line):
                parts.append(f"![{escape(_named(line))}](gallery/{name})\n")
            _draw(line, made)
            for name in _pictures(line):
                _add(files, config, f"gallery/{name}", (made / name).read_bytes())
            parts.append(f"From [{_title(page)}]({page}):\n\n```sh\n{line}\n```\n")
        _add(files, config, "gallery.md", "\n".join(parts))
    return files


def _commands() -> Iterator[tuple[str, str]]:
    """The page and the line of each command that draws something."""
    for page in _FROM:
        for block in re.findall(r"```sh\n(.*?)```", (_DOCS / page).read_text(), flags=re.S):
            for line in block.splitlines():
                if line.startswith("tanksolve ") and _pictures(line):
                    yield page, line


def _pictures(line: str) -> list[str]:
    """The pictures that a command writes, by their names."""
    words = shlex.split(line)
    return [
        name
        for option, name in pairwise(words)
        if option in ("--picture", "-o") and name.endswith(_DRAWN)
    ]


def _named(line: str) -> str:
    """What a picture is called: its command, and its views where there are several."""
    words = shlex.split(line)
    views = [name for option, name in pairwise(words) if option == "--view"]
    return f"{words[1]}: {', '.join(views)}" if views else words[1]


def _title(page: str) -> str:
    return (_DOCS / page).read_text().splitlines()[0].lstrip("# ")


def _draw(line: str, folder: Path) -> None:
    """Run a command of a page: files that it reads are those of the clone, what it writes goes to ``folder``."""
    drawn = _pictures(line)
    words = [
        str(folder / word)
        if word in drawn
        else str(_DOCS.parent / word)
        if word.startswith("meshes/")
        else word
        for word in shlex.split(line)[1:]
    ]
    _run([*words, "--force"], [folder / name for name in drawn])


def _run(words: list[str], written: list[Path]) -> None:
    done = CliRunner().invoke(program(), words)
    if missing := [path.name for path in written if not path.is_file()]:
        raise RuntimeError(f"{', '.join(missing)} was not made: {done.output}")


def _add(files: Any, config: Any, name: str, content: str | bytes) -> None:
    files.append(File.generated(config, name, content=content))
