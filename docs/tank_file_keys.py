"""Writes the tables of keys in tank_file.md from the models that check the file.

Run it after a change of the format: ``python docs/tank_file_keys.py``. A test compares.
"""

import json
from pathlib import Path

from tanksolve.project.schema import schema_json

PAGE = Path(__file__).with_name("tank_file.md")
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
        return "a list of tables"
    if schema.get("type") == "string" and "examples" in schema:
        return f"{schema.get('kind', 'as in')} `{schema['examples'][0]}`"
    return {"string": "a text", "integer": "a whole number"}[schema["type"]]


def default(schema: dict, name: str, required: list[str]) -> str:
    """What is taken where the key is left out."""
    if name in required:
        return "needed"
    value = schema.get("default")
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


def filled(text: str) -> str:
    """The page with every table written anew."""
    schema = json.loads(schema_json())
    definitions = {**schema["$defs"], "TankFile": schema}
    parts = text.split("<!-- keys ")
    done = [parts[0]]
    for part in parts[1:]:
        name, _, rest = part.partition(" -->")
        after = rest.partition(END)[2]
        done.append(f"{name} -->\n{table(definitions[name])}\n{END}{after}")
    return "<!-- keys ".join(done)


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
