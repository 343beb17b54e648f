"""Text made compact before it is compiled, and the way back from its lines.

With the byte code of each function MicroPython keeps which piece comes from which line: an
eighth of it. So simple statements in a row share a line, with the head of the block if they are
all of it, and comments and blank lines are gone. Where the firmware fails is still told to such
a row of statements, at most MOST_LINES of the source and mostly one to four.
"""

import ast
from collections.abc import Collection
from dataclasses import dataclass

MOST_LINES = 10  # of the source, in one row of statements


@dataclass(frozen=True)
class Compacted:
    """``text``, and for each of its lines the first and last line it was made from."""

    text: str
    lines: list[tuple[int, int]]


@dataclass
class _Row:
    """One line to be: whether it is made of simple statements only, and which lines of the
    source it comes from."""

    depth: int
    text: str
    first: int
    last: int
    simple: bool


def compact(text: str, begins: Collection[int] = ()) -> Compacted:
    """The same program on fewer lines, without its documentation. No line is made from what is
    before and behind a line of ``begins``."""
    tree = ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module):
            _without_documentation(node)
    written = ast.unparse(tree)
    # Statements come in the same order; each stands on a line of its own now.
    began: dict[int, ast.stmt] = {}
    simple: set[int] = set()
    for old, new in zip(_statements(tree), _statements(ast.parse(written)), strict=True):
        # A decorated function begins with its decorators.
        began[new.lineno] = old
        if not hasattr(new, "body"):
            assert new.end_lineno == new.lineno, "a statement has more lines than one"
            simple.add(new.lineno)
    rows: list[_Row] = []
    for number, line in enumerate(written.splitlines(), 1):
        if not line:
            continue
        # One blank for each level is enough, and quicker to read.
        depth = (len(line) - len(line.lstrip())) // 4
        first, last = _span(began.get(number), rows)
        before = rows[-1] if rows else None
        if (
            number in simple
            and before is not None
            and before.simple
            and before.depth == depth
            and last - before.first < MOST_LINES
            and not any(before.first < begin <= last for begin in begins)
        ):
            before.text += "; " + line.lstrip()
            before.last = last
        else:
            rows.append(_Row(depth, line.lstrip(), first, last, number in simple))
    rows = _bodies_beside_heads(rows)
    lines = [" " * row.depth + row.text for row in rows]
    return Compacted("\n".join(lines) + "\n", [(row.first, row.last) for row in rows])


def _bodies_beside_heads(rows: list[_Row]) -> list[_Row]:
    """``if a:`` and a body that is one row of simple statements, as one row."""
    found: list[_Row] = []
    for index, row in enumerate(rows):
        head = found[-1] if found else row
        alone = index + 1 == len(rows) or rows[index + 1].depth <= head.depth
        near = row.last - head.first < MOST_LINES
        if (
            row.simple
            and row.depth == head.depth + 1
            and head.text.endswith(":")
            and alone
            and near
        ):
            head.text += " " + row.text
            head.last = max(head.last, row.last)
        else:
            found.append(row)
    return found


def _without_documentation(node: ast.FunctionDef | ast.ClassDef | ast.Module) -> None:
    first = node.body[0] if node.body else None
    if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
        del node.body[0]
        if not node.body and not isinstance(node, ast.Module):
            node.body.append(ast.copy_location(ast.Pass(), first))


def _statements(tree: ast.Module) -> list[ast.stmt]:
    return [node for node in ast.walk(tree) if isinstance(node, ast.stmt)]


def _span(node: ast.stmt | None, before: list[_Row]) -> tuple[int, int]:
    """First and last line of a statement, without what it contains."""
    if node is None:  # else, finally, a decorator: what is before it is near enough
        return (before[-1].first, before[-1].last) if before else (1, 1)
    body = getattr(node, "body", None)
    assert node.end_lineno is not None
    return node.lineno, max(node.lineno, body[0].lineno - 1) if body else node.end_lineno
