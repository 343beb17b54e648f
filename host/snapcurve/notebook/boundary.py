"""The one place where a database's exceptions become sentences."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import postgresql, sqlite_file


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
        # not chained: the driver's words may hold the address
        raise postgresql.as_sentence(error.orig, name) from None
    except UnicodeDecodeError as error:
        # Python's driver, when SQLite complains of a damaged name in the name's own bytes
        raise sqlite_file.damage(name) from error
    except SQLAlchemyError as error:
        raise SnapcurveError(
            f"{name} could not be used ({type(error).__name__}); check its address."
        ) from error
