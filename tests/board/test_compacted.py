"""Compact text: the same program, and the way back from its lines."""

import ast

import pytest

from snapcurve.building.compacted import MOST_LINES, compact
from snapcurve.building.sources import firmware_files, main_file

FILES = {"main": main_file(), **firmware_files()}


def without_documentation(text):
    tree = ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                del node.body[0]
                if not node.body and not isinstance(node, ast.Module):
                    node.body.append(ast.Pass())
    return tree


@pytest.mark.parametrize("name", FILES)
def test_the_same_program_and_every_line_known(name):
    text = FILES[name].read_text(encoding="utf-8")
    made = compact(text)
    before, after = without_documentation(text), ast.parse(made.text)
    assert ast.dump(before) == ast.dump(after)
    assert len(made.lines) == made.text.rstrip("\n").count("\n") + bool(made.text.strip())
    for old, new in zip(ast.walk(before), ast.walk(after), strict=True):
        if isinstance(new, ast.stmt) and hasattr(old, "lineno"):
            first, last = made.lines[new.lineno - 1]
            assert first <= old.lineno <= last
            if not hasattr(new, "body"):
                assert last - first < MOST_LINES or first == old.lineno, "a row too long"


def test_rows():
    text = '''"""What it is."""

import math  # for pi


def f(a):
    """Documentation."""
    b = a
    c = b  # a comment

    if c:
        d = 1
        e = 2
    else:
        return None
    for x in range(3):
        if x:
            continue
        d = x
    try:
        g = (
            1 +
            2
        )
    finally:
        h = 3
    return d
'''
    made = compact(text)
    assert made.text.splitlines() == [
        "import math",
        "def f(a):",
        " b = a; c = b",
        " if c: d = 1; e = 2",
        " else: return None",
        " for x in range(3):",
        "  if x: continue",
        "  d = x",
        " try: g = 1 + 2",
        " finally: h = 3",
        " return d",
    ]
    assert made.lines[0] == (3, 3)
    assert made.lines[2:4] == [(8, 9), (11, 13)]
    assert made.lines[6:8] == [(17, 18), (19, 19)]
    assert made.lines[8] == (20, 24)
    assert made.lines[10] == (27, 27)


def test_a_long_row_is_broken():
    text = "\n".join(f"a{number} = {number}" for number in range(3 * MOST_LINES)) + "\n"
    assert compact(text).lines == [
        (1 + MOST_LINES * part, MOST_LINES * (part + 1)) for part in range(3)
    ]
