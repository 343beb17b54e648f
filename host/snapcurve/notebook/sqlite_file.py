"""Everything that is true of SQLite only: settings, locking, and what its errors mean.

Journal: SQLite's rollback journal, not its write-ahead log. The notebook is one file that
a person copies to a stick, and a copy without the log beside it would lack the latest
batches; the log also fails on network drives. A few writes a day need no more.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from operator import methodcaller
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event

from snapcurve.errors import RecordError

_LOCKED = "is locked by another program; close that program and try again"
_NOT_WRITABLE = (
    "cannot be opened for writing; check the permissions of the file and its folder, or choose"
    " another place"
)
_ADVICE = {
    sqlite3.SQLITE_BUSY: _LOCKED,
    sqlite3.SQLITE_LOCKED: _LOCKED,
    sqlite3.SQLITE_FULL: "was not changed, because the disk is full; make room and try again",
    sqlite3.SQLITE_IOERR: (
        "was not changed, because its disk failed; check that it has room and is connected, and"
        " try again"
    ),
    sqlite3.SQLITE_READONLY: _NOT_WRITABLE,
    sqlite3.SQLITE_CANTOPEN: _NOT_WRITABLE,
    sqlite3.SQLITE_PERM: _NOT_WRITABLE,
}


class Damaged(RecordError):
    """The file itself cannot be read as a notebook."""


def engine_for(path: Path, wait_s: float) -> Engine:
    """An engine on `path` that holds the file open only while it works with it."""
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        poolclass=NullPool,
        # None: the driver leaves transactions to _begin; else it would run DDL outside them.
        connect_args={"timeout": wait_s, "isolation_level": None},
    )
    event.listen(engine, "connect", _settings)
    event.listen(engine, "begin", _begin)
    return engine


def _settings(connection: sqlite3.Connection, _record: object) -> None:
    connection.execute("PRAGMA foreign_keys = ON")
    # FULL and the folder too: without it a power cut just after a commit could bring the
    # journal back and undo a batch whose curve the board has already erased.
    connection.execute("PRAGMA synchronous = EXTRA")


def _begin(connection: Connection) -> None:
    # A writer takes its lock at once: a reader that becomes a writer halfway is refused
    # without waiting when another writer is there.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def driver(connection: Connection) -> sqlite3.Connection:
    """The driver's own connection, for the online backup."""
    raw: Any = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)
    return raw


def read_any_text(connection: Connection) -> None:
    """Have bytes that are no UTF-8 come as lone surrogates, not as errors: for checking."""
    driver(connection).text_factory = methodcaller("decode", "utf-8", "surrogateescape")


def structure_problems(connection: Connection) -> list[str]:
    """What SQLite itself finds wrong in the file, in its words."""
    found = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check(20)")]
    problems = [f"The file's structure is damaged: {line}." for line in found if line != "ok"]
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        problems.append(f"Row {row} of {table} belongs to an entry of {parent} that is missing.")
    return problems


def is_notebook(path: Path) -> bool:
    """Whether the database `path`, which is only read, has a notebook's tables; RecordError if
    it is locked or cannot be read."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
            query = "SELECT 1 FROM sqlite_master WHERE name = 'snapcurve_version'"
            return connection.execute(query).fetchone() is not None
    except sqlite3.Error as error:
        if is_damage(error):
            return False
        raise as_sentence(error, str(path)) from error


def finish_interrupted_write(path: Path, wait_s: float) -> None:
    """Undo what a killed program left half written, so that no journal stays beside `path`.

    A journal left there would be rolled back into whatever file gets that name next. Makes
    an empty file where there is none. Waits for other programs; raises sqlite3.Error when
    they do not finish.
    """
    with closing(sqlite3.connect(path, timeout=wait_s, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("ROLLBACK")


def require_whole(connection: Connection, path: Path, name: str) -> None:
    """Raise RecordError when the end of the file is missing.

    SQLite finds missing pages itself but reads the missing part of the last one as zeros.
    Called inside a transaction, whose lock keeps the file's length as it is.
    """
    pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    page_bytes = connection.exec_driver_sql("PRAGMA page_size").scalar_one()
    if path.stat().st_size < pages * page_bytes:
        raise damage(name)


def damage(name: str) -> Damaged:
    """What to say of a file that is no whole notebook."""
    return Damaged(
        f"{name} is not a notebook, or is damaged or cut off; keep the file and restore a"
        " backup, or name another one."
    )


def is_damage(error: sqlite3.Error) -> bool:
    """Whether the file itself is the trouble: damaged, cut off, or no database at all."""
    return _primary_code(error) in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def as_sentence(error: sqlite3.Error, name: str) -> RecordError:
    """The sentence for a driver's error on the file `name`."""
    if is_damage(error):
        return damage(name)
    advice = _ADVICE.get(_primary_code(error))
    if advice is None:
        return RecordError(f"The notebook {name} could not be used ({error}); try again.")
    return RecordError(f"The notebook {name} {advice}.")


def _primary_code(error: sqlite3.Error) -> int:
    # absent on errors that the Python module raises itself
    return int(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)) & 0xFF
