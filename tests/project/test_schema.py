import json
import re
import runpy
import tomllib
from pathlib import Path

import pytest
import walled_tank

from tanksolve.project.load import loads
from tanksolve.project.schema import schema_json

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGE = (DOCS / "tank_file.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
HEAD = 'tanksolve_file = 1\nfill = "5 L"\n'
SHELL = '[tank]\nshape = "box"\nlength = "900 mm"\nwidth = "300 mm"\nheight = "300 mm"\n'


def as_file(block: str) -> str:
    if block.startswith("tanksolve_file"):
        return block
    return HEAD + (block if "[tank]" in block else SHELL + block)


@pytest.mark.parametrize("block", BLOCKS, ids=[block.splitlines()[1] for block in BLOCKS])
def test_every_example_of_the_page_loads(block, tmp_path):
    if "tank_wall.stl" in block:
        walled_tank.save(tmp_path / "tank_wall.stl", walled_tank.walled())
    project = loads(as_file(block), tmp_path / "tank.toml")
    assert project.tank.capacity > 0.0
    parts = re.findall(r"\[\[(sump|baffle|internal)\]\]", block)
    assert sum(" adds " in note or " takes " in note for note in project.tank.notes) == len(parts)


def test_the_tables_of_keys_are_those_of_the_models():
    keys = runpy.run_path(str(DOCS / "tank_file_keys.py"))
    assert len(keys["PAGES"]) == 2
    for path in keys["PAGES"]:
        page = path.read_text(encoding="utf-8")
        assert keys["filled"](page) == page, "run: python docs/tank_file_keys.py"


def test_every_table_and_key_is_on_the_page():
    schema = json.loads(schema_json())
    for name, definition in {**schema["$defs"], "TankFile": schema}.items():
        assert f"<!-- keys {name} -->" in PAGE
        section = PAGE.split(f"<!-- keys {name} -->")[1].split("<!-- end of keys -->")[0]
        for key, value in definition["properties"].items():
            assert f"| `{key}` |" in section
            assert value.get("description"), f"{name}.{key} is not described"


def test_every_shape_has_an_example():
    schema = json.loads(schema_json())
    shapes = set(schema["properties"]["tank"]["discriminator"]["mapping"])
    shown = {
        match
        for block in BLOCKS
        if "[tank]" in block
        for match in re.findall(r'shape = "(\w+)"', block)
    }
    assert shapes == shown
    internals = set(schema["properties"]["internal"]["items"]["discriminator"]["mapping"])
    assert internals <= {
        match for block in BLOCKS for match in re.findall(r'shape = "(\w+)"', block)
    }


def test_the_schema_says_which_schema_it_is():
    schema = json.loads(schema_json())
    assert schema["$schema"].endswith("2020-12/schema")
    assert schema["properties"]["tanksolve_file"]["const"] == 1
    assert schema["additionalProperties"] is False
    assert all(one["additionalProperties"] is False for one in schema["$defs"].values())


# for a key: what the reader takes, and what it refuses without building a tank
TEXTS = {
    ("Box", "length"): (
        ["900 mm", "36in", '35.5 "', ".9m", "3 ft", "1e3 mm", "900 millimetres"],
        ["900", "900 L", "900 mn", "9,5 mm", "900 nm", "", "mm"],
    ),
    ("MountingTable", "pitch"): (["15 deg", "26.8 %", "1:4", "0", "-2°"], ["15", "15 mm", "1:"]),
    ("LiquidTable", "density"): (
        ["870 kg/m3", "54 lb/ft3", "0.87 g/cm3"],
        ["870", "870 mm", "870 kg"],
    ),
    ("PortTable", "flow"): (["60 L/min", "16gpm", "0.001 m3/s"], ["60", "60 L", "60 mm"]),
    ("PortTable", "at"): (
        ["20, 150, 30 mm", "20mm,150mm,30mm", "-1, 2.5, 3 in"],
        ["20, 150 mm", "20, 150, 30", "20; 150; 30 mm", "20, 150, 30, 40 mm"],
    ),
    ("PortTable", "facing"): (
        ["down", "rearward+down", "up + left"],
        ["downward", "below", "down,left"],
    ),
    ("RoundSump", "at"): (["150, 150 mm"], ["150 mm", "150, 150, 10 mm"]),
    ("Extrusion", "profile"): (
        ["0,0; 300,0; 300,200 mm", "0,0; 300,0; 300,200 mm;"],
        ["0,0; 300,0; 300,200", "0; 300; 300 mm"],
    ),
    ("Notch", "edge"): (["bottom", "rear"], ["floor", "under"]),
    ("CornerClip", "corner"): (["bottom right", "top front"], ["bottom", "lower right"]),
    ("TankFile", "fill"): (
        ["42 L", "30..42 L", "30 L..42 L", "11 gal", "9 imperial_gallon", "120 mm", "0.04 m3"],
        ["42", "42 kg", "30..42", "42.5,1 L"],
    ),
}


def told_of(value):
    """What the schema says of a key's text, whether or not it may be left out."""
    return next((one for one in value.get("anyOf", []) if one.get("type") == "string"), value) | {
        name: value[name] for name in ("pattern", "enum") if name in value
    }


def taken(told, text):
    return text in told["enum"] if "enum" in told else bool(re.search(told["pattern"], text))


@pytest.mark.parametrize(("table", "key"), TEXTS, ids=[".".join(one) for one in TEXTS])
def test_the_schema_marks_what_the_reader_refuses_without_building(table, key):
    schema = json.loads(schema_json())
    model = schema if table == "TankFile" else schema["$defs"][table]
    told = told_of(model["properties"][key])
    right, wrong = TEXTS[table, key]
    assert [text for text in right if not taken(told, text)] == []
    assert [text for text in wrong if taken(told, text)] == []


def texts_of(model, values, schema):
    """Each text in a table as read from TOML, with what the schema says of its key."""
    for key, value in values.items():
        told = model.get("properties", {}).get(key)
        if isinstance(value, str) and told is not None:
            yield key, value, told_of(told)
        elif isinstance(value, dict | list):
            for item in value if isinstance(value, list) else [value]:
                if isinstance(item, dict):
                    for name in re.findall(r"#/\$defs/(\w+)", json.dumps(told or {})):
                        inner = schema["$defs"][name]
                        shapes = (
                            inner["properties"].get("shape", {}).get("const", item.get("shape"))
                        )
                        if set(item) <= set(inner["properties"]) and item.get("shape") == shapes:
                            yield from texts_of(inner, item, schema)


@pytest.mark.parametrize("block", BLOCKS, ids=[block.splitlines()[1] for block in BLOCKS])
def test_the_schema_takes_every_example_of_the_page(block):
    schema = json.loads(schema_json())
    found = list(texts_of(schema, tomllib.loads(as_file(block)), schema))
    assert found
    checked = [one for one in found if {"pattern", "enum"} & set(one[2])]
    assert checked
    assert [(key, text) for key, text, told in checked if not taken(told, text)] == []
