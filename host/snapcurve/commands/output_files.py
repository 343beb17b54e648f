"""Whether a command may write a file where it was asked to: decided here for all of them.

The notebook is the one thing that cannot be made again, so nothing is ever written over it,
nor over another program's database. Any other file is replaced only when that was asked for.
"""

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.location import COMPANIONS, place_of
from snapcurve.shown.formats import FORMATS

_SQLITE_START = b"SQLite format 3\0"  # the SQLite file format, section 1.3


@dataclass(frozen=True)
class Kind:
    """What is written, and the endings its name may have; none: any."""

    what: str
    endings: tuple[str, ...]


CHART = Kind("chart", tuple(f".{one}" for one in FORMATS))
SHEET = Kind("batch sheet", (".pdf",))
LABEL = Kind("label", (".pdf", ".png"))
TRACE = Kind("trace", (".pdf",))
ACCOUNT = Kind("account", (".pdf",))
CLASS = Kind("list of a class", (".csv",))
EXPORT = Kind("export", (".csv", ".json"))
PICTURE = Kind("picture", (".jpg", ".png", ".webp"))
SOUND = Kind("sound", (".wav",))
IMAGE = Kind("image", (".uf2",))
BACKUP = Kind("backup", ())


def checked(path: Path, kind: Kind, *, replace: bool, notebook: str | None = None) -> Path:
    """``path``, if a file of ``kind`` may be written there.

    ``notebook`` is the one that the command works with; the person's own is looked after in
    any case. SnapcurveError for the files of either (by whatever name or link), for a
    database, a folder or a device, for another ending, and without ``replace`` for any file
    that is there. Only a backup may replace a database, and only another backup.
    """
    if kind.endings and path.suffix.lower() not in kind.endings:
        *others, last = kind.endings
        endings = f"{', '.join(others)} or {last}" if others else last
        raise SnapcurveError(
            f"{path} cannot be the name of the {kind.what}: let it end in {endings}."
        )
    elsewhere = f"name another file for the {kind.what}"
    try:
        real = Path(os.path.realpath(path))
        if any(_same(real, own) for own in _notebook_files(notebook)):
            raise SnapcurveError(f"{path} is the notebook itself: {elsewhere}.")
        if not os.path.lexists(real):
            return path
        if real.is_dir():
            raise SnapcurveError(f"{path} is a folder: {elsewhere}.")
        if not real.is_file():
            raise SnapcurveError(f"{path} is no ordinary file: {elsewhere}.")
        if kind == BACKUP:
            from snapcurve.notebook.sqlite_file import is_notebook

            if not (_is_database(real) and is_notebook(real)):
                raise SnapcurveError(f"{path} is no backup of a notebook: {elsewhere}.")
        elif _is_database(real):
            raise SnapcurveError(f"{path} is a database: {elsewhere}.")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SnapcurveError(f"{path} cannot be looked at ({reason}): {elsewhere}.") from error
    if not replace:
        raise SnapcurveError(
            f"{path} exists already: add --replace to write over it, or {elsewhere}."
        )
    return path


def _notebook_files(notebook: str | None) -> list[Path]:
    """The notebook's file and those that SQLite keeps beside it, of both notebooks."""
    found: list[Path] = []
    for where in {notebook, None}:
        # What is wrong with an address is said by the command that opens the notebook.
        with suppress(SnapcurveError):
            place = place_of(where)
            if isinstance(place, Path):
                found += [Path(f"{place}{ending}") for ending in ("", *COMPANIONS)]
    return found


def _same(real: Path, own: Path) -> bool:
    return str(real) == os.path.realpath(own) or (
        real.exists() and own.exists() and real.samefile(own)
    )


def _is_database(file: Path) -> bool:
    with file.open("rb") as opened:
        return opened.read(len(_SQLITE_START)) == _SQLITE_START
