"""A project back to a tank file: comments and order of the keys survive."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tanksolve.errors import FileFormatError, OutputError
from tanksolve.files import write_text
from tanksolve.project.load import loads
from tanksolve.project.project import Project

__all__ = [
    "TEMPLATES",
    "rewritten",
    "save",
    "starter_text",
    "with_mesh_from",
    "write_new",
    "written",
]

Key = tuple[str | int, ...]
TEMPLATES = ("starter", "demo", "collector", "twin")


def written(project: Project, changes: Mapping[Key, object] | None = None) -> str:
    """The text of a project's tank file, with changes made in place.

    Parameters
    ----------
    project : as loaded.
    changes : new values by place, such as ``("fill",): "40 L"`` or ``("port", 0, "at"): "20, 150,
        60 mm"``, numbers from 0; None takes a key out. Quantities are texts with their units.

    Raises
    ------
    FileFormatError, TankError, PortError, FillError : where the changed file would not load.
    """
    text = rewritten(project.text, changes or {})
    loads(text, project.source)
    return text


def rewritten(text: str, changes: Mapping[Key, object]) -> str:
    """A tank file's text with changes made in place, see :func:`written`; not loaded."""
    import tomlkit

    document: Any = tomlkit.parse(text)
    for path, value in changes.items():
        table = document
        for step in path[:-1]:
            if isinstance(step, str) and step not in table:
                table[step] = tomlkit.table()
            table = table[step]
        if value is None:
            table.pop(path[-1], None)
        else:
            table[path[-1]] = value
    return tomlkit.dumps(document)


def save(
    project: Project,
    path: str | Path,
    changes: Mapping[Key, object] | None = None,
    *,
    overwrite: bool = False,
) -> Path:
    """Write a project's tank file, whole or not at all; see :func:`written` for ``changes``.

    A mesh named by a relative path is named from the new folder. Raises OutputError where the file
    exists (unless ``overwrite``) or cannot be written, and as :func:`written`.
    """
    target = Path(path)
    text = written(project, changes)
    if project.source is not None and target.parent.resolve() != project.source.parent.resolve():
        text = with_mesh_from(text, project.source.parent, target.parent)
    _write(target, text, overwrite)
    return target


def starter_text(template: str = "starter") -> str:
    """The text of one of the :data:`TEMPLATES`, with comments. Raises FileFormatError for another."""
    if template not in TEMPLATES:
        raise FileFormatError(
            f"there is no template '{template}'", where="--template", allowed=", ".join(TEMPLATES)
        )
    return (Path(__file__).parent / "templates" / f"{template}.toml").read_text(encoding="utf-8")


def write_new(path: str | Path, template: str = "starter", *, overwrite: bool = False) -> Path:
    """Write a template as a new tank file. Raises as :func:`starter_text`, and OutputError as :func:`save`."""
    target = Path(path)
    _write(target, starter_text(template), overwrite)
    return target


def with_mesh_from(text: str, old: Path, new: Path) -> str:
    """A tank file's text moved from one folder to another: meshes named by relative paths stay found."""
    import tomlkit

    document: Any = tomlkit.parse(text)
    shells = [document["tank"], *(body.get("tank", {}) for body in document.get("body", []))]
    named = [shell for shell in shells if shell.get("file") is not None]
    moved = [shell for shell in named if not Path(str(shell["file"])).is_absolute()]
    for shell in moved:
        there = (old / str(shell["file"])).resolve()
        shell["file"] = Path(os.path.relpath(there, new.resolve())).as_posix()
    return tomlkit.dumps(document) if moved else text


def _write(target: Path, text: str, overwrite: bool) -> None:
    if target.exists() and not overwrite:
        raise OutputError("the file exists and is not overwritten", where=str(target))
    write_text(target, text)
