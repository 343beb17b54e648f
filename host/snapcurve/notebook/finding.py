"""The one batch that a person names."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Row, func, or_, select

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import rows, tables
from snapcurve.notebook.codes import id_of, parts_of
from snapcurve.notebook.mistakes import mistakes
from snapcurve.notebook.records import Curve

_PAGE = 20
_LOOKED_AT = 4  # numbers come again on a board whose flash was erased, which is rare


def find_batch(connection: Connection, code_or_id: str) -> int:
    """The id of the batch with this code or id, or of the newest for "last".

    The newest is none that was started by mistake. Raises SnapcurveError when there is none.
    """
    last = code_or_id.strip().lower() == "last"
    found = None if last else _named(connection, code_or_id)
    if found is not None:
        return found
    newest = _began_last(connection)
    if newest is None:
        raise SnapcurveError("The notebook has no batches yet; collect or rehearse one first.")
    if last:
        return int(newest.id)
    raise SnapcurveError(
        f"There is no batch {code_or_id!r} in the notebook; the newest is"
        f' {rows.line(newest).code}, "last" for short.'
    )


def _began_last(connection: Connection) -> Row[Any] | None:
    """The batch that began last, whenever it was filed; none that was started by mistake."""
    best, best_ms = None, 0
    for row in _newest_first(connection):
        if best is not None and row.moment_ms <= best_ms:
            break  # none began later than at its place in the list
        began_ms = _began_by_ms(connection, row)
        if best is None or (began_ms, row.id) > (best_ms, best.id):
            best, best_ms = row, began_ms
    return best


def _newest_first(connection: Connection) -> Iterator[Row[Any]]:
    batches, curves = tables.batches.c, tables.curves.c
    query = rows.lines(_PAGE, mistakes(connection)).join(
        tables.curves, curves.batch_id == batches.id
    )
    query = query.add_columns(
        tables.newest_first.label("moment_ms"),
        batches.created_unix_ms,
        curves.board_id,
        curves.boot,
        curves.curve,
    )
    begin = 0
    while page := connection.execute(query.offset(begin)).all():
        yield from page
        begin += _PAGE


def _began_by_ms(connection: Connection, row: Row[Any]) -> int:
    """When a batch began, or by when it had begun."""
    if row.started_unix_ms is not None:
        # A rehearsal runs ahead of the clock on the wall.
        begun = (row.moment_ms, row.created_unix_ms)
        return int(min(begun) if row.rehearsal else row.moment_ms)
    # What its board recorded later began later.
    batches, its = tables.batches.c, tables.curves.c
    later = or_(its.boot > row.boot, (its.boot == row.boot) & (its.curve > row.curve))
    query = select(func.min(tables.newest_first)).join(tables.curves, its.batch_id == batches.id)
    first = connection.scalar(query.where(its.board_id == row.board_id, later))
    return int(row.moment_ms if first is None else min(row.moment_ms, first - 1))


def _named(connection: Connection, code_or_id: str) -> int | None:
    columns = tables.batches.c
    query = select(columns.id)
    code = parts_of(code_or_id)
    if code is None:
        return connection.scalar(query.where(columns.id == id_of(code_or_id)))
    return connection.scalar(query.where(columns.day == code[0], columns.day_number == code[1]))


def recorded_before(connection: Connection, than: Curve, number: int) -> list[int]:
    """The ids of batches whose curve has this ``number`` and was recorded before on the same
    board, the latest first."""
    its = tables.curves.c
    query = select(its.batch_id).where(
        its.board_id == than.board_id,
        its.curve == number,
        its.curve < than.curve,
        its.boot <= than.boot,
    )
    query = query.order_by(its.boot.desc(), its.id.desc()).limit(_LOOKED_AT)
    return list(connection.execute(query).scalars())


def recorded_after(connection: Connection, than: Curve) -> list[int]:
    """The ids of batches that the same board recorded next, in order."""
    its = tables.curves.c
    query = select(its.batch_id).where(
        its.board_id == than.board_id, its.curve > than.curve, its.boot >= than.boot
    )
    query = query.order_by(its.boot, its.curve, its.id.desc()).limit(_LOOKED_AT)
    return list(connection.execute(query).scalars())
