"""Backup and restore of a notebook that is one file, by SQLite's online backup.

Both write a new file beside the wanted one and move it into place when it is complete, so
that a crash or a full disk never leaves half a notebook under the right name.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Engine, select

from snapcurve.errors import RecordError, SnapcurveError

from . import sqlite_file, tables
from .boundary import sentences
from .location import COMPANIONS, place_of


def backup(engine: Engine, path: Path | None, wanted: str, replace: bool) -> None:
    """See `Notebook.backup`; `path` is the notebook's own file."""
    if path is None:
        raise SnapcurveError(
            "A notebook on a server is backed up with the server's own tools (pg_dump)."
        )
    target = _file(wanted)
    if target.exists() and not replace:
        raise SnapcurveError(f"{target} exists already; choose another name for the backup.")
    with _beside(target, ".new") as unfinished, engine.connect() as connection:
        # One read inside the transaction fixes what is copied, and waits for writers here
        # instead of for ever in the copying.
        connection.execute(select(tables.version.c.version_num)).all()
        _copy(sqlite_file.driver(connection), unfinished)
        _move_into_place(unfinished, target, wait_s=0, keep=False)


def restore(source: str, where: str | None, wait_s: float) -> str | None:
    """Put the backup file `source` in the place of the notebook `where`.

    The backup is only read; its copy is checked, and migrated if it is older than this
    version. The notebook that was there is kept beside it under the name returned (None
    when there was none). Raises RecordError when the backup is damaged, SnapcurveError when
    a file cannot be read or written or another program is writing to the notebook.
    """
    from .opening import open_place

    backup_file, target = _file(source), place_of(where)
    if not isinstance(target, Path):
        raise SnapcurveError(
            "A notebook on a server is restored with the server's own tools (pg_restore)."
        )
    if not backup_file.is_file():
        raise SnapcurveError(f"There is no backup {backup_file}; name a file made by a backup.")
    with _beside(target, ".restoring") as unfinished:
        with sentences(str(backup_file)):
            address = backup_file.resolve().as_uri() + "?mode=ro"
            with closing(sqlite3.connect(address, uri=True, timeout=wait_s)) as connection:
                connection.execute("BEGIN")
                if not connection.execute("SELECT 1 FROM sqlite_master").fetchall():
                    raise SnapcurveError(f"{backup_file} is empty and holds no notebook.")
                _copy(connection, unfinished)
        with open_place(str(unfinished), wait_s, called=str(backup_file)) as restored:
            problems = restored.check()
        if problems:
            raise RecordError(f"The backup {backup_file} was not restored: {problems[0]}")
        return _move_into_place(unfinished, target, wait_s, keep=True)


def _file(name: str) -> Path:
    place = place_of(name)
    if not isinstance(place, Path):
        raise SnapcurveError("A backup is a file; give a name such as notebook-backup.db.")
    return place


@contextmanager
def _beside(target: Path, ending: str) -> Iterator[Path]:
    """A file name beside `target`; whatever is left there afterwards is removed."""
    unfinished = target.with_name(f"{target.name}{ending}-{os.getpid()}")
    try:
        with sentences(str(target)):
            yield unfinished
    except OSError as error:
        raise SnapcurveError(
            f"{target} could not be written: {error.strerror or error}; choose another place."
        ) from error
    finally:
        for companion in ("", *COMPANIONS):
            Path(f"{unfinished}{companion}").unlink(missing_ok=True)


def _copy(source: sqlite3.Connection, target: Path) -> None:
    with closing(sqlite3.connect(target)) as copy:
        source.backup(copy)


def _move_into_place(unfinished: Path, target: Path, wait_s: float, keep: bool) -> str | None:
    """Make the finished file the one called `target`; the name an older one is kept under."""
    existed = target.exists()
    with sentences(str(target)):
        try:
            sqlite_file.finish_interrupted_write(target, wait_s)
        except sqlite3.Error as error:
            # Of a damaged notebook SQLite removes the journal as well.
            if not sqlite_file.is_damage(error):
                raise
    kept = _second_name(target) if existed and keep else None
    os.replace(unfinished, target)
    return kept


def _second_name(target: Path) -> str:
    number = 1
    while (aside := target.with_name(f"{target.name}.before-restore-{number}")).exists():
        number += 1
    try:
        # linked, not renamed, so that at no moment the notebook is missing
        os.link(target, aside)
    except OSError:
        os.rename(target, aside)  # file systems without hard links
    return str(aside)
