"""What the names at a module's top level stand for, where that is plain and never changes."""

import ast
import operator
from collections.abc import Callable, Mapping

Value = int | float | str | bytes | tuple["Value", ...]
_OPERATIONS: Mapping[type[ast.operator], Callable[[int, int], int]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.FloorDiv: operator.floordiv,
    ast.LShift: operator.lshift,
    ast.BitOr: operator.or_,
}


def value_of(node: ast.expr, of_name: Callable[[str], Value | None]) -> Value | None:
    """The value that ``node`` always has, None if that is not plain: a number, a text, a tuple of
    such, or whole numbers reckoned together. ``of_name`` gives that of a name."""
    found: Value | None = None
    match node:
        case ast.Constant(value=int() | float() | str() | bytes() as plain):
            found = None if isinstance(plain, bool) else plain
        case ast.Name(id=name):
            found = of_name(name)
        case ast.Call(func=ast.Name(id="const"), args=[inner]):
            found = value_of(inner, of_name)
        case ast.Tuple(elts=inner_ones):
            values = [value_of(one, of_name) for one in inner_ones]
            if None not in values:
                found = tuple(one for one in values if one is not None)
        case ast.UnaryOp(op=ast.USub(), operand=inner):
            value = value_of(inner, of_name)
            found = -value if isinstance(value, int | float) else None
        case ast.BinOp(left=first, op=sign, right=second) if type(sign) in _OPERATIONS:
            left, right = value_of(first, of_name), value_of(second, of_name)
            if isinstance(left, int) and isinstance(right, int):
                found = _OPERATIONS[type(sign)](left, right)
    return found


def set_once(tree: ast.Module, times_set: Mapping[str, int]) -> dict[str, ast.expr]:
    """The names of ``tree`` that one plain assignment sets, and to what."""
    found = {}
    for node in tree.body:
        if isinstance(node, ast.Assign) and len(node.targets) == 1:
            target = node.targets[0]
            if isinstance(target, ast.Name) and times_set[target.id] == 1:
                found[target.id] = node.value
    return found


def written(value: Value) -> str:
    """``value`` as it may stand in the place of a name."""
    text = repr(value)
    return f"({text})" if text.startswith("-") else text
