"""Writes the tables of keys in tank_file.md and study.md from the models that check the files.

Run it after a change of the format: ``python docs/tank_file_keys.py``. A test compares.
"""

import json
from pathlib import Path

from tanksolve.project.schema import schema_json
from tanksolve.study.measures import KINDS, MEASURES
from tanksolve.study.study_file import StudyFile

PAGES = [Path(__file__).with_name(name) for name in ("tank_file.md", "study.md")]
START, END = "<!-- keys {} -->", "<!-- end of keys -->"


def cell(text: str) -> str:
    """A text with the one sign that would end its cell escaped."""
    return text.replace("|", "\\|")


def kind(schema: dict) -> str:
    """What a value may be, in words."""
    if "enum" in schema:
        return ", ".join(f"`{word}`" for word in schema["enum"])
    if "const" in schema:
        return f"`{json.dumps(schema['const']).strip(chr(34))}`"
    if "anyOf" in schema:
        return " or ".join(kind(one) for one in schema["anyOf"] if one.get("type") != "null")
    if "$ref" in schema or "oneOf" in schema or "allOf" in schema:
        return "a table"
    if schema.get("type") == "array":
        plain = schema.get("items", {})
        return "a list" if plain.get("type") == "string" or "anyOf" in plain else "a list of tables"
    if schema.get("type") == "object":
        return "a table"
    if schema.get("type") == "string" and "examples" in schema:
        return f"{schema.get('kind', 'as in')} `{schema['examples'][0]}`"
    words = {"string": "a text", "integer": "a whole number", "number": "a number"}
    return {**words, "boolean": "`true`, `false`"}[schema["type"]]


def default(schema: dict, name: str, required: list[str]) -> str:
    """What is taken where the key is left out."""
    if name in required:
        return "needed"
    value = schema.get("default")
    if "left_out" in schema:
        return f"`{schema['left_out']}`"
    if value in (None, [], {}) or isinstance(value, dict):
        return ""
    if name == "chord_tolerance":
        return "0.1 mm"
    return f"`{value}`" if isinstance(value, str) else "0"


def table(definition: dict) -> str:
    """One table of keys as markdown."""
    rows = ["| key | what it is | value | if left out |", "|---|---|---|---|"]
    required = definition.get("required", [])
    common = ("sizes", "wall", "chord_tolerance")  # of many tables: last
    for name, schema in sorted(definition["properties"].items(), key=lambda one: one[0] in common):
        cells = [
            f"`{name}`",
            schema.get("description", ""),
            kind(schema),
            default(schema, name, required),
        ]
        rows.append("| " + " | ".join(cell(text) for text in cells) + " |")
    return "\n".join(rows)


def measures() -> str:
    """What a study computes, as a table."""
    rows = ["| measure | column | what it is | how sure |", "|---|---|---|---|"]
    for name, one in MEASURES.items():
        columns = ", ".join(f"`{c}`" for c in (name + KINDS[one.kind].suffix, *one.also))
        rows.append(f"| `{name}` | {columns} | {one.what} | {one.sure} |")
    return "\n".join(rows)


def filled(text: str) -> str:
    """The page with every table written anew."""
    schemas = {"TankFile": json.loads(schema_json()), "StudyFile": StudyFile.model_json_schema()}
    definitions = {k: v for schema in schemas.values() for k, v in schema["$defs"].items()}
    definitions |= schemas
    parts = text.split("<!-- keys ")
    done = [parts[0]]
    for part in parts[1:]:
        name, _, rest = part.partition(" -->")
        after = rest.partition(END)[2]
        made = measures() if name == "measures" else table(definitions[name])
        done.append(f"{name} -->\n{made}\n{END}{after}")
    return "<!-- keys ".join(done)


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(filled(page.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
