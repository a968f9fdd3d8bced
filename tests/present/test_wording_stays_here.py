"""No test outside this folder holds the program to its words: who changes a sentence changes tests here."""

import ast
import re
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
# the docs are held to what they show, the version's page and a bare script are not an answer
ELSEWHERE = {"test_docs_examples.py", "test_readme.py", "test_code_health.py", "test_code_store.py"}


def wordings(source):
    """Lines that assert that words, two or more, are printed."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Assert):
            continue
        inside = list(ast.walk(node.test))
        printed = any(isinstance(n, ast.Attribute) and n.attr in ("stdout", "told") for n in inside)
        texts = [
            n.value for n in inside if isinstance(n, ast.Constant) and isinstance(n.value, str)
        ]
        if printed and any(len(re.findall(r"[A-Za-z]{2,}", text)) > 1 for text in texts):
            found.append(node.lineno)
    return found


def test_no_wording_is_tested_elsewhere():
    outside = [
        file
        for file in TESTS.rglob("test_*.py")
        if file.parent != Path(__file__).parent and file.name not in ELSEWHERE
    ]
    assert len(outside) > 100
    odd = {str(file): lines for file in outside if (lines := wordings(file.read_text()))}
    assert odd == {}


def test_a_wording_is_seen():
    assert wordings('assert "kept in every heading" in run("envelope").stdout') == [1]
    assert wordings('assert done.stdout.startswith("No: not kept")') == [1]
    assert wordings('assert "a_key" in done.stdout') == []
    assert wordings('assert done.returncode == 0, "two words" + done.stderr') == []
