"""``tanksolve size`` and ``tanksolve tolerance`` as a user runs them."""

import pytest
from program import run

BOX = ["--box", "900x300x300mm", "--pickup", "p=300,150,50mm"]


CAP = ["--breather", "cap=450,150,300mm"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--vary", "girth"], "--vary"),
        (["--sump", "1,2,3mm"], "--sump"),
        (["--sump", "300,150mm,diameter=150mm,depth=60mm,depth=70mm"], "--sump"),
        (["--usable=-3L"], "--usable: '-3L' is no volume"),
        (["--usable", "0L"], "--usable: '0L' is no volume"),
        (["--usable", "nanL"], "--usable"),
        (["--fill", "42L"], "--fill, --usable"),
        ([], "no fill is given"),
    ],
)
def test_size_mistakes(words, says):
    usable = ["--usable", "9L"] if words and "--usable" not in words[0] else []
    shown = run("size", *BOX, *CAP, "--require", "8deg", *usable, *words)
    assert shown.returncode == 2
    assert says in shown.stderr
