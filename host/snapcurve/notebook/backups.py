"""Backup and restore of a notebook that is one file, by SQLite's online backup.

Both write a new file beside the target and move it into place when it is complete, so that a
crash or a full disk never leaves half a notebook under the right name. A damaged notebook is
copied as it is, since its other batches are as dear, and the damage is named.
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

from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import sqlite_file, tables
from snapcurve.notebook.database import sentences
from snapcurve.notebook.location import COMPANIONS, place_of
from snapcurve.notebook.store import Notebook, open_notebook


@dataclass(frozen=True)
class Restored:
    """`aside` is the name under which the notebook that was there is kept, None if there was
    none; `problems` what is damaged in the one that was restored."""

    aside: str | None
    problems: tuple[str, ...] = ()


def backup(
    file: str, where: str | None = None, *, replace: bool = False, wait_s: float = 5.0
) -> list[str]:
    """Copy the notebook `where` into `file`, also while others write to it; what is damaged in
    it, in a sentence each.

    A file that is there is not replaced by a damaged one. A notebook that cannot even be opened
    is copied byte by byte, and RecordError says so: it is kept for repair, and nothing can be
    restored from it. Raises RecordError when a file cannot be read or written, SnapcurveError
    when the file exists and is not to be replaced, and for a notebook on a server.
    """
    target, place = _file(file), place_of(where)
    if not isinstance(place, Path):
        raise SnapcurveError(
            "A notebook on a server cannot be copied into a file; use the server's own tools"
            " (pg_dump)."
        )
    with sentences(file):
        if target.exists() and not replace:
            raise SnapcurveError(f"{target} exists already; choose another name for the backup.")
    try:
        with open_notebook(str(place), wait_s=wait_s) as notebook:
            return _copied(notebook, target)
    except sqlite_file.Damaged as damage:
        # SQLite cannot read it any more; somebody may be able to repair it.
        with sentences(file), _beside(target, ".new") as unfinished:
            shutil.copyfile(place, unfinished)
            with unfinished.open("rb+") as opened:
                os.fsync(opened.fileno())
            _finish(unfinished, target, [str(damage)])
        raise RecordError(
            f"{place} is not a notebook, or is damaged or cut off, and was copied to {file} byte"
            " by byte; nothing can be restored from that, so keep older backups too."
        ) from damage


def _copied(notebook: Notebook, target: Path) -> list[str]:
    """Copy, and check the copy."""
    with sentences(str(target)), _beside(target, ".new") as unfinished:
        with sentences(notebook.name), notebook.engine.connect() as connection:
            # One read inside the transaction fixes what is copied, and waits for writers here
            # instead of for ever in the copying.
            connection.execute(select(tables.version.c.version_num)).all()
            _copy(sqlite_file.driver(connection), unfinished, target)
        try:
            with open_notebook(str(unfinished), wait_s=0, called=notebook.name) as copy:
                problems = copy.check()
        except RecordError as error:
            problems = [str(error)]
        _finish(unfinished, target, problems)
    return problems


def restore(
    source: str, where: str | None = None, *, wait_s: float = 5.0, damaged: bool = False
) -> Restored:
    """Put the backup file `source` in the place of the notebook `where`.

    The backup is only read; its copy is checked, and migrated if it is older than this
    version. The notebook that was there is kept beside it. Raises RecordError when a file
    cannot be read or written, and for a damaged backup, unless `damaged` says that it is to
    be taken as it is; SnapcurveError when a place cannot be a notebook's.
    """
    file, target = _file(source), place_of(where)
    if not isinstance(target, Path):
        raise SnapcurveError(
            "A notebook on a server cannot be restored from a file; use the server's own tools"
            " (pg_restore)."
        )
    with sentences(str(target)), _beside(target, ".restoring") as unfinished:
        with sentences(source):
            if not file.exists():
                raise SnapcurveError(f"There is no backup {file}; name a file made by a backup.")
            address = file.resolve().as_uri() + "?mode=ro"
            with closing(sqlite3.connect(address, uri=True, timeout=wait_s)) as connection:
                connection.execute("BEGIN")
                if not connection.execute("SELECT 1 FROM sqlite_master").fetchall():
                    raise SnapcurveError(f"{file} is empty and holds no notebook; name another.")
                _copy(connection, unfinished, target)
        with open_notebook(str(unfinished), wait_s=wait_s, called=source) as restored:
            problems = tuple(restored.check())
        if problems and not damaged:
            raise RecordError(
                f"The backup {file} was not restored: {_first_of(problems)}; restore another"
                " one, or add --damaged to take it as it is."
            )
        return Restored(_move_into_place(unfinished, target, wait_s, keep=True), problems)


def _first_of(problems: tuple[str, ...] | list[str]) -> str:
    others = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return problems[0].removesuffix(".") + others


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
        yield unfinished
    finally:
        for companion in ("", *COMPANIONS):
            # What cannot be removed never had its right name; the failure itself says more.
            with suppress(OSError):
                Path(f"{unfinished}{companion}").unlink(missing_ok=True)


def _copy(source: sqlite3.Connection, unfinished: Path, target: Path) -> None:
    with sentences(str(target)), closing(sqlite3.connect(unfinished)) as copy:
        source.backup(copy)


def _finish(unfinished: Path, target: Path, problems: list[str]) -> None:
    """Make the backup the one called `target`, unless it would take the place of a better."""
    if problems and target.exists():
        raise RecordError(
            f"The notebook is damaged: {_first_of(problems)}; the older backup {target} stays,"
            " choose another name for this one."
        )
    _move_into_place(unfinished, target, wait_s=0, keep=False)


def _move_into_place(unfinished: Path, target: Path, wait_s: float, keep: bool) -> str | None:
    """Make the finished file the one called `target`; the name an older one is kept under."""
    existed = target.exists()
    if existed or any(Path(f"{target}{one}").exists() for one in COMPANIONS):
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
