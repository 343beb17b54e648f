"""Names made short before the firmware is compiled.

MicroPython keeps the text of every name of a program in memory, with a table of them that
doubles as it fills: for this firmware nearly a fifth of the heap. Most of its names stand in
one file or two, so one short list serves all files in turn. Lines stay where they are, and
a failure that the board reports still points to the line of the source.
"""

import ast
import io
import re
import tokenize
from collections import defaultdict
from collections.abc import Iterator, Mapping
from importlib import resources
from itertools import count
from string import ascii_letters

_Function = ast.FunctionDef | ast.Lambda


def shorten(sources: Mapping[str, str], keep: frozenset[str] = frozenset()) -> dict[str, str]:
    """``sources`` (module path without its ending, "probe/app" -> text) with short names.

    A name changes, alike in all files, if it is an attribute, a function, a class or a global
    of these sources and nothing else knows it: it is not in ``keep``, not one of the
    interpreter's (interpreter_names.txt), not part of a text, of no module and no exception.
    Two names get the same short one only if they never meet: in one file, or in two with a
    class and the one it derives from. Arguments change unless some call passes them by name.
    ValueError for text that these rules do not cover.
    """
    files = {name: _File(text) for name, text in sources.items()}
    kept = keep | _interpreter_names() | {part for name in sources for part in name.split("/")}
    for file in files.values():
        kept |= file.kept
    own = {name for file in files.values() for name in file.defined} - kept
    short = _shared_out(files, own)
    passed = {name for file in files.values() for name in file.passed_by_name}
    return {name: file.shortened(short, passed) for name, file in files.items()}


def _interpreter_names() -> frozenset[str]:
    """Names of MicroPython's built-in types and of the modules the firmware imports."""
    file = resources.files("snapcurve.installing") / "interpreter_names.txt"
    return frozenset(file.read_text(encoding="utf-8").split())


class _File:
    """One source file and what of it bears on names."""

    def __init__(self, text: str):
        self._text = text
        self._tree = ast.parse(text)
        self.spots: list[tuple[int, int, str]] = []  # line, column in characters, name
        for token in tokenize.generate_tokens(io.StringIO(text).readline):
            if token.type == tokenize.NAME:
                if token.string.startswith("_") and token.string[1:].isdigit():
                    raise ValueError(f"{token.string} is a short name: call it otherwise")
                self.spots.append((*token.start, token.string))
        self.names = {name for _, _, name in self.spots}
        self.defined: set[str] = set()
        self.kept: set[str] = set()
        self.loose: set[str] = set()  # set from outside its class
        self.passed_by_name: set[str] = set()
        self.bases: set[str] = set()  # of the classes, by name
        nodes = list(ast.walk(self._tree))
        for node in nodes:
            self._look_at(node)
        self._global_names()
        self._texts(nodes)

    def _look_at(self, node: ast.AST) -> None:
        if isinstance(node, ast.FunctionDef):
            self.defined.add(node.name)
        elif isinstance(node, ast.ClassDef):
            self.defined.add(node.name)
            bases = {base.id for base in node.bases if isinstance(base, ast.Name)}
            self.bases |= bases
            if any(base.endswith(("Exception", "Error")) for base in bases):
                self.kept.add(node.name)  # it stands in the reason of a failure
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            if isinstance(node.value, ast.Name) and node.value.id == "self":
                self.defined.add(node.attr)
            else:
                self.loose.add(node.attr)
        elif isinstance(node, ast.Call):
            if any(word.arg is None for word in node.keywords):
                raise ValueError("** hides which names a call passes: write them out")
            self.passed_by_name |= {word.arg for word in node.keywords if word.arg}
            if isinstance(node.func, ast.Name) and node.func.id == "getattr":
                self._asked_for_by_text(node.args[1])
        elif isinstance(node, ast.JoinedStr):
            raise ValueError("names inside an f-string cannot be told from its text: use %")

    def _asked_for_by_text(self, asked: ast.expr) -> None:
        """``getattr(x, "on_" + name)``: all names that begin so are kept."""
        if isinstance(asked, ast.Constant):
            return
        start = asked.left if isinstance(asked, ast.BinOp) else None
        text = start.value if isinstance(start, ast.Constant) else None
        if not isinstance(text, str) or not text:
            raise ValueError("getattr needs a name that begins with a constant text")
        self.kept |= {name for name in self.names if name.startswith(text)}

    def _global_names(self) -> None:
        for node in self._tree.body:
            if isinstance(node, ast.Assign):
                for target in node.targets:
                    self.defined |= {
                        one.id for one in ast.walk(target) if isinstance(one, ast.Name)
                    }

    def _texts(self, nodes: list[ast.AST]) -> None:
        """Words inside texts may be names: of a record, of a choice, for hasattr."""
        comments = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
        for node in nodes:
            if not isinstance(node, ast.Constant) or id(node) in comments:
                continue
            if isinstance(node.value, str):
                self.kept |= set(re.findall(r"\w+", node.value))
        self.kept |= {name for name in self.names if name.startswith("__")}

    def shortened(self, short: Mapping[str, str], passed: set[str]) -> str:
        """The text with the names of ``short`` replaced, and arguments but those ``passed``."""
        changes = {
            (line, column): (name, short[name])
            for line, column, name in self.spots
            if name in short
        }
        lines = self._text.splitlines(keepends=True)
        for line, column, name, letter in _arguments(self._tree, passed):
            # ast counts bytes, tokenize characters
            characters = len(lines[line - 1].encode()[:column].decode())
            changes.setdefault((line, characters), (name, letter))
        for (line, column), (name, new) in sorted(changes.items(), reverse=True):
            row = lines[line - 1]
            assert row[column : column + len(name)] == name, (line, column, name)
            lines[line - 1] = row[:column] + new + row[column + len(name) :]
        return "".join(lines)


