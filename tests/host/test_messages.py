"""All that a person is told when something cannot be done has one form: a sentence, first the
cause, then the remedy."""

import ast
from pathlib import Path

import pytest

HOST = Path(__file__).parents[2] / "host" / "snapcurve"
ERRORS = {"SnapcurveError"} | {
    node.name
    for path in HOST.rglob("*.py")
    for node in ast.walk(ast.parse(path.read_text("utf-8")))
    if isinstance(node, ast.ClassDef)
    and any("Error" in ast.unparse(base) or "Refused" in ast.unparse(base) for base in node.bases)
}


def texts_of(node: ast.expr) -> tuple[str, str] | None:
    """How a text begins and how it ends, "" where a value stands; None if it is no text."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value, node.value
    if isinstance(node, ast.JoinedStr):
        first, last = node.values[0], node.values[-1]
        return (
            str(first.value) if isinstance(first, ast.Constant) else "",
            str(last.value) if isinstance(last, ast.Constant) else "",
        )
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        begins, ends = texts_of(node.left), texts_of(node.right)
        return (begins[0] if begins else "", ends[1] if ends else "")
    return None


def sentences() -> list[tuple[str, str, str]]:
    found = []
    for path in sorted(HOST.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and node.args:
                name = ast.unparse(node.func).rpartition(".")[2]
                text = texts_of(node.args[0]) if name in ERRORS else None
                if text is not None:
                    found.append((f"{path.relative_to(HOST)}:{node.lineno}", *text))
    return found


def begins_well(text: str) -> bool:
    return not text or not text[0].isalpha() or text[0].isupper()


def ends_well(text: str) -> bool:
    return not text or text.rstrip("'\"").endswith((".", "?"))


def test_that_sentences_are_found() -> None:
    assert len(sentences()) > 100


@pytest.mark.parametrize("what", ["begins", "ends"])
def test_every_refusal_is_a_sentence(what: str) -> None:
    odd = [
        f"{place}: {first if what == 'begins' else last}"
        for place, first, last in sentences()
        if not (begins_well(first) if what == "begins" else ends_well(last))
    ]
    assert odd == []
