"""Names made short before the firmware is compiled.

MicroPython keeps the text of every name of a program in memory, with a table of them that
doubles as it fills: for this firmware nearly a fifth of the heap. Most of its names are known
in one class or one file only, so one short list serves all of them in turn. Lines stay where
they are, and a failure that the board reports still points to the line of the source.
"""

import ast
import re
from collections import defaultdict
from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass
from importlib import resources
from itertools import count
from string import ascii_letters

from snapcurve.building.scopes import (
    Edits,
    Function,
    arguments,
    bound_by,
    our_imports,
    text_of,
    texts_of,
    uses,
)

# "global" or "attribute", and the name: the same word may be both, and then gets two short ones.
Name = tuple[str, str]
_LOOKED_UP = ("globals", "__all__")
_BY_TEXT = ("getattr", "hasattr")


def shorten(sources: Mapping[str, str], keep: frozenset[str] = frozenset()) -> dict[str, str]:
    """``sources`` (module path without its ending, "probe/app" -> text) with short names.

    A name changes, alike in all files, if it is an attribute or a global of these sources and
    nothing else knows it: it is not in ``keep``, not one of the interpreter's
    (interpreter_names.txt), of no module and no exception, and not looked up by its text. Two
    names get the same short one only if they never meet: as globals of one file, or as
    attributes of a class and of those it derives from. Arguments change unless some call passes
    them by name. ValueError for text that these rules do not cover.
    """
    files = {name: _File(name, text, sources) for name, text in sources.items()}
    kept = keep | _interpreter_names() | {part for name in sources for part in name.split("/")}
    for file in files.values():
        kept |= file.kept
    own = {
        one
        for file in files.values()
        for one in file.defined
        if one[1] not in kept and not one[1].startswith("__")
    }
    short = _shared_out(files, own)
    passed = {name for file in files.values() for name in file.passed_by_name}
    return {name: file.shortened(short, passed) for name, file in files.items()}


def _interpreter_names() -> frozenset[str]:
    """Names of MicroPython's built-in types and of the modules the firmware imports."""
    file = resources.files("snapcurve.building") / "interpreter_names.txt"
    return frozenset(file.read_text(encoding="utf-8").split())


@dataclass(frozen=True)
class _Class:
    name: str
    bases: set[str]
    names: set[Name]  # of its objects, and those that its body sees beside them


