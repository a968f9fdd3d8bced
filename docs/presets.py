"""Writes the table of presets in presets.md from the presets themselves.

Run it after a change of them: ``python docs/presets.py``. A test compares.
"""

from pathlib import Path

from tanksolve.model.requirement_presets import PRESETS, preset

PAGE = Path(__file__).with_name("presets.md")
START, END = "<!-- presets -->\n", "<!-- end of presets -->\n"


def table() -> str:
    """A row for each preset: its name, the attitudes it comes to, what the rule says, the source."""
    rows = ["| `--require` | attitudes taken | what it says | source |", "|---|---|---|---|"]
    for name, entry in PRESETS.items():
        attitudes = "; ".join(preset(name).words)
        rows.append(f"| `{name}` | {attitudes} | {entry.says} | {entry.source} |")
    return "\n".join(rows) + "\n"


def filled(page: str) -> str:
    """The page with the table between its markers written anew."""
    before, rest = page.split(START)
    return before + START + table() + END + rest.split(END)[1]


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text()))
