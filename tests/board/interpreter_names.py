"""Keeps ``host/snapcurve/building/interpreter_names.txt`` true to MicroPython's stubs.

``python tests/board/interpreter_names.py FOLDER...`` with the folders of the boards' stubs
ends with 1 if the list is another one than the stubs give; ``--write`` first writes it. The
list are the names that shortened.py must leave alone in whatever the firmware imports.
"""

import ast
import sys
from pathlib import Path

LIST = Path(__file__).parents[2] / "host/snapcurve/building/interpreter_names.txt"
# What the firmware imports, and where the stubs keep what belongs to it.
MODULES = (
    "array", "binascii", "gc", "io", "machine", "math", "micropython", "os", "rp2", "esp32",
    "select", "socket", "struct", "sys", "time", "vfs",
    "builtins", "__builtins__", "uio", "_typeshed", "_mpy_shed", "typing", "neopixel",
)  # fmt: skip


def names_in(folder: Path) -> set[str]:
    """Public names of functions, classes and attributes in the stubs. (No arguments: names by
    which a call passes something are never shortened.)"""
    found: set[str] = set()
    for path in folder.rglob("*.pyi"):
        parts = path.relative_to(folder).parts
        if parts[0] in ("stdlib", "stubs"):
            parts = parts[1:]
        if parts[0].split(".")[0] not in MODULES:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                found.add(node.name)
            elif isinstance(node, ast.AnnAssign | ast.Assign):
                targets = [node.target] if isinstance(node, ast.AnnAssign) else node.targets
                found |= {one.id for one in targets if isinstance(one, ast.Name)}
    return {name for name in found if not name.startswith("_")}


def main(words: list[str]) -> int:
    """See the module."""
    folders = [Path(word) for word in words if word != "--write"]
    names = set().union(*(names_in(folder) for folder in folders))
    if "--write" in words:
        LIST.write_text("\n".join(sorted(names)) + "\n", encoding="utf-8")
    listed = set(LIST.read_text(encoding="utf-8").split())
    for what, found in (("missing", names - listed), ("not in the stubs", listed - names)):
        if found:
            print(f"{LIST.name}: {what}: {' '.join(sorted(found))}", file=sys.stderr)
    return 0 if names == listed and folders else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