class _File:
    """One source file and what of it bears on names."""

    def __init__(self, name: str, text: str, known: Container[str]):
        if match := re.search(r"(?<!\w)_\d+(?!\w)", text):
            raise ValueError(f"{match[0]} is a short name: call it otherwise")
        self._text = text
        self._tree = ast.parse(text)
        self._nodes = list(ast.walk(self._tree))
        self._methods = {
            id(node)
            for made in self._nodes
            if isinstance(made, ast.ClassDef)
            for node in made.body
            if isinstance(node, ast.FunctionDef)
        }
        self._uses = uses(self._tree)
        self._imported = {
            (alias.asname or alias.name).partition(".")[0]
            for node in self._nodes
            if isinstance(node, ast.Import | ast.ImportFrom)
            for alias in node.names
        }
        self._modules = self._imported_modules(name, known)
        self.defined: set[Name] = set()
        self.globals = {name for node in self._tree.body for name in bound_by(node)}
        self.numbers: set[str] = set()  # _NAME = const(...)
        self.kept: set[str] = set()
        self.loose: set[str] = set()  # attributes set from outside their class
        self.passed_by_name: set[str] = set()
        self.classes: list[_Class] = []
        for node in self._nodes:
            self._look_at(node)
        self._top_level()
        self._looked_up()

    def _imported_modules(self, module: str, known: Container[str]) -> set[str]:
        """Names by which this file knows modules: what stands behind their dots is global."""
        found = set()
        for node in self._nodes:
            if isinstance(node, ast.Import):
                found |= {(one.asname or one.name).partition(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom):
                for alias, _, there in our_imports(module, node, known):
                    if there is None:
                        found.add(alias.asname or alias.name)
        for node in self._nodes:
            own = getattr(node, "arg", None) if isinstance(node, ast.arg) else None
            if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load):
                own = node.id
            if own in found:
                raise ValueError(f"{module}: {own} is a module and something else")
        return found

    def _look_at(self, node: ast.AST) -> None:
        if isinstance(node, ast.ClassDef):
            bases = {base.id for base in node.bases if isinstance(base, ast.Name)}
            names = set(self._of_class(node))
            self.defined |= {one for one in names if one[0] == "attribute"}
            self.classes.append(_Class(node.name, bases, names))
            if any(base.endswith(("Exception", "Error")) for base in bases):
                self.kept.add(node.name)  # it stands in the reason of a failure
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            if not (isinstance(node.value, ast.Name) and node.value.id == "self"):
                self.loose.add(node.attr)
        elif isinstance(node, ast.Call):
            if any(word.arg is None for word in node.keywords):
                raise ValueError("** hides which names a call passes: write them out")
            self.passed_by_name |= {word.arg for word in node.keywords if word.arg}
            if isinstance(node.func, ast.Name) and node.func.id in _BY_TEXT:
                self._asked_for_by_text(node.args[1])
        elif isinstance(node, ast.JoinedStr):
            raise ValueError("names inside an f-string cannot be told from its text: use %")

    def _of_class(self, made: ast.ClassDef) -> Iterator[Name]:
        for node in ast.walk(made):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
                yield "attribute", node.attr
        for statement in made.body:
            for name in bound_by(statement):
                yield "attribute", name
            if isinstance(statement, ast.FunctionDef):
                seen: list[ast.AST] = [*statement.decorator_list, *statement.args.defaults]
            else:
                seen = [statement]
            for one in seen:
                for node in ast.walk(one):
                    if isinstance(node, ast.Name):
                        yield "global", node.id

    def _asked_for_by_text(self, asked: ast.expr) -> None:
        """``getattr(x, "on_" + name)``: all names that begin so are kept."""
        if isinstance(asked, ast.Constant):
            self.kept.add(str(asked.value))
            return
        start = asked.left if isinstance(asked, ast.BinOp) else None
        text = start.value if isinstance(start, ast.Constant) else None
        if not isinstance(text, str) or not text:
            raise ValueError("getattr needs a name that begins with a constant text")
        self.kept |= {
            node.name
            for node in self._nodes
            if isinstance(node, ast.FunctionDef) and node.name.startswith(text)
        }

    def _top_level(self) -> None:
        self.defined |= {("global", name) for name in self.globals - self._imported}
        for node in self._tree.body:
            match node:
                case ast.Assign(
                    targets=[ast.Name(id=name)], value=ast.Call(func=ast.Name(id="const"))
                ):
                    self.numbers.add(name)

    def _looked_up(self) -> None:
        """Where globals() or __all__ stand, a word of any text may be a global's name."""
        if not any(isinstance(node, ast.Name) and node.id in _LOOKED_UP for node in self._nodes):
            return
        for node in texts_of(self._tree):
            self.kept |= set(re.findall(r"\w+", text_of(node))) & self.globals

    def shortened(self, short: Mapping[Name, str], passed: set[str]) -> str:
        """The text with the names of ``short`` replaced, and arguments but those ``passed``."""
        edits = Edits(self._text)
        for node, kind in self._uses:
            if isinstance(node, ast.Attribute):
                base = node.value
                of_module = isinstance(base, ast.Name) and base.id in self._modules
                key = ("global" if of_module else "attribute", node.attr)
                if key in short:
                    edits.rename_attribute(node, short[key])
            elif kind != "local":
                key = ("global" if kind == "global" else "attribute", node.id)
                if key in short:
                    edits.replace(node, short[key])
        for one in self._nodes:
            if isinstance(one, ast.ImportFrom):
                self._rename_imports(one, short, edits)
            elif isinstance(one, ast.FunctionDef | ast.ClassDef):
                key = ("attribute" if id(one) in self._methods else "global", one.name)
                if key in short and (key[0] == "attribute" or one in self._tree.body):
                    edits.rename_definition(one, short[key])
        _rename_arguments(self._tree, passed, edits)
        return edits.text()

    def _rename_imports(
        self, node: ast.ImportFrom, short: Mapping[Name, str], edits: Edits
    ) -> None:
        """What is imported at the top level is a global here too; in a function it is local."""
        for alias in node.names:
            new = short.get(("global", alias.name), alias.name)
            own = alias.asname or alias.name
            if node in self._tree.body:
                own = short.get(("global", own), own)
            if (new, own) != (alias.name, alias.asname or alias.name):
                edits.replace(alias, new if new == own else f"{new} as {own}")


