import json
import re
import runpy
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
