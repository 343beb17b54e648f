"""Modules made one before the firmware is compiled.

Each module costs MicroPython an object, a table of its names, its name and its file's as texts,
and every ``from x import y`` a place in another table: for this firmware a tenth of the heap.
So a module is joined with all that importing it would load anyway. What is loaded on occasion
only, inside a function, stays a file of its own.

Constants are put in where their names stand, functions that nothing of the release uses are left
out, and nothing else changes: lines keep their order and number, and ``Joined.origins`` says which
module each came from.
"""

import ast
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from snapcurve.building.constants import Value, set_once, value_of, written
from snapcurve.building.scopes import Edits, bound_by, our_imports, text_of, texts_of, uses

COMPILER = "wire/const"  # what comes from there, the compiler itself sees to
_EXCEPTION = re.compile(r"\w+(Error|Exception)$")


@dataclass(frozen=True)
class Joined:
    """``sources`` after joining; ``origins``: module -> (first line, module) of each of its
    parts, in order; ``looked_up``: names that a text may ask for, wherever it stands now."""

    sources: dict[str, str]
    origins: dict[str, list[tuple[int, str]]]
    looked_up: frozenset[str]


def join(sources: Mapping[str, str], roots: Mapping[str, tuple[str, ...]]) -> Joined:
    """``sources`` (module path without its ending, "probe/app" -> text) with each of ``roots``
    joined with what it names, and with the modules that they import when they are loaded,
    directly or not.

    A module is joined with the first root that needs it. Packages are left alone. What a root
    defines, or lists in ``__all__``, keeps its name. ValueError for text that these rules do
    not cover.
    """
    modules = {name: _Module(name, text, sources) for name, text in sources.items()}
    home: dict[str, str] = {}
    parts: dict[str, list[str]] = {}
    for root, more in roots.items():
        if root in modules and root not in home:
            parts[root] = [one for one in _needed((*more, root), modules) if one not in home]
            home.update(dict.fromkeys(parts[root], root))
    program = _Program(modules, home)
    for root, together in parts.items():
        program.check_names(root, together)
    found: dict[str, str] = {}
    origins: dict[str, list[tuple[int, str]]] = {}
    for name in sources:
        if home.get(name, name) != name or name == COMPILER:
            continue
        lines: list[str] = []
        origins[name] = []
        for part in parts.get(name, [name]):
            origins[name].append((len(lines) + 1, part))
            lines += program.rewritten(part).splitlines()
        found[name] = "\n".join(lines) + "\n"
    # A function may be used by one that nobody uses.
    while unused := program.new_names & _functions(found) - _used(found):
        found = {
            name: _without(text, unused) if name in parts else text for name, text in found.items()
        }
    looked_up = [module.looked_up & module.defined for module in modules.values()]
    return Joined(found, origins, frozenset().union(*looked_up))


def _needed(roots: tuple[str, ...], modules: Mapping[str, "_Module"]) -> list[str]:
    """The modules that loading ``roots`` loads, each after those it imports; no packages."""
    found: list[str] = []

    def visit(name: str, above: tuple[str, ...]) -> None:
        if name in above:
            raise ValueError(f"{name} imports itself: {' > '.join((*above, name))}")
        if name in found or name == COMPILER or name.endswith("__init__"):
            return
        for other in modules[name].loads:
            visit(other, (*above, name))
        found.append(name)

    for root in roots:
        visit(root, ())
    return found