def _shared_out(files: Mapping[str, _File], own: set[Name]) -> dict[Name, str]:
    """Name -> short name, the same one for names that never meet."""
    classes: dict[str, list[_Class]] = defaultdict(list)  # two files may have one of a name
    for file in files.values():
        for one in file.classes:
            classes[one.name].append(one)
    loose = {("attribute", name) for file in files.values() for name in file.loose} & own
    meets: dict[Name, set[Name]] = {name: set() for name in own}
    for together in [
        *({("global", name) for name in file.globals} for file in files.values()),
        *(_with_bases(one, classes) for file in files.values() for one in file.classes),
    ]:
        for name in together & own:
            meets[name] |= together & own
    everywhere = {name for name in own if name[0] == "attribute"}
    for name in everywhere:
        meets[name] |= everywhere if name in loose else loose
    # The compiler's constants last: their names are in no compiled file. Before them those that
    # meet most: that needs the fewest names.
    numbers = {("global", name) for file in files.values() for name in file.numbers}
    short: dict[Name, str] = {}
    for name in sorted(own, key=lambda one: (one in numbers, -len(meets[one]), one)):
        taken = {short[other] for other in meets[name] if other in short}
        short[name] = next(one for one in map("_{}".format, count()) if one not in taken)
    return short


def _with_bases(made: _Class, classes: Mapping[str, list[_Class]]) -> set[Name]:
    """The names of a class and of those it derives from, however far up."""
    found = [made]
    for one in found:
        for base in one.bases:
            found += [other for other in classes.get(base, []) if other not in found]
    return {name for one in found for name in one.names}


def _rename_arguments(tree: ast.AST, passed: set[str], edits: Edits) -> None:
    for function, outer in _functions(tree, ()):
        body = function.body if isinstance(function.body, list) else [function.body]
        inside = [node for statement in body for node in ast.walk(statement)]
        # Where an inner function or a comprehension binds the same name anew, it stays.
        bound = {"self", "cls", "_"} | passed
        for node in inside:
            if isinstance(node, Function):
                bound |= {one.arg for one in arguments(node)}
            elif isinstance(node, ast.comprehension):
                bound |= {one.id for one in ast.walk(node.target) if isinstance(one, ast.Name)}
        for one in outer:
            bound |= {argument.arg for argument in arguments(one)}
        # Inner functions have letters of their own, since they see the outer one's.
        letters = {
            argument.arg: "_" + letter * (len(outer) + 1)
            for argument, letter in zip(arguments(function), ascii_letters, strict=False)
            if argument.arg not in bound
        }
        for argument in arguments(function):
            if argument.arg in letters:
                edits.rename_argument(argument, letters[argument.arg])
        for node in inside:
            if isinstance(node, ast.Name) and node.id in letters:
                edits.replace(node, letters[node.id])


def _functions(
    node: ast.AST, outer: tuple[Function, ...]
) -> Iterator[tuple[Function, tuple[Function, ...]]]:
    """All functions under ``node``, each with those around it."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, Function):
            yield child, outer
            yield from _functions(child, (*outer, child))
        else:
            yield from _functions(child, outer)
