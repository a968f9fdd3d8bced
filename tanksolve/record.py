"""Frozen results as plain JSON data: the one place where a dataclass becomes a dict."""

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np

__all__ = ["as_plain"]


def as_plain(value: Any) -> Any:
    """Turn a result into what ``json.dumps`` takes: dicts, lists, numbers, strings, None.

    Dataclass fields whose metadata holds ``{"json": False}`` are left out (meshes, trees).
    Infinities and NaN have no JSON form and become None.
    """
    if is_dataclass(value) and not isinstance(value, type):
        kept = (f for f in fields(value) if f.metadata.get("json", True))
        return {f.name: as_plain(getattr(value, f.name)) for f in kept}
    if isinstance(value, Mapping):
        return {str(key): as_plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return as_plain(value.tolist())
    if isinstance(value, list | tuple):
        return [as_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, np.generic):
        return as_plain(value.item())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