@dataclass
class _Module:
    """One source file and its names."""

    name: str
    text: str
    known: Mapping[str, object]
    loads: list[str] = field(default_factory=list)  # modules of ours that loading it loads
    # name here -> (module, name there), name None: the module itself
    imported: dict[str, tuple[str, str | None]] = field(default_factory=dict)
    exported: set[str] = field(default_factory=set)  # in __all__
    looked_up: set[str] = field(default_factory=set)  # names that a text may ask for

    def __post_init__(self) -> None:
        self.tree = ast.parse(self.text)
        times_set = Counter(name for node in self.tree.body for name in bound_by(node))
        for node in ast.walk(self.tree):
            if isinstance(node, ast.ImportFrom):
                for alias, module, there in our_imports(self.name, node, self.known):
                    self.imported[alias.asname or alias.name] = module, there
                    if node in self.tree.body and module not in self.loads:
                        self.loads.append(module)
            elif isinstance(node, ast.Name) and node.id == "globals":
                self.looked_up = {
                    word
                    for one in texts_of(self.tree)
                    for word in re.findall(r"\w+", text_of(one))
                }
        imports = {
            alias.asname or alias.name
            for node in self.tree.body
            if isinstance(node, ast.Import | ast.ImportFrom)
            for alias in node.names
        }
        self.defined = set(times_set) - imports
        self.set_once = set_once(self.tree, times_set)
        if "__all__" in self.set_once:
            self.exported = {text_of(one) for one in texts_of(self.set_once["__all__"])}


