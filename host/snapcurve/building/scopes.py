"""Which names of a file are global, which a class's, which local: what renaming has to know.

MicroPython's rules are Python's. ``global`` is not covered: the firmware has none.
"""

import ast
from collections.abc import Container, Iterator, Sequence

Function = ast.FunctionDef | ast.Lambda
_COMPREHENSION = ast.ListComp | ast.SetComp | ast.DictComp | ast.GeneratorExp
Use = tuple[ast.Name | ast.Attribute, str]
_Bound = dict[str, str]


def uses(tree: ast.Module) -> list[Use]:
    """Every name and attribute of ``tree`` and what it is: a name "global", "class" or "local";
    an attribute what the name before its dot is, "" if that is no name.

    An attribute comes before what it is of. ValueError for ``global`` and ``nonlocal``.
    """
    found: list[Use] = []
    _add_uses(tree, {}, found)
    return found


def _add_uses(node: ast.AST, bound: _Bound, found: list[Use]) -> None:
    if isinstance(node, ast.Name):
        found.append((node, bound.get(node.id, "global")))
    elif isinstance(node, ast.Attribute):
        base = node.value
        kind = bound.get(base.id, "global") if isinstance(base, ast.Name) else ""
        found.append((node, kind))
        _add_uses(base, bound, found)
    elif isinstance(node, Function):
        _add_function(node, bound, found)
    elif isinstance(node, ast.ClassDef):
        for one in [*node.bases, *node.decorator_list]:
            _add_uses(one, bound, found)
        own = [name for one in node.body for name in bound_by(one)]
        inner = bound | dict.fromkeys(own, "class")
        for statement in node.body:
            _add_uses(statement, inner, found)
    elif isinstance(node, _COMPREHENSION):
        targets = [
            one.id
            for each in node.generators
            for one in ast.walk(each.target)
            if isinstance(one, ast.Name)
        ]
        inner = bound | dict.fromkeys(targets, "local")
        for child in ast.iter_child_nodes(node):
            _add_uses(child, inner, found)
    elif isinstance(node, ast.Global | ast.Nonlocal):
        raise ValueError(f"line {node.lineno}: {node.names[0]} is declared; pass it instead")
    else:
        for child in ast.iter_child_nodes(node):
            _add_uses(child, bound, found)


def _add_function(node: Function, bound: _Bound, found: list[Use]) -> None:
    # Defaults, decorators and annotations are worked out where the function is made.
    for one in _outside(node):
        _add_uses(one, bound, found)
    body: Sequence[ast.AST] = node.body if isinstance(node.body, list) else [node.body]
    # What a class body sets, its functions do not see.
    inner = {name: kind for name, kind in bound.items() if kind != "class"}
    inner |= dict.fromkeys([one.arg for one in arguments(node)], "local")
    for one in body:
        inner |= dict.fromkeys(bound_by(one), "local")
    for one in body:
        _add_uses(one, inner, found)


def _outside(function: Function) -> list[ast.AST]:
    words = function.args
    found: list[ast.AST | None] = [*words.defaults, *words.kw_defaults]
    found += [one.annotation for one in arguments(function)]
    if isinstance(function, ast.FunctionDef):
        found += [*function.decorator_list, function.returns]
    return [one for one in found if one is not None]


def bound_by(node: ast.AST) -> Iterator[str]:
    """Names that a statement sets in the scope it stands in, imports included."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        yield node.name
        return
    if isinstance(node, ast.Lambda | _COMPREHENSION):
        return
    if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load):
        yield node.id
    elif isinstance(node, ast.Import | ast.ImportFrom):
        for alias in node.names:
            yield (alias.asname or alias.name).partition(".")[0]
    elif isinstance(node, ast.ExceptHandler) and node.name:
        yield node.name
    for child in ast.iter_child_nodes(node):
        yield from bound_by(child)


def arguments(function: Function) -> list[ast.arg]:
    """All arguments of ``function``, in order."""
    words = function.args
    found = [*words.posonlyargs, *words.args, *words.kwonlyargs]
    return found + [one for one in (words.vararg, words.kwarg) if one is not None]


def our_imports(
    module: str, node: ast.ImportFrom, known: Container[str]
) -> list[tuple[ast.alias, str, str | None]]:
    """What ``node`` of ``module`` imports from ``known`` modules: the alias, the module, and
    the name there, None for the module itself.

    Modules are called by their paths without ending, "probe/app", packages by their folders'.
    """
    base = module.split("/")[: -node.level] if node.level else []
    path = "/".join(base + (node.module.split(".") if node.module else []))
    found: list[tuple[ast.alias, str, str | None]] = []
    for alias in node.names:
        if f"{path}/{alias.name}" in known:
            found.append((alias, f"{path}/{alias.name}", None))
        elif path in known:
            found.append((alias, path, alias.name))
    return found


def texts_of(tree: ast.AST) -> list[ast.Constant]:
    """The texts in ``tree`` that are no documentation."""
    nodes = list(ast.walk(tree))
    documentation = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    return [
        node
        for node in nodes
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in documentation
    ]


def text_of(node: ast.Constant) -> str:
    """One of ``texts_of``, as a text."""
    assert isinstance(node.value, str)
    return node.value


class Edits:
    """A text and what is to be put elsewhere in it; the number of its lines stays."""

    def __init__(self, text: str):
        self._lines = [line.encode() for line in text.split("\n")]
        self._edits: dict[tuple[int, int], tuple[int, int, bytes]] = {}

    def replace(self, node: ast.expr | ast.stmt | ast.alias | ast.arg, new: str) -> None:
        """Put ``new`` where ``node`` stands."""
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        self._add(node.lineno, node.col_offset, node.end_lineno, node.end_col_offset, new)

    def rename_attribute(self, node: ast.Attribute, new: str) -> None:
        """Put ``new`` behind the dot."""
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = node.end_col_offset - len(node.attr.encode())
        self._add(node.end_lineno, start, node.end_lineno, node.end_col_offset, new)

    def rename_argument(self, node: ast.arg, new: str) -> None:
        """Give an argument another name; its annotation stays."""
        end = node.col_offset + len(node.arg.encode())
        self._add(node.lineno, node.col_offset, node.lineno, end, new)

    def rename_definition(self, node: ast.FunctionDef | ast.ClassDef, new: str) -> None:
        """Give a function or class another name."""
        keyword = "class " if isinstance(node, ast.ClassDef) else "def "
        start = node.col_offset + len(keyword)
        self._add(node.lineno, start, node.lineno, start + len(node.name.encode()), new)

    def _add(self, line: int, start: int, last: int, end: int, new: str) -> None:
        assert (line, start) not in self._edits, (line, start, new)
        self._edits[line, start] = last, end, new.encode()

    def text(self) -> str:
        """The text with all replacements made."""
        lines = list(self._lines)
        for (line, start), (last, end, new) in sorted(self._edits.items(), reverse=True):
            rest = lines[last - 1][end:]
            lines[line - 1] = lines[line - 1][:start] + new + rest
            for index in range(line, last):
                lines[index] = b""
        return b"\n".join(lines).decode()
