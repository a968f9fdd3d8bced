"""What was typed and cannot be: an option that there is not, and a refusal in lines that fit the terminal."""

import difflib
import shutil
import textwrap
from typing import TextIO

from tanksolve.errors import TanksolveError

__all__ = ["mistyped", "width_of", "wrapped"]

_IN_A_FILE = ("baffle", "plate", "sump", "tube", "internal", "compartment", "bay", "hole", "slosh")


def mistyped(error: BaseException) -> TanksolveError | None:
    """The refusal for what the reader of options raised; None for any other error.

    The reader is told by what it has, not by its class: typer carries its own copy of it or not, by version.
    """
    tell = getattr(error, "format_message", None)
    if tell is None:
        return None
    context = getattr(error, "ctx", None)
    name = "" if context is None else context.info_name or ""
    command = "tanksolve" if context is None or context.parent is None else f"tanksolve {name}"
    option = getattr(error, "option_name", None)
    if option is None or not hasattr(error, "possibilities"):
        return TanksolveError(tell().rstrip("."), next_step=f"{command} --help tells the options")
    return TanksolveError(
        f"there is no option {option}", where=name, next_step=_instead(option, context, command)
    )


def _instead(option: str, context: object, command: str) -> str:
    """What to do where there is no such option: write it in a tank file, or the nearest that there is."""
    word = option.lstrip("-").lower()
    if any(word.startswith(part) for part in _IN_A_FILE):
        return (
            "what stands in a tank (plates, sumps, tubes) is written in a tank file: "
            "tanksolve new my_tank.toml, then put my_tank.toml in place of --box"
        )
    params = getattr(getattr(context, "command", None), "params", ())
    known = [
        o for p in params if not (p.name or "").startswith("gone_") for o in p.opts if o[:2] == "--"
    ]
    near = difflib.get_close_matches(option, known, n=2, cutoff=0.7)
    meant = f"did you mean {' or '.join(near)}? " if near else ""
    return f"{meant}{command} --help tells the options, tanksolve help tank those of the tank"


def width_of(stream: TextIO) -> int | None:
    """Columns of the terminal that ``stream`` writes on; None where it is none, as in a pipe."""
    return shutil.get_terminal_size().columns if stream.isatty() else None


def wrapped(message: str, width: int | None) -> str:
    """The message's lines broken between words at ``width`` columns; one with something to type stays whole."""
    if width is None:
        return message
    return "\n".join(_row(row, max(width, 40)) for row in message.split("\n"))


def _row(row: str, width: int) -> str:
    if len(row) <= width or (row.startswith("  next: ") and ("--" in row or "tanksolve " in row)):
        return row
    indent = "    " if row.startswith(" ") else "  "
    return textwrap.fill(
        row, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )
