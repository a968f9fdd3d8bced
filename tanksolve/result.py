"""What a question returns, as data: compared by value, sent to other processes, told short, as tables."""

import html
import math
from dataclasses import fields, is_dataclass
from numbers import Real
from typing import Any, ClassVar

from tanksolve.errors import TanksolveError
from tanksolve.record import as_plain

__all__ = ["Result"]

_SHOWN = 160  # letters of a short telling
_ROWS = 40  # of a table in a notebook


class Result:
    """The base of every result; a frozen dataclass with ``eq=False, repr=False`` besides.

    ``rows_of`` names the field whose records are the rows of a table; a result without one is one row.
    """

    rows_of: ClassVar[str] = ""

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as ``--json`` has it: dicts, lists, numbers in SI, text, None."""
        plain: dict[str, Any] = as_plain(self)
        return plain

    def to_dataframe(self) -> Any:
        """A pandas table of the rows; NaN where there is no number. Raises TanksolveError without pandas."""
        try:
            import pandas
        except ImportError:
            raise TanksolveError(
                "a table needs pandas, which is not installed",
                where="to_dataframe",
                next_step="pip install pandas, or take to_dict()",
            ) from None
        return pandas.json_normalize(self._rows())

    def _rows(self) -> list[dict[str, Any]]:
        plain = self.to_dict()
        rows = plain[self.rows_of] if self.rows_of else [plain]
        return list(rows)

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return isinstance(other, Result) and self.to_dict() == other.to_dict()

    def __hash__(self) -> int:
        return hash(repr(self))

    def __repr__(self) -> str:
        parts = [part for f in fields(self) if (part := _part(f.name, getattr(self, f.name)))]  # type: ignore[arg-type]
        told = ""
        for k, part in enumerate(parts):
            if len(told) + len(part) > _SHOWN:
                told += f", {len(parts) - k} more"
                break
            told += f", {part}" if told else part
        return f"<{type(self).__name__}: {told}>"

    def _repr_html_(self) -> str:
        rows = self._rows()
        if not self.rows_of:  # one record: names beside values
            rows = [{"name": name, "value": value} for name, value in rows[0].items()]
        names = list(rows[0]) if rows else []
        head = "".join(f"<th>{html.escape(name)}</th>" for name in names)
        body = "".join(
            "<tr>"
            + "".join(f"<td>{html.escape(_short(row[name]))}</td>" for name in names)
            + "</tr>"
            for row in rows[:_ROWS]
        )
        more = f"<p>{len(rows) - _ROWS} more rows</p>" if len(rows) > _ROWS else ""
        title = html.escape(repr(self))
        return f"<p>{title}</p><table><tr>{head}</tr>{body}</table>{more}"


def _part(name: str, value: object) -> str:
    """A field in few letters; nothing of what is neither a number, a text nor a list."""
    if isinstance(value, tuple | list):
        return f"{len(value)} {name}" if value else ""
    if value is None or isinstance(value, bool | str | Real):
        return f"{name}={_short(value)}"
    return f"{name}={value!r}" if is_dataclass(value) and len(repr(value)) < _SHOWN // 2 else ""


def _short(value: object) -> str:
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, Real):
        number = float(value)
        return f"{number:.6g}" if math.isfinite(number) else "-"
    if value is None:
        return "-"
    text = value if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."
