"""The library that draws the tank in space, taken from an installed package when a report is made.

trimesh ships three.js (MIT licence, its notice at the head) inside the template of its own viewer. Nothing
of it is kept in this project; where it is not found, a report has its flat sections only.
"""

import importlib.util
import zipfile
from pathlib import Path

__all__ = ["three_script"]

_TEMPLATES = Path("resources", "templates", "viewer.zip")
_PAGE = "viewer.html.template"
_ENDS = "var camera,controls,scene"  # where the viewer's own program begins
_MOST = 4_000_000  # bytes


def three_script() -> str | None:
    """The program text of three.js with its licence notice; None where the package has none."""
    found = importlib.util.find_spec("trimesh")  # finds it without importing it
    if found is None or found.origin is None:
        return None
    try:
        with zipfile.ZipFile(Path(found.origin).parent / _TEMPLATES) as kept:
            if kept.getinfo(_PAGE).file_size > _MOST:
                return None
            text = kept.read(_PAGE).decode("utf-8")
    except (OSError, KeyError, ValueError, zipfile.BadZipFile):
        return None
    start = text.find("<script>") + len("<script>")
    end = text.find(_ENDS)
    script = text[start:end]
    whole = start < end and "</script" not in script.lower()
    return script if whole and "@license" in script[:400] and "WebGLRenderer" in script else None
