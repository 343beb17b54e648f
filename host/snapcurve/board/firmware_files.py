"""Where the firmware's source files are, in the source tree or as the wheel carries them."""

import ast
from pathlib import Path
from types import ModuleType

import boards
import probe
import wire
from snapcurve.errors import SnapcurveError

START = "start"  # main.py under the name that a board imports


def _folder(package: ModuleType) -> Path:
    assert package.__file__ is not None
    return Path(package.__file__).resolve().parent


def import_roots() -> list[str]:
    """The folders from which the firmware imports wire, probe and boards."""
    roots = [str(_folder(package).parent) for package in (wire, probe, boards)]
    return list(dict.fromkeys(roots))


def main_file() -> Path:
    """firmware/main.py."""
    folder = _folder(boards)
    for path in (folder.parent / "main.py", folder / "main.py"):
        if path.is_file():
            return path
    raise SnapcurveError("the firmware's main.py is missing: install snapcurve again")


def board_names() -> list[str]:
    """Boards there is a file for."""
    return [path.stem for path in _folder(boards).glob("*.py") if _is_board(path)]


def _is_board(path: Path) -> bool:
    """Whether a file of boards/ makes a board's parts, rather than serving those that do."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = {getattr(node, "name", "") for node in tree.body}
    names |= {
        alias.asname or alias.name
        for node in tree.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    return {"Parts", "died"} <= names


def _board_modules(board: str) -> list[str]:
    """The files of boards/ that ``board`` needs, itself included."""
    folder = _folder(boards)
    known = {path.stem for path in folder.glob("*.py")}
    wanted, found = [board], []
    while wanted:
        name = wanted.pop()
        found.append(name)
        tree = ast.parse((folder / f"{name}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.level == 1:
                names = [node.module] if node.module else [alias.name for alias in node.names]
                wanted += [one for one in names if one in known - set(found) - set(wanted)]
    return sorted(found)


def sources(board: str) -> dict[str, Path]:
    """Path on the board without its ending ("probe/app") -> source file, of all that ``board``
    needs. SnapcurveError for an unknown board."""
    if board not in board_names():
        known = ", ".join(sorted(board_names()))
        raise SnapcurveError(f"there is no firmware for a board called {board!r}; known: {known}")
    found = {START: main_file()}
    for package in (wire, probe):
        folder = _folder(package)
        for path in folder.rglob("*.py"):
            found[path.relative_to(folder.parent).with_suffix("").as_posix()] = path
    for name in ["__init__", *_board_modules(board)]:
        found[f"boards/{name}"] = _folder(boards) / f"{name}.py"
    return dict(sorted(found.items()))
