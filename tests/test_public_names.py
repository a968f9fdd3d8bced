"""The public face: what ``from tanksolve import ...`` offers is listed, real, late, and documented."""

import ast
import importlib
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import tanksolve

SOURCE = Path(tanksolve.__file__)


def test_listed_names_are_sorted_and_unique():
    names = tanksolve.__all__
    assert names == sorted(set(names), key=lambda n: (not n[0].isupper(), n))
    assert dir(tanksolve) == names


@pytest.mark.parametrize("name", tanksolve.__all__)
def test_each_name_is_there_and_explains_itself(name):
    value = getattr(tanksolve, name)
    if name != "__version__":
        assert inspect.getdoc(value)
        home = importlib.import_module(value.__module__)
        assert getattr(home, name) is value
        assert name in home.__all__


def test_what_the_type_checker_sees_is_what_is_offered():
    """The imports under TYPE_CHECKING and the lazy ones name the same things from the same modules."""
    tree = ast.parse(SOURCE.read_text())
    block = next(n for n in tree.body if isinstance(n, ast.If))
    seen = {
        alias.name: node.module
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert set(seen) | {"__version__"} == set(tanksolve.__all__)
    assert seen == {name: tanksolve._HOME_OF[name] for name in seen}
    assert set(tanksolve._HOME_OF) == set(seen)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'envelop'"):
        tanksolve.envelop  # noqa: B018


def test_importing_the_package_imports_nothing_heavy():
    heavy = "numpy", "numba", "trimesh", "manifold3d", "matplotlib", "pydantic", "scipy", "pint"
    script = f"import sys, tanksolve; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_five_lines_give_an_envelope():
    """The example at the top of the package, run as it stands there."""
    lines = [line for line in (tanksolve.__doc__ or "").splitlines() if line.startswith("    ")]
    assert len([line for line in lines if line.strip()]) == 5
    place: dict[str, object] = {}
    example = "\n".join(line.strip() for line in lines).replace("print(limits.worst)", "")
    exec(example, place)
    limits = place["limits"]
    assert isinstance(limits, tanksolve.Envelope)
    assert limits.fill.least == 0.042
    assert limits.worst.port == "suction"
