"""The notebook: batches with their curves as the board had them, marks and alarms.

SQLite in one file by default, any number of benches on PostgreSQL by URL. What was filed
is never rewritten. Importing this package is cheap; SQLAlchemy is loaded by
`open_notebook`, alembic only when a notebook is new or older than this program.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from snapcurve.notebook.location import default_url
from snapcurve.notebook.records import (
    Alarm,
    AmendedBatch,
    Batch,
    BatchRow,
    Calibration,
    ChainEnd,
    Change,
    Curve,
    Entry,
    Lot,
    Mark,
    NewBatch,
    NewCurve,
    NewEntry,
    Search,
    TracedBatch,
)

if TYPE_CHECKING:
    from snapcurve.notebook.backups import Restored
    from snapcurve.notebook.store import Notebook

__all__ = [
    "Alarm",
    "AmendedBatch",
    "Batch",
    "BatchRow",
    "Calibration",
    "ChainEnd",
    "Change",
    "Curve",
    "Entry",
    "Lot",
    "Mark",
    "NewBatch",
    "NewCurve",
    "NewEntry",
    "Search",
    "TracedBatch",
    "backup",
    "default_url",
    "open_notebook",
    "restore",
]


def open_notebook(where: str | None = None, *, wait_s: float = 5.0) -> Notebook:
    """Open the notebook at `where`, creating or migrating it when that is needed.

    `where` is a file path or a database URL; None takes `default_url()`. Another program
    that holds the file locked is waited for `wait_s` seconds.

    Raises SnapcurveError when the place cannot be opened, holds something else, or was
    written by a newer version; RecordError when the file is damaged.
    """
    from snapcurve.notebook.opening import open_place

    return open_place(where, wait_s)


def backup(
    file: str, where: str | None = None, *, replace: bool = False, wait_s: float = 5.0
) -> list[str]:
    """Copy the notebook `where` into `file`; what is damaged in it, in a sentence each.

    As `backups.backup`. A file that cannot even be opened is copied byte by byte, and
    RecordError says so: it is kept for repair, and nothing can be restored from it.
    """
    from snapcurve.notebook import backups

    return backups.backup_place(file, where, replace, wait_s)


def restore(
    backup: str, where: str | None = None, *, wait_s: float = 5.0, damaged: bool = False
) -> Restored:
    """Put a backup in the place of the notebook `where`; see `backups.restore`."""
    from snapcurve.notebook import backups

    return backups.restore(backup, where, wait_s, damaged)
