"""Nothing pure touches the outside, and the host takes only what is pure.

Which way imports point, and that none runs in a circle, is held by the contracts of
import-linter in pyproject.toml; these are the rules it has no words for.
"""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PURE = (
    "snapcurve.wire",
    "snapcurve.probe.tempering",
    "snapcurve.probe.thermometer",
    "snapcurve.probe.sounds",
    "snapcurve.probe.sounder",
    "snapcurve.probe.button",
    "snapcurve.probe.ticks",
    "snapcurve.probe.memory",
    "snapcurve.probe.batch",
    "snapcurve.probe.marks",
)
PACKAGES = ("snapcurve.wire", "snapcurve.probe", "snapcurve.boards")
# What the portable parts may use of the library: what the board has.
LIBRARY = {"array", "binascii", "errno", "io", "math", "os", "struct", "sys"}
# What touches the outside.
OUTSIDE = {"errno", "io", "os", "sys", "machine", "micropython"}
HOST_MAY = (
    "snapcurve.wire",
    "snapcurve.probe.tempering",
    "snapcurve.probe.thermometer",
    "snapcurve.probe.sounds",
    "snapcurve.probe.sound_meanings",
    "snapcurve.boards.desk.chip",  # the converter's models, and what they feel
    "snapcurve.boards.desk.chip_31855",
    "snapcurve.boards.desk.tape",
)
# Asks the packages only where their files lie, and boards/ for the names of boards.
LOCATION_ONLY = "snapcurve.board.firmware_files"
BOARD_NAMES = "snapcurve.board.installation"  # asks boards/__init__, which is pure, for a name


def module_name(path, root):
    parts = list(path.relative_to(root).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def modules(root, pattern):
    folder = ROOT / root
    return {module_name(path, folder): path for path in sorted(folder.glob(pattern))}


SOURCES = (
    modules("protocol", "snapcurve/**/*.py")
    | modules("firmware", "snapcurve/**/*.py")
    | modules("firmware", "main.py")
)
HOST = modules("host", "snapcurve/**/*.py")


def within(module, packages):
    return any(module == one or module.startswith(one + ".") for one in packages)


def imports_of(name, path, known):
    """Full names of what ``path`` imports, modules of ``known`` as modules."""
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = package.split(".")
                above = parts[: len(parts) - node.level + 1]
                base = ".".join(above + ([base] if base else []))
            for alias in node.names:
                whole = f"{base}.{alias.name}"
                found.add(whole if whole in known else base)
    return found


IMPORTS = {name: imports_of(name, path, SOURCES) for name, path in SOURCES.items()}
HOST_IMPORTS = {name: imports_of(name, path, SOURCES | HOST) for name, path in HOST.items()}


def test_the_files_are_found():
    assert {"snapcurve.wire.codec", "snapcurve.probe.app", "snapcurve.boards.pico"} <= set(SOURCES)
    assert "main" in SOURCES
    assert len(SOURCES) > 25
    assert len(HOST) > 40
    assert IMPORTS["snapcurve.probe.app"] >= {"snapcurve.wire.catalogue", "snapcurve.probe.ticks"}


@pytest.mark.parametrize("name", [name for name in SOURCES if within(name, PURE)])
def test_pure_parts_touch_nothing_outside(name):
    roots = {module.split(".")[0] for module in IMPORTS[name]}
    assert not roots & OUTSIDE
    tree = ast.parse(SOURCES[name].read_text(encoding="utf-8"))
    calls = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    names = {func.id for func in calls if isinstance(func, ast.Name)}
    assert not names & {"open", "print", "input", "exec", "eval", "__import__"}


@pytest.mark.parametrize("name", [name for name in SOURCES if within(name, PACKAGES[:2])])
def test_portable_parts_use_what_the_board_has(name):
    """No typing, dataclasses, enum, abc or anything else the board's interpreter lacks, and
    nothing of the host."""
    for module in IMPORTS[name]:
        assert within(module, PACKAGES) or module in LIBRARY, f"{name} imports {module}"


def test_only_the_start_and_the_boards_may_touch_hardware():
    users = {name for name, imports in IMPORTS.items() if "machine" in imports}
    assert users == {"snapcurve.boards." + name for name in ("peripherals", "pico", "esp32s3")}
    assert {name for name, imports in IMPORTS.items() if "micropython" in imports} <= {"main"}


def test_only_the_store_has_files():
    users = {name for name, imports in IMPORTS.items() if "os" in imports}
    assert {name for name in users if not within(name, ["snapcurve.boards"])} == {
        "snapcurve.probe.store"
    }


@pytest.mark.parametrize("name", HOST)
def test_the_host_takes_only_what_is_pure(name):
    for module in HOST_IMPORTS[name]:
        if not within(module, PACKAGES) or within(module, HOST_MAY):
            continue
        if (name, module) == (BOARD_NAMES, "snapcurve.boards"):
            continue
        assert name == LOCATION_ONLY, f"{name} imports {module}"
        assert module in PACKAGES, f"{name} imports {module}"


def test_of_the_packages_the_host_asks_only_the_location():
    tree = ast.parse(HOST[LOCATION_ONLY].read_text(encoding="utf-8"))
    used = {
        node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and node.value.id in ("boards", "probe", "wire")
    }
    assert used <= {"__file__", "KNOWN"}


# --- the checks themselves ------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("import machine", "machine"),
        ("from machine import Pin", "machine"),
        ("from ..app import App", "snapcurve.probe.app"),
        ("from .. import store", "snapcurve.probe.store"),
        ("from . import engine", "snapcurve.probe.tempering.engine"),
        ("def f():\n    from snapcurve.boards import pico", "snapcurve.boards.pico"),
    ],
)
def test_every_form_of_import_is_seen(tmp_path, line, found):
    path = tmp_path / "example.py"
    path.write_text(line + "\n")
    assert found in imports_of("snapcurve.probe.tempering.example", path, SOURCES)