class _Program:
    """All modules, and where each goes."""

    def __init__(self, modules: Mapping[str, _Module], home: Mapping[str, str]):
        self._modules = modules
        self._home = home
        self._values: dict[tuple[str, str], Value | None] = {}
        self.new_names: set[str] = set()

    def _origin(self, module: str, name: str) -> tuple[str, str]:
        """Where ``name`` of ``module`` is defined, through all modules that pass it on."""
        target = self._modules[module].imported.get(name)
        if target is None or name in self._modules[module].defined:
            return module, name
        other, there = target
        if there is None:
            raise ValueError(f"{module} passes on a module, {name}")
        return self._origin(other, there)

    def _new_name(self, module: str, name: str) -> str:
        """What a name of the top level is called after joining."""
        home = self._home.get(module, module)
        root = self._modules[home]
        if home == module or (name in root.exported and name not in root.defined):
            return name
        if _EXCEPTION.match(name) or name in self._modules[module].looked_up:
            return name
        own = "_" if name.startswith("_") else ""
        new = f"{own}{module.replace('/', '_')}__{name.lstrip('_')}"
        self.new_names.add(new)
        return new

    def _value(self, module: str, name: str) -> Value | None:
        """What ``name`` stands for, if it is plain and for good."""
        key = self._origin(module, name)
        if key not in self._values:
            self._values[key] = None  # not while it is being looked for
            expression = self._modules[key[0]].set_once.get(key[1])
            if expression is not None and not key[1].startswith("__"):
                self._values[key] = value_of(expression, lambda one: self._value(key[0], one))
        return self._values[key]

    def _goes(self, module: _Module, name: str) -> bool:
        """Whether the definition of ``name`` is left out, since its value stands everywhere."""
        return name not in module.looked_up and self._value(module.name, name) is not None

    def check_names(self, root: str, parts: list[str]) -> None:
        """ValueError if two things would have one name in ``root``: most get a new one, but not
        exceptions, what is looked up by its text, and what the root defines."""
        taken: dict[str, str] = {}
        for part in parts:
            for name in self._modules[part].defined:
                new = self._new_name(part, name)
                if not self._goes(self._modules[part], name) and new in taken:
                    raise ValueError(f"{root}: {taken[new]} and {part} both define {new}")
                taken[new] = part

    def rewritten(self, name: str) -> str:
        """The text of module ``name`` for its new place."""
        module = self._modules[name]
        edits = Edits(module.text)
        for node in ast.walk(module.tree):
            if isinstance(node, ast.ImportFrom):
                self._rewrite_import(module, node, edits)
            elif isinstance(node, ast.Import):
                self._check_import(name, node)
        # Names within something that goes as a whole.
        replaced: set[int] = set()
        for node in module.tree.body if name in self._home else []:
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                if node.targets[0].id in module.set_once and self._goes(
                    module, node.targets[0].id
                ):
                    edits.replace(node, "pass")
                    replaced |= {id(one) for one in ast.walk(node)}
            elif isinstance(node, ast.FunctionDef | ast.ClassDef):
                edits.rename_definition(node, self._new_name(name, node.name))
        for use, kind in uses(module.tree):
            if kind != "global" or id(use) in replaced:
                continue
            if isinstance(use, ast.Attribute):
                self._rewrite_attribute(module, use, edits, replaced)
            else:
                self._rewrite_name(module, use, edits)
        return edits.text()

    def _check_import(self, name: str, node: ast.Import) -> None:
        for path in [alias.name.replace(".", "/") for alias in node.names]:
            if self._home.get(path, path) != path:
                raise ValueError(f"{name}:{node.lineno} imports {path}, which is joined")

    def _rewrite_import(self, module: _Module, node: ast.ImportFrom, edits: Edits) -> None:
        ours = our_imports(module.name, node, self._modules)
        if not ours:
            return
        if len(ours) != len(node.names):
            raise ValueError(f"{module.name}:{node.lineno} imports from two places")
        home = self._home.get(module.name, module.name)
        lines = []
        in_function = node not in module.tree.body
        for alias, other, there in ours:
            if other == COMPILER:
                continue
            if other in self._home and self._home[other] == home:
                if in_function:
                    raise ValueError(f"{module.name}:{node.lineno} is joined with {other}")
                continue
            own = alias.asname or alias.name
            if there is None and in_function and other in self._home:
                raise ValueError(f"{module.name}:{node.lineno} imports {own}: take names from it")
            if there is None:
                package, _, last = self._dotted(other).rpartition(".")
                lines.append(f"from {package} import {last} as {own}")
            elif other in self._home and (value := self._value(other, there)) is not None:
                if in_function:  # a local name, which stays
                    lines.append(f"{own} = {written(value)}")
            else:
                origin = self._origin(other, there)
                new = self._new_name(*origin)
                # Where it is imported at the top level its uses get the new name as well.
                if not in_function and origin[0] in self._home:
                    own = new
                same = "" if own == new else f" as {own}"
                lines.append(f"from {self._dotted(origin[0])} import {new}{same}")
        edits.replace(node, "; ".join(lines) or "pass")

    def _dotted(self, module: str) -> str:
        """What a module is imported as after joining."""
        path = self._home.get(module, module)
        return path.replace("/", ".").removesuffix(".__init__")

    def _rewrite_attribute(
        self, module: _Module, node: ast.Attribute, edits: Edits, replaced: set[int]
    ) -> None:
        assert isinstance(node.value, ast.Name)
        target = module.imported.get(node.value.id)
        if target is None or target[1] is not None or target[0] not in self._home:
            return
        replaced.add(id(node.value))
        value = self._value(target[0], node.attr)
        new = self._new_name(*self._origin(target[0], node.attr))
        if value is not None:
            new = written(value)
        elif self._home[target[0]] != self._home.get(module.name, module.name):
            new = f"{node.value.id}.{new}"
        edits.replace(node, new)

    def _rewrite_name(self, module: _Module, node: ast.Name, edits: Edits) -> None:
        target = module.imported.get(node.id)
        if node.id in module.defined:
            target = module.name, node.id
        if target is None or target[0] not in self._home:
            return
        if target[1] is None:
            raise ValueError(f"{module.name}:{node.lineno} hands a module on, {node.id}")
        value = self._value(target[0], target[1])
        if value is not None and isinstance(node.ctx, ast.Load):
            edits.replace(node, written(value))
        else:
            edits.replace(node, self._new_name(*self._origin(target[0], target[1])))


def _functions(texts: Mapping[str, str]) -> set[str]:
    """Names of the functions at the top level of ``texts``."""
    return {
        node.name
        for text in texts.values()
        for node in ast.parse(text).body
        if isinstance(node, ast.FunctionDef)
    }


def _used(texts: Mapping[str, str]) -> set[str]:
    """Every name that is asked for in ``texts``."""
    found: set[str] = set()
    for text in texts.values():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Name):
                found.add(node.id)
            elif isinstance(node, ast.Attribute):
                found.add(node.attr)
            elif isinstance(node, ast.alias):
                found.add(node.name)
    return found


def _without(text: str, unused: set[str]) -> str:
    edits = Edits(text)
    for node in ast.parse(text).body:
        if isinstance(node, ast.FunctionDef) and node.name in unused:
            edits.replace(node, "pass")
    return edits.text()
