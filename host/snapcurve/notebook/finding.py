"""The one batch that a person names."""

from __future__ import annotations

from sqlalchemy import Connection, select

from snapcurve.errors import SnapcurveError

from . import rows, tables
from .codes import id_of, parts_of
from .mistakes import mistakes


def find_batch(connection: Connection, code_or_id: str) -> int:
    """The id of the batch with this code or id, or of the newest for "last".

    The newest is none that was started by mistake. Raises SnapcurveError when there is none.
    """
    newest = connection.execute(rows.lines(1, mistakes(connection))).first()
    if code_or_id.strip().lower() == "last":
        found = None if newest is None else newest.id
    else:
        found = _named(connection, code_or_id)
    if found is not None:
        return int(found)
    if newest is None:
        raise SnapcurveError("The notebook has no batches yet; collect or rehearse one first.")
    raise SnapcurveError(
        f"There is no batch {code_or_id!r} in the notebook; the newest is"
        f' {rows.line(newest).code}, "last" for short.'
    )


def _named(connection: Connection, code_or_id: str) -> int | None:
    columns = tables.batches.c
    query = select(columns.id)
    code = parts_of(code_or_id)
    if code is None:
        return connection.scalar(query.where(columns.id == id_of(code_or_id)))
    return connection.scalar(query.where(columns.day == code[0], columns.day_number == code[1]))
