"""Opening a notebook: where it is, whether it is ours, and of which version."""

from __future__ import annotations

import re
from pathlib import Path

from sqlalchemy import Engine, inspect, select
from sqlalchemy.exc import DBAPIError

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import postgresql, sqlite_file, tables
from snapcurve.notebook.boundary import sentences
from snapcurve.notebook.location import place_of
from snapcurve.notebook.store import Notebook

_SHARED = "the shared notebook"  # a URL may hold a password, so it is never shown


def open_place(where: str | None, wait_s: float, called: str | None = None) -> Notebook:
    """See `snapcurve.notebook.open_notebook`; sentences name it `called` when that is given."""
    place = place_of(where)
    path = place if isinstance(place, Path) else None
    name = called or (_SHARED if path is None else str(path))
    engine = (
        sqlite_file.engine_for(path, wait_s) if path else postgresql.engine_of(str(place), wait_s)
    )
    try:
        with sentences(name):
            _bring_up_to_date(engine, path, name)
    except BaseException:
        engine.dispose()
        raise
    return Notebook(engine, name, path)


def _bring_up_to_date(engine: Engine, path: Path | None, name: str) -> None:
    found = _schema_of(engine, path, name)
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


def _schema_of(engine: Engine, path: Path | None, name: str) -> str | None:
    """The schema's number, None where there is none."""
    try:
        with engine.connect() as connection:
            found = connection.scalar(select(tables.version.c.version_num))
            if path:
                sqlite_file.require_whole(connection, path, name)
            return found
    except DBAPIError:
        with engine.connect() as connection:
            if inspect(connection).has_table(tables.version.name):
                raise
        return None
