"""The database of a notebook: connected, brought to this version's schema, and its exceptions
made sentences."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine, inspect, select
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.notebook import postgresql, sqlite_file, tables

_SHARED = "The shared notebook"  # a URL may hold a password, so it is never shown


def connect(place: Path | str, wait_s: float, called: str | None = None) -> tuple[Engine, str]:
    """An engine on the notebook at `place`, and what sentences call it; `called` if given."""
    if isinstance(place, Path):
        engine, name = sqlite_file.engine_for(place, wait_s), called or str(place)
    else:
        engine, name = postgresql.engine_for(place, wait_s), _SHARED
    try:
        with sentences(name):
            _bring_up_to_date(engine, place, name)
    except BaseException:
        engine.dispose()
        raise
    return engine, name


@contextmanager
def sentences(name: str) -> Iterator[None]:
    """Raise RecordError or SnapcurveError for whatever the database of the notebook `name`, or
    the disk that it is on, raises.

    `name` is what a person may read: a file's path, never a URL, which may hold a password.
    """
    try:
        with file_errors(f"use the notebook {name}"):
            yield
    except sqlite3.Error as error:
        raise sqlite_file.as_sentence(error, name) from error
    except DBAPIError as error:
        if isinstance(error.orig, sqlite3.Error):
            raise sqlite_file.as_sentence(error.orig, name) from error
        # not chained: the driver's words may hold the address
        raise postgresql.as_sentence(error.orig, name) from None
    except UnicodeDecodeError as error:
        # Python's driver, when SQLite complains of a damaged name in the name's own bytes
        raise sqlite_file.damage(name) from error
    except SQLAlchemyError as error:
        raise SnapcurveError(
            f"{name} could not be used ({type(error).__name__}); check its address."
        ) from error


def _bring_up_to_date(engine: Engine, place: Path | str, name: str) -> None:
    found = _schema_of(engine, place, name)
    if found == tables.SCHEMA:
        return
    if found is None:
        # A notebook that another process is just creating has all its tables or none.
        with engine.connect() as connection:
            names = set(inspect(connection).get_table_names())
        if names and tables.version.name not in names:
            raise SnapcurveError(
                f"{name} holds another program's data and was left alone; name a file of its"
                " own for the notebook."
            )
    elif not re.fullmatch(r"\d{4}", found) or found > tables.SCHEMA:
        raise SnapcurveError(
            f"{name} was written by a newer version of snapcurve and was left alone; update"
            " snapcurve on this computer."
        )
    from snapcurve.notebook.migrations import migrate

    migrate(engine)


def _schema_of(engine: Engine, place: Path | str, name: str) -> str | None:
    """The schema's number, None where there is none."""
    try:
        with engine.connect() as connection:
            found = connection.scalar(select(tables.version.c.version_num))
            if isinstance(place, Path):
                sqlite_file.require_whole(connection, place, name)
            return found
    except DBAPIError:
        with engine.connect() as connection:
            if inspect(connection).has_table(tables.version.name):
                raise
        return None
