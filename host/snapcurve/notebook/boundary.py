"""The one place where a database's exceptions become sentences."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from snapcurve.errors import SnapcurveError

from . import sqlite_file


@contextmanager
def sentences(name: str) -> Iterator[None]:
    """Raise SnapcurveError for whatever the database of the notebook `name` raises.

    `name` is what a person may read: a file's path, never a URL, which may hold a password.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise sqlite_file.as_sentence(error, name) from error
    except DBAPIError as error:
        if isinstance(error.orig, sqlite3.Error):
            raise sqlite_file.as_sentence(error.orig, name) from error
        raise SnapcurveError(
            f"The database of {name} refused: {_first_line(error.orig)}; check that the server"
            " runs and that you may use it, then try again."
        ) from error
    except SQLAlchemyError as error:
        raise SnapcurveError(
            f"{name} could not be used ({type(error).__name__}); check its address."
        ) from error


def _first_line(error: BaseException | None) -> str:
    lines = str(error).strip().splitlines()
    return lines[0].rstrip(".") if lines else type(error).__name__
