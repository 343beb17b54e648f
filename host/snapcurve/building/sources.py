"""Where the firmware's source files are, in the source tree or as the wheel carries them."""

from pathlib import Path

import boards
import probe
import wire
from snapcurve.errors import SnapcurveError

START = "start"  # main.py as a module


def import_roots() -> list[str]:
    """The folders from which the firmware imports wire, probe and boards."""
    roots = []
    for package in (wire, probe, boards):
        assert package.__file__ is not None
        root = str(Path(package.__file__).resolve().parent.parent)
        if root not in roots:
            roots.append(root)
    return roots


def main_file() -> Path:
    """firmware/main.py."""
    assert boards.__file__ is not None
    folder = Path(boards.__file__).resolve().parent
    for path in (folder.parent / "main.py", folder / "main.py"):
        if path.is_file():
            return path
    raise SnapcurveError("the firmware's main.py is missing: install snapcurve again")


def firmware_files() -> dict[str, Path]:
    """Module path without its ending ("probe/app") -> source file, of all the firmware but
    main.py and the boards that need a chip."""
    files = {}
    for root in map(Path, import_roots()):
        for package in ("wire", "probe", "boards"):
            for path in (root / package).rglob("*.py"):
                if package != "boards" or path.stem.startswith(("__init__", "desk")):
                    files[path.relative_to(root).with_suffix("").as_posix()] = path
    return files
