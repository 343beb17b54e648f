"""Where the firmware's source files are, in the source tree or as the wheel carries them."""

import ast
from pathlib import Path
from types import ModuleType

from snapcurve import boards, probe, wire
from snapcurve.errors import SnapcurveError

START = "start"  # main.py under the name that a board imports


def _folder(package: ModuleType) -> Path:
    assert package.__file__ is not None
    return Path(package.__file__).resolve().parent


def import_roots() -> list[str]:
    """The folders in which the firmware's parts of the package ``snapcurve`` lie."""
    roots = [str(_folder(package).parents[1]) for package in (wire, probe, boards)]
    return list(dict.fromkeys(roots))


def link_into(folder: Path) -> None:
    """The source files as the board has them, in one place: MicroPython looks for the parts
    of a package only in the first folder that has its name."""
    (folder / f"{START}.py").symlink_to(main_file())
    (folder / "snapcurve").mkdir()
    for package in (wire, probe, boards):
        there = _folder(package)
        (folder / "snapcurve" / there.name).symlink_to(there, target_is_directory=True)


def main_file() -> Path:
    """firmware/main.py."""
    folder = _folder(boards)
    for path in (folder.parents[1] / "main.py", folder / "main.py"):
        if path.is_file():
            return path
    raise SnapcurveError("The firmware's main.py is missing: install snapcurve again.")


def board_names() -> list[str]:
    """Boards there is firmware for."""
    return sorted({name for _machine, name in boards.KNOWN})


def _board_files(board: str) -> list[Path]:
    """What ``board`` needs of boards/: its file or folder, and the files these import."""
    folder = _folder(boards)
    if (folder / board).is_dir():
        return sorted((folder / board).glob("*.py"))
    wanted, found = [board], []
    while wanted:
        path = folder / f"{wanted.pop()}.py"
        found.append(path)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.level == 1 and node.module:
                wanted.append(node.module)
    return found


def sources(board: str) -> dict[str, Path]:
    """Path on the board without its ending ("snapcurve/probe/app") -> source file, of all
    that ``board`` needs. SnapcurveError for an unknown board."""
    if board not in board_names():
        known = ", ".join(board_names())
        raise SnapcurveError(f"There is no firmware for a board called {board!r}; known: {known}.")
    paths = [*_folder(wire).rglob("*.py"), *_folder(probe).rglob("*.py")]
    paths += [_folder(boards) / "__init__.py", *_board_files(board)]
    found = {START: main_file()}
    for path in paths:
        root = next(root for root in import_roots() if path.is_relative_to(root))
        found[path.relative_to(root).with_suffix("").as_posix()] = path
    return dict(sorted(found.items()))
