"""Backup and restore of a notebook that is one file, by SQLite's online backup.

Both write a new file beside the wanted one and move it into place when it is complete, so
that a crash or a full disk never leaves half a notebook under the right name. A damaged
notebook is copied as it is, since its other batches are as dear, and the damage is named.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError

from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import checking, sqlite_file, tables
from snapcurve.notebook.boundary import sentences
from snapcurve.notebook.location import COMPANIONS, place_of
from snapcurve.notebook.opening import open_place
from snapcurve.notebook.store import Notebook


@dataclass(frozen=True)
class Restored:
    """`aside` is the name under which the notebook that was there is kept, None if there was
    none; `problems` what is damaged in the one that was restored."""

    aside: str | None
    problems: tuple[str, ...] = ()


def backup(notebook: Notebook, wanted: str, *, replace: bool = False) -> list[str]:
    """Copy the notebook to the file `wanted`, also while others write to it.

    The copy is checked, and what is damaged in it returned, as by `check`; a file that is
    there is not replaced by a damaged one. Raises RecordError when that cannot be done,
    SnapcurveError when the file exists and is not to be replaced, and for a notebook on
    a server.
    """
    path, engine = notebook.path, notebook.engine
    if path is None:
        raise SnapcurveError(
            "A notebook on a server is backed up with the server's own tools (pg_dump)."
        )
    with _new_file(wanted, replace) as (unfinished, target):
        with sentences(str(path)), engine.connect() as connection:
            # One read inside the transaction fixes what is copied, and waits for writers here
            # instead of for ever in the copying.
            connection.execute(select(tables.version.c.version_num)).all()
            _copy(sqlite_file.driver(connection), unfinished, str(target))
        problems = _problems_in(unfinished, str(path))
        _finish(unfinished, target, problems)
    return problems


def backup_place(wanted: str, where: str | None, replace: bool, wait_s: float) -> list[str]:
    """See `snapcurve.notebook.backup`."""
    try:
        with _told(wanted), open_place(where, wait_s) as notebook:
            return backup(notebook, wanted, replace=replace)
    except sqlite_file.Damaged as damage:
        path = place_of(where)
        if not isinstance(path, Path):
            raise
        _backup_byte_by_byte(path, wanted, replace, damage)
        raise RecordError(
            f"copied to {wanted} as it is, byte by byte: {path} is not a notebook, or is damaged"
            " or cut off, so nothing can be restored from it; keep older backups too"
        ) from damage


def _backup_byte_by_byte(path: Path, wanted: str, replace: bool, damage: Exception) -> None:
    """Keep a file that SQLite cannot read any more; somebody may be able to repair it."""
    with _new_file(wanted, replace) as (unfinished, target):
        shutil.copyfile(path, unfinished)
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        _finish(unfinished, target, [str(damage)])


def restore(source: str, where: str | None, wait_s: float, damaged: bool) -> Restored:
    """Put the backup file `source` in the place of the notebook `where`.

    The backup is only read; its copy is checked, and migrated if it is older than this
    version. The notebook that was there is kept beside it. Raises RecordError when a file
    cannot be read or written, and for a damaged backup, unless `damaged` says that it is to
    be taken as it is; SnapcurveError when a place cannot be a notebook's.
    """
    with _told(source):
        backup_file, target = _file(source), place_of(where)
        if not isinstance(target, Path):
            raise SnapcurveError(
                "A notebook on a server is restored with the server's own tools (pg_restore)."
            )
        if not backup_file.is_file():
            raise SnapcurveError(
                f"There is no backup {backup_file}; name a file made by a backup."
            )
    with _told(str(target)), _beside(target, ".restoring") as unfinished:
        with sentences(str(backup_file)):
            address = backup_file.resolve().as_uri() + "?mode=ro"
            with closing(sqlite3.connect(address, uri=True, timeout=wait_s)) as connection:
                connection.execute("BEGIN")
                if not connection.execute("SELECT 1 FROM sqlite_master").fetchall():
                    raise SnapcurveError(f"{backup_file} is empty and holds no notebook.")
                _copy(connection, unfinished, str(target))
        with open_place(str(unfinished), wait_s, called=str(backup_file)) as restored:
            problems = [checking.without_remedy(one) for one in restored.check()]
        if problems and not damaged:
            raise RecordError(
                f"The backup {backup_file} was not restored: {problems[0]}"
                f"{_and_others(problems)}; restore another one, or add --damaged to take it as"
                " it is."
            )
        return Restored(_move_into_place(unfinished, target, wait_s, keep=True), tuple(problems))


def _and_others(problems: list[str]) -> str:
    return f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""


def _file(name: str) -> Path:
    place = place_of(name)
    if not isinstance(place, Path):
        raise SnapcurveError("A backup is a file; give a name such as notebook-backup.db.")
    return place


@contextmanager
def _told(name: str) -> Iterator[None]:
    """Raise RecordError for whatever a disk or SQLite raises while `name` is worked with."""
    try:
        with sentences(name):
            yield
    except OSError as error:
        raise RecordError(
            f"{name} could not be read or written: {error.strerror or error}; choose another"
            " place."
        ) from error
    except RecordError:
        raise
    except SnapcurveError as error:
        if isinstance(error.__cause__, OSError | sqlite3.Error | SQLAlchemyError):
            raise RecordError(str(error)) from error
        raise


@contextmanager
def _new_file(wanted: str, replace: bool) -> Iterator[tuple[Path, Path]]:
    """A file to write a backup into, and the one that it will be."""
    with _told(wanted):
        target = _file(wanted)
        if target.exists() and not replace:
            raise SnapcurveError(f"{target} exists already; choose another name for the backup.")
        with _beside(target, ".new") as unfinished:
            yield unfinished, target


@contextmanager
def _beside(target: Path, ending: str) -> Iterator[Path]:
    """A file name beside `target`; whatever is left there afterwards is removed."""
    unfinished = target.with_name(f"{target.name}{ending}-{os.getpid()}")
    try:
        yield unfinished
    finally:
        for companion in ("", *COMPANIONS):
            # What cannot be removed never had its right name; the failure itself says more.
            with suppress(OSError):
                Path(f"{unfinished}{companion}").unlink(missing_ok=True)


def _copy(source: sqlite3.Connection, unfinished: Path, target: str) -> None:
    with sentences(target), closing(sqlite3.connect(unfinished)) as copy:
        source.backup(copy)


def _problems_in(copy: Path, called: str) -> list[str]:
    try:
        with open_place(str(copy), 0.0, called=called) as copied:
            return copied.check()
    except RecordError as error:
        return [str(error)]


def _finish(unfinished: Path, target: Path, problems: list[str]) -> None:
    """Make the backup the one called `target`, unless it would take the place of a better."""
    if problems and target.exists():
        raise RecordError(
            f"The notebook is damaged: {checking.without_remedy(problems[0])}"
            f"{_and_others(problems)}; the older backup {target} stays, choose another name for"
            " this one."
        )
    _move_into_place(unfinished, target, wait_s=0, keep=False)


def _move_into_place(unfinished: Path, target: Path, wait_s: float, keep: bool) -> str | None:
    """Make the finished file the one called `target`; the name an older one is kept under."""
    existed = target.exists()
    if existed or any(Path(f"{target}{one}").exists() for one in COMPANIONS):
        with sentences(str(target)):
            try:
                sqlite_file.finish_interrupted_write(target, wait_s)
            except sqlite3.Error as error:
                # Of a damaged notebook SQLite removes the journal as well.
                if not sqlite_file.is_damage(error):
                    raise
        if not existed:
            target.unlink()  # SQLite made an empty one
    aside = _set_aside(target) if existed and keep else None
    try:
        os.replace(unfinished, target)
    except OSError:
        if aside is not None:
            _take_back(aside, target)
        raise
    return None if aside is None else str(aside)


def _set_aside(target: Path) -> Path:
    """Give `target` a second name. It keeps the first where the file system can do that, so
    that at no moment the notebook is missing."""
    number = 1
    while (aside := target.with_name(f"{target.name}.before-restore-{number}")).exists():
        number += 1
    try:
        os.link(target, aside)
    except OSError:
        os.rename(target, aside)  # file systems without hard links
    return aside


def _take_back(aside: Path, target: Path) -> None:
    if target.exists():
        aside.unlink()
    else:
        os.rename(aside, target)
