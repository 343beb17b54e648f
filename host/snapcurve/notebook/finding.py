"""The one batch that a person names."""

from __future__ import annotations

from sqlalchemy import Connection, select

from snapcurve.errors import SnapcurveError

from . import rows, tables
from .codes import id_of, parts_of
from .mistakes import mistakes
from .records import Curve

_LOOKED_AT = 4  # numbers come again on a board whose flash was erased, which is rare


def find_batch(connection: Connection, code_or_id: str) -> int:
    """The id of the batch with this code or id, or of the newest for "last".

    The newest is none that was started by mistake. Raises SnapcurveError when there is none.
    """
    last = code_or_id.strip().lower() == "last"
    found = None if last else _named(connection, code_or_id)
    if found is not None:
        return found
    newest = connection.execute(rows.lines(1, mistakes(connection))).first()
    if newest is None:
        raise SnapcurveError("The notebook has no batches yet; collect or rehearse one first.")
    if last:
        return int(newest.id)
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


def recorded_before(connection: Connection, than: Curve, number: int) -> list[int]:
    """The ids of batches whose curve has this ``number`` on the same board and an earlier start,
    the latest first."""
    its = tables.curves.c
    query = select(its.batch_id).where(
        its.board_id == than.board_id, its.curve == number, its.boot < than.boot
    )
    query = query.order_by(its.boot.desc(), its.id.desc()).limit(_LOOKED_AT)
    return list(connection.execute(query).scalars())


def recorded_after(connection: Connection, than: Curve) -> list[int]:
    """The ids of batches that the same board recorded next, at later starts, in order."""
    its = tables.curves.c
    query = select(its.batch_id).where(
        its.board_id == than.board_id, its.curve > than.curve, its.boot > than.boot
    )
    query = query.order_by(its.boot, its.curve, its.id.desc()).limit(_LOOKED_AT)
    return list(connection.execute(query).scalars())
