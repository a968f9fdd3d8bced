"""Write a picture whole or not at all."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tanksolve.errors import OutputError
from tanksolve.files import check_folder, write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["PICTURE_FORMATS", "check_picture_path", "own_look", "save_picture"]

PICTURE_FORMATS = ("png", "svg", "pdf")


def check_picture_path(path: str | Path) -> Path:
    """Refuse, before anything is computed, a path that no picture can be written to.

    Raises OutputError for an unknown suffix or a folder that is not there.
    """
    path = Path(path)
    if path.suffix.lower().lstrip(".") not in PICTURE_FORMATS:
        raise OutputError(
            f"'{path.suffix}' is no picture format that is known here",
            where=str(path),
            allowed=", ".join(f".{suffix}" for suffix in PICTURE_FORMATS),
            next_step=f"write '{path.with_suffix('.png')}'" if path.name else "",
        )
    check_folder(path, str(path))
    return path


@contextmanager
def own_look() -> Iterator[None]:
    """Draw as this program does, whatever file of preferences the drawing library finds, and silently."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # a font or a folder that is not there
    import matplotlib as mpl

    with mpl.rc_context():
        mpl.rcdefaults()
        yield


def save_picture(figure: "Figure", path: str | Path, dpi: int = 150) -> Path:
    """Write ``figure`` to ``path`` in the format of its suffix: PNG, SVG or PDF.

    Where writing fails an older picture is kept and no half one is left. Equal figures give equal
    files. Raises OutputError.
    """
    import matplotlib as mpl

    path = check_picture_path(path)
    suffix = path.suffix.lower().lstrip(".")
    undated: dict[str, Any] = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(suffix, {})

    def draw(part: Path) -> None:
        with mpl.rc_context({"svg.hashsalt": "tanksolve"}):
            figure.savefig(part, format=suffix, dpi=dpi, metadata=undated)

    write_whole(path, draw)
    return path
