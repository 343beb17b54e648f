"""Imports point one way, and nothing pure touches the outside.

wire <- tempering, thermometer <- probe <- boards, main. The host takes ``wire`` and the
board's pure parts, and asks the packages ``probe`` and ``boards`` only where they lie.
"""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PURE = (
    "wire.",
    "probe.tempering.",
    "probe.thermometer.",
    "probe.sounds",
    "probe.sounder",
    "probe.button",
    "probe.ticks",
    "probe.memory",
)
OUTSIDE = {
    "asyncio",
    "machine",
    "micropython",
    "os",
    "pathlib",
    "select",
    "serial",
    "socket",
    "sys",
    "threading",
    "time",
    "uasyncio",
    "utime",
}
# Rank by the first prefix that fits: a module imports only from its own rank or below.
RANKS = (
    ("wire", 0),
    ("probe.tempering", 1),
    ("probe.thermometer", 1),
    ("probe", 2),
    ("boards", 3),
    ("main", 3),
)
LIBRARY = {
    "array",
    "binascii",
    "errno",
    "io",
    "math",
    "os",
    "struct",
    "sys",
}  # what the portable parts may use at all
HOST_MAY = (
    "wire",
    "probe.tempering",
    "probe.thermometer",
    "probe.sounds",
    "probe.sound_meanings",
    "boards.desk_chip",  # the converter's models, and what they feel
    "boards.desk_tape",
)
LOCATION_ONLY = "snapcurve.board.firmware_files"
BOARD_NAMES = "snapcurve.board.installation"  # asks boards/__init__, which is pure, for a name


def module_name(path, root):
    parts = list(path.relative_to(root).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def sources():
    found = {}
    for root, pattern in (
        (ROOT / "protocol", "wire/**/*.py"),
        (ROOT / "firmware", "probe/**/*.py"),
        (ROOT / "firmware", "boards/**/*.py"),
        (ROOT / "firmware", "main.py"),
    ):
        for path in sorted(root.glob(pattern)):
            found[module_name(path, root)] = path
    return found


SOURCES = sources()
HOST = {
    module_name(path, ROOT / "host"): path
    for path in sorted((ROOT / "host").glob("snapcurve/**/*.py"))
}


def imports_of(name, path, known, while_loading=False):
    """Full names of what ``path`` imports, modules of ``known`` as modules.

    What only a type checker reads does not count; nor, with ``while_loading``, what a
    function imports when it is called.
    """
    tree = ast.parse(path.read_text())
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    found = set()
    unread = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for statement in node.body
        for inner in ast.walk(statement)
    }
    if while_loading:
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                unread.update(ast.walk(node))
    for node in ast.walk(tree):
        if node in unread:
            continue
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
HOST_LOADS = {name: imports_of(name, path, SOURCES | HOST, True) for name, path in HOST.items()}


def rank(module):
    for prefix, number in RANKS:
        if module == prefix or module.startswith(prefix + "."):
            return number
    return None


def is_pure(name):
    return any(name == prefix.rstrip(".") or name.startswith(prefix) for prefix in PURE)


def test_the_files_are_found():
    assert {"wire.codec", "probe.app", "probe.tempering.engine", "boards.pico", "main"} <= set(
        SOURCES
    )
    assert len(SOURCES) > 25
    assert len(HOST) > 40
    assert IMPORTS["probe.app"] >= {"wire.catalogue", "probe.tempering.engine", "probe.ticks"}


@pytest.mark.parametrize("name", SOURCES)
def test_imports_point_one_way(name):
    ours = rank(name)
    for module in IMPORTS[name]:
        theirs = rank(module)
        if theirs is not None:
            assert theirs <= ours, f"{name} imports {module}"
        assert not module.startswith("snapcurve")


@pytest.mark.parametrize("name", ["probe.tempering", "probe.thermometer"])
def test_tempering_and_thermometer_do_not_know_each_other(name):
    other = {
        "probe.tempering": "probe.thermometer",
        "probe.thermometer": "probe.tempering",
    }[name]
    for module, imports in IMPORTS.items():
        if module.startswith(name):
            assert not [one for one in imports if one.startswith(other)], module


@pytest.mark.parametrize("name", [name for name in SOURCES if is_pure(name)])
def test_pure_parts_touch_nothing_outside(name):
    roots = {module.split(".")[0] for module in IMPORTS[name]}
    assert not roots & OUTSIDE
    tree = ast.parse(SOURCES[name].read_text())
    calls = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    names = {func.id for func in calls if isinstance(func, ast.Name)}
    assert not names & {"open", "print", "input", "exec", "eval", "__import__"}


@pytest.mark.parametrize("name", [name for name in SOURCES if name.startswith(("wire", "probe"))])
def test_portable_parts_use_what_the_board_has(name):
    """No typing, dataclasses, enum, abc or anything else the board's interpreter lacks."""
    for module in IMPORTS[name]:
        assert rank(module) is not None or module in LIBRARY, f"{name} imports {module}"


def test_only_the_start_and_the_boards_may_touch_hardware():
    users = {name for name, imports in IMPORTS.items() if "machine" in imports}
    assert users == {"boards." + name for name in ("on_machine", "pico", "esp32s3")}
    assert {name for name, imports in IMPORTS.items() if "micropython" in imports} <= {"main"}


def test_only_the_store_has_files():
    users = {name for name, imports in IMPORTS.items() if "os" in imports}
    assert {name for name in users if not name.startswith("boards")} == {"probe.store"}


@pytest.mark.parametrize("imports", [IMPORTS, HOST_LOADS], ids=["board", "host"])
def test_no_circles(imports):
    done = set()

    def walk(module, path):
        assert module not in path, " -> ".join([*path, module])
        if module in done or module not in imports:
            return
        for one in sorted(imports[module] - {module}):
            walk(one, [*path, module])
        done.add(module)

    for module in imports:
        walk(module, [])


def test_a_circle_is_found():
    with pytest.raises(AssertionError, match="a -> b -> a"):
        test_no_circles({"a": {"b"}, "b": {"c", "a"}, "c": set()})


@pytest.mark.parametrize("name", HOST)
def test_the_host_takes_only_what_is_pure(name):
    for module in HOST_IMPORTS[name]:
        if rank(module) is None or module.startswith(HOST_MAY):
            continue
        if (name, module) == (BOARD_NAMES, "boards"):
            continue
        assert name == LOCATION_ONLY, f"{name} imports {module}"
        assert module in ("boards", "probe"), f"{name} imports {module}"


def test_of_the_packages_the_host_asks_only_the_location():
    tree = ast.parse(HOST[LOCATION_ONLY].read_text())
    used = {
        node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and node.value.id in ("boards", "probe")
    }
    assert used <= {"__file__"}


# --- the checks themselves ------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("import machine", "machine"),
        ("from machine import Pin", "machine"),
        ("from ..app import App", "probe.app"),
        ("from .. import store", "probe.store"),
        ("from . import engine", "probe.tempering.engine"),
        ("def f():\n    from boards import pico", "boards.pico"),
    ],
)
def test_every_form_of_import_is_seen(tmp_path, line, found):
    path = tmp_path / "example.py"
    path.write_text(line + "\n")
    assert found in imports_of("probe.tempering.example", path, SOURCES)


def test_ranks():
    assert [rank(name) for name in ("wire.curve", "probe.tempering.engine", "probe.app")] == [
        0,
        1,
        2,
    ]
    assert rank("boards.pico") == rank("main") == 3
    assert rank("math") is None
    assert rank("mainly") is None
