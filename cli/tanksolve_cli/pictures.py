"""Pictures that the user asked for: paths checked before the work, written after it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import typer

__all__ = ["check_pictures", "save_pictures", "tell_pictures"]


def check_pictures(*options: Sequence[Path] | None) -> None:
    """Refuse paths that no picture can be written to, before anything is computed.

    Raises OutputError.
    """
    if not any(options):
        return
    from tanksolve.present.save import check_picture_path

    for paths in options:
        for path in paths or ():
            check_picture_path(path)


def save_pictures(figure: Any, paths: Sequence[Path]) -> None:
    """Write a figure made by ``tanksolve.present`` to each path. Raises OutputError."""
    from tanksolve.present.save import save_picture

    for path in paths:
        save_picture(figure, path)


def tell_pictures(as_json: bool, *options: Sequence[Path] | None) -> None:
    """Say what was written: on stderr where stdout holds JSON."""
    for paths in options:
        for path in paths or ():
            typer.echo(f"wrote {path}", err=as_json)
