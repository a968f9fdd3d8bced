r"""Text from outside, made fit for a terminal, a picture, a page or a message.

What a file, a name or a command line says may hold characters that do something instead of being
seen: they move the cursor, colour or retitle a terminal, or turn the direction of reading. Here they
become visible escapes such as ``\u001b``. A text without a bound becomes one with its middle left out.
"""

import re

__all__ = ["clean", "is_plain", "shortened"]

_LINE = 400  # characters
_LINES = 60
_HIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters, but for tab and newline
    "\u00ad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"  # unseen, or turn about
    "\ud800-\udfff\U000e0000-\U000e007f]"  # halves of characters; tags
)


def clean(text: str) -> str:
    """The text with every character that is not seen, but for tab and newline, as an escape."""
    return _HIDDEN.sub(_escape, text)


def _escape(found: re.Match[str]) -> str:
    """As JSON has it, so that a JSON text stays one."""
    code = ord(found[0])
    if code < 0x10000:
        return f"\\u{code:04x}"
    return f"\\u{0xD7C0 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"


def is_plain(text: str) -> bool:
    """Whether the text holds nothing but what is seen, on one line."""
    return not _HIDDEN.search(text) and "\n" not in text and "\t" not in text


def shortened(text: str, line: int = _LINE, lines: int = _LINES) -> str:
    """The text with at most so many ``lines`` of so many characters; what is left out is counted."""
    rows = text.split("\n")
    if len(rows) > lines:
        rows = [*rows[: lines - 1], f"... {len(rows) - lines + 1:,} lines left out"]
    return "\n".join(_short(row, line) for row in rows)


def _short(row: str, most: int) -> str:
    if len(row) <= most:
        return row
    head, tail = 2 * most // 3, most // 4
    return f"{row[:head]} ... {len(row) - head - tail:,} characters left out ... {row[-tail:]}"
