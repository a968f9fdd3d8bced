"""What pydantic finds wrong in a tank file, told as one message with file, line, key and value."""

import difflib
import re
import typing
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from tanksolve.errors import FileFormatError
from tanksolve.project.lines import Path, line_of
from tanksolve.project.schema import VERSION, TankFile

__all__ = ["complaint", "validated"]


def validated(data: dict[str, Any], numbers: Mapping[Path, int], name: str) -> TankFile:
    """Check the parsed TOML against version 1 of the format.

    Parameters
    ----------
    data : what the TOML parser gave.
    numbers : line of each key, from ``lines.line_numbers``.
    name : of the file, for messages.

    Raises FileFormatError, for the first thing that is wrong, with the count of the others.
    """
    version = data.get("tanksolve_file")
    if version != VERSION or isinstance(version, bool):
        _refuse_version(version, numbers, name)
    try:
        return TankFile.model_validate(data)
    except ValidationError as error:
        raise complaint(error, data, numbers, name) from None


def _refuse_version(version: object, numbers: Mapping[Path, int], name: str) -> None:
    where = _where(name, ("tanksolve_file",), numbers)
    what = (
        "the version key is missing"
        if version is None
        else f"tanksolve_file = {version!r} is not known here"
    )
    raise FileFormatError(
        what,
        where=where,
        allowed=f"tanksolve_file = {VERSION}",
        next_step=f"write tanksolve_file = {VERSION} as the first line"
        if version is None
        else "a later version needs a later tanksolve",
    )


def complaint(
    error: ValidationError,
    data: dict[str, Any],
    numbers: Mapping[Path, int],
    name: str,
    root: type[BaseModel] = TankFile,
    page: str = "docs/tank_file.md",
) -> FileFormatError:
    """What pydantic found wrong in the file ``name``, told as one message; ``page`` lists its keys."""
    found = error.errors(include_url=False)
    # an unknown key often comes with a missing one, and names the cause
    first = min(found, key=lambda one: one["type"] != "extra_forbidden")
    path = _path(first["loc"], data)
    what, allowed, advice = _words(first, path, data, root, page)
    more = f"; {len(found) - 1} more to mend in this file" if len(found) > 1 else ""
    return FileFormatError(
        what + more, where=_where(name, path, numbers), allowed=allowed, next_step=advice
    )


def _words(
    one: Any, path: Path, data: dict[str, Any], root: type[BaseModel], page: str
) -> tuple[str, str, str]:
    """What is wrong, what is allowed and what to do, for one of pydantic's findings."""
    kind, key = one["type"], path[-1] if path else ""
    context = one.get("ctx", {})
    if kind == "tanksolve":
        return context["what"], context["allowed"], context["next"]
    if kind == "extra_forbidden":
        known = _known_keys(path[:-1], data, root)
        near = difflib.get_close_matches(str(key), known, n=1, cutoff=0.5)
        return (
            f"unknown key '{key}'",
            ", ".join(known),
            _guess(near),
        )
    if kind == "missing":
        return (
            f"the key '{key}' is missing",
            "",
            f"add {key} = ..., or see the list of keys in {page}",
        )
    if kind == "union_tag_not_found":
        return (
            "the key 'shape' is missing",
            "",
            "add shape = ..., which says what the other keys mean",
        )
    if kind == "union_tag_invalid":
        known = [word.strip(" '") for word in context["expected_tags"].split(",")]
        near = difflib.get_close_matches(str(context["tag"]), known, n=1)
        return (
            f"shape '{context['tag']}' is not known",
            ", ".join(known),
            _guess(near),
        )
    if kind == "literal_error":
        words = re.findall("'([^']+)'", context["expected"])
        near = difflib.get_close_matches(str(one["input"]), words, n=1, cutoff=0.5)
        what = f"{one['input']!r} is not one of the words for '{key}'"
        return what, context["expected"], _guess(near)
    if kind in ("tuple_type", "list_type"):
        return (
            f"'{key}' is not a list of tables",
            f"[[{key}]] headers",
            f"write [[{key}]], with two brackets",
        )
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return (
            f"'{key}' is not a table",
            f"a [{key}] header with keys under it",
            f"write [{key}] on a line of its own",
        )
    return f"{one['msg'].lower()}, but {_short(one['input'])} was given", "", ""


def _guess(near: list[str]) -> str:
    return f"did you mean '{near[0]}'?" if near else ""


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _path(loc: tuple[str | int, ...], data: Any) -> Path:
    """Pydantic's place without the shape that it puts between a table and its keys."""
    path: Path = ()
    for step in loc:
        if isinstance(data, dict) and step not in data and step == data.get("shape"):
            continue
        path += (step,)
        if isinstance(data, dict):
            data = data.get(step) if isinstance(step, str) else None
        elif isinstance(data, list):
            data = data[step] if isinstance(step, int) and step < len(data) else None
    return path


def _where(name: str, path: Path, numbers: Mapping[Path, int]) -> str:
    line = line_of(path, numbers)
    shown = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
    return f"{name}, line {line}, {shown}" if line else f"{name}, {shown}"


def _known_keys(path: Path, data: Any, root: type[BaseModel]) -> list[str]:
    """The keys that the table at ``path`` may have."""
    model = root
    for step in path:
        data = data[step]
        if isinstance(step, int):
            continue
        annotation = model.model_fields[step].annotation
        model = _chosen(_models(annotation), data)
        if isinstance(data, list):  # the number comes next, and with it the shape
            models = _models(annotation)
            index = path[path.index(step) + 1]
            model = _chosen(models, data[int(index)])
    common = ("sizes", "wall", "chord_tolerance")  # of many tables: last
    return sorted(model.model_fields, key=lambda name: name in common)


def _models(annotation: object) -> list[type[BaseModel]]:
    """The tables that an annotation speaks of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in typing.get_args(annotation) for model in _models(part)]


def _chosen(models: list[type[BaseModel]], data: object) -> type[BaseModel]:
    shape = data.get("shape") if isinstance(data, dict) else None
    for model in models:
        field = model.model_fields.get("shape")
        if field is not None and shape in typing.get_args(field.annotation):
            return model
    return models[0]
