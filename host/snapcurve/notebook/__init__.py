"""The notebook: batches with their curves as the board had them, marks and alarms.

SQLite in one file by default, any number of benches on PostgreSQL by URL. What was filed
is never rewritten. Importing this package is cheap; SQLAlchemy is loaded by
`open_notebook`, alembic only when a notebook is new or older than this program.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


def open_notebook(where: str | None = None, *, wait_s: float = 5.0) -> Notebook:
    """Open the notebook at `where`, creating or migrating it when that is needed.

    `where` is a file path or a database URL; None takes `location.default_url()`. Another
    program that holds the file locked is waited for `wait_s` seconds.

    Raises SnapcurveError when the place cannot be a notebook, holds something else, or was
    written by a newer version; RecordError when it cannot be opened or is damaged.
    """
    from snapcurve.notebook import store

    return store.open_notebook(where, wait_s=wait_s)