def _shared_out(files: Mapping[str, _File], own: set[str]) -> dict[str, str]:
    """Name -> short name, the same one for names that never meet."""
    where = {name: file for file in files.values() for name in file.defined}
    loose = {name for file in files.values() for name in file.loose} & own
    meets: dict[str, set[str]] = defaultdict(set)
    for file in files.values():
        together = {name for one in _derived_from(file, where) for name in one.names} & own
        for name in together:
            meets[name] |= together
    for name in own:
        meets[name] |= own if name in loose else loose
    short: dict[str, str] = {}
    # Those that meet most first: that needs the fewest names.
    for name in sorted(meets, key=lambda one: (-len(meets[one]), one)):
        taken = {short[other] for other in meets[name] if other in short}
        short[name] = next(one for one in map("_{}".format, count()) if one not in taken)
    return short


def _derived_from(file: _File, where: Mapping[str, _File]) -> list[_File]:
    """The files with the classes from which those of ``file`` derive, however far up."""
    found = [file]
    for one in found:
        found += [where[base] for base in one.bases if base in where and where[base] not in found]
    return found


def _arguments(tree: ast.AST, passed: set[str]) -> Iterator[tuple[int, int, str, str]]:
    """``(line, byte column, name, letter)`` of every use of an argument."""
    for function, outer in _functions(tree, ()):
        body = function.body if isinstance(function.body, list) else [function.body]
        inside = [node for statement in body for node in ast.walk(statement)]
        # Where an inner function or a comprehension binds the same name anew, it stays.
        bound = {"self", "cls", "_"} | passed
        for node in inside:
            if isinstance(node, _Function):
                bound |= {one.arg for one in _all_arguments(node)}
            elif isinstance(node, ast.comprehension):
                bound |= {one.id for one in ast.walk(node.target) if isinstance(one, ast.Name)}
        for one in outer:
            bound |= {argument.arg for argument in _all_arguments(one)}
        # Inner functions have letters of their own, since they see the outer one's.
        letters = {
            argument.arg: "_" + letter * (len(outer) + 1)
            for argument, letter in zip(_all_arguments(function), ascii_letters, strict=False)
            if argument.arg not in bound
        }
        for argument in _all_arguments(function):
            if argument.arg in letters:
                yield argument.lineno, argument.col_offset, argument.arg, letters[argument.arg]
        for node in inside:
            if isinstance(node, ast.Name) and node.id in letters:
                yield node.lineno, node.col_offset, node.id, letters[node.id]


def _functions(
    node: ast.AST, outer: tuple[_Function, ...]
) -> Iterator[tuple[_Function, tuple[_Function, ...]]]:
    """All functions under ``node``, each with those around it."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, _Function):
            yield child, outer
            yield from _functions(child, (*outer, child))
        else:
            yield from _functions(child, outer)


def _all_arguments(function: _Function) -> list[ast.arg]:
    words = function.args
    found = [*words.posonlyargs, *words.args, *words.kwonlyargs]
    return found + [one for one in (words.vararg, words.kwarg) if one is not None]
