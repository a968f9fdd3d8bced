"""The site's first page has the box of its examples to tilt: made by ``report`` when the site is built."""

from pathlib import Path
from typing import Any

from tanksolve_cli.main import app
from typer.testing import CliRunner

__all__ = ["on_post_build"]

_BOX = (
    "report --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm,bore=38mm,facing=down "
    "--breather cap=450,150,300mm --require 15deg --force -o"
)


def on_post_build(config: Any, **_: Any) -> None:
    """Write ``box.html`` beside the pages. Raises RuntimeError where the report is not made."""
    path = Path(config["site_dir"]) / "box.html"
    done = CliRunner().invoke(app, [*_BOX.split(), str(path)])
    if not path.is_file():
        raise RuntimeError(f"the box of the first page was not made: {done.output}")
