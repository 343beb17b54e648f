"""Between the records of `records` and the rows of `tables`, inside a transaction."""

from __future__ import annotations

import dataclasses
import json
import time
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, Select, Table, func, insert, select

from snapcurve.errors import RecordError
from snapcurve.notebook import tables
from snapcurve.notebook.canonical import to_json
from snapcurve.notebook.codes import code_of, day_of
from snapcurve.notebook.records import (
    Alarm,
    Batch,
    BatchRow,
    Calibration,
    Curve,
    Lot,
    Mark,
    NewBatch,
)
from snapcurve.notebook.vocabulary import read_groups, stored_groups

_Record = TypeVar("_Record", Curve, Mark, Alarm)

# What `line` needs; profiles and couvertures' files are not read for a list.
LINE_COLUMNS = tuple(
    tables.batches.c[name]
    for name in (
        "id", "day", "day_number", "started_unix_ms", "utc_offset_min", "couverture",
        "method", "rehearsal", "operator",
    )
)  # fmt: skip

_NEWEST_FIRST = (tables.newest_first.desc(), tables.batches.c.id.desc())


def insert_batch(connection: Connection, new: NewBatch) -> int:
    """Write the batch with all that belongs to it; its id."""
    day = day_of(new.started_unix_ms, new.utc_offset_min)
    number = func.max(tables.batches.c.day_number)
    last = connection.scalar(select(number).where(tables.batches.c.day == day))
    head = _fields(new)
    for separate in ("curve", "marks", "alarms", "lots", "mistake"):
        del head[separate]
    head["allergens"] = None if new.allergens is None else to_json(list(new.allergens))
    head |= {
        "day": day,
        "day_number": (last or 0) + 1,
        "created_unix_ms": time.time_ns() // 1_000_000,
    }
    batch_id = new_id(connection, tables.batches, head)
    curve = _fields(new.curve) | {"batch_id": batch_id, "size": len(new.curve.raw)}
    connection.execute(insert(tables.curves), [curve])
    entries: tuple[tuple[Table, tuple[Any, ...]], ...] = (
        (tables.marks, new.marks),
        (tables.alarms, new.alarms),
    )
    for table, found in entries:
        if found:
            connection.execute(
                insert(table), [_fields(entry) | {"batch_id": batch_id} for entry in found]
            )
    insert_lots(connection, batch_id, new.lots)
    return batch_id


def insert_lots(
    connection: Connection, batch_id: int, lots: Iterable[Lot], entry_id: int | None = None
) -> None:
    """Write lots of a batch; `entry_id` is the entry that adds them, if one does."""
    values = [
        _fields(lot)
        | {
            "batch_id": batch_id,
            "entry_id": entry_id,
            "allergens": to_json(stored_groups(lot.allergens)),
        }
        for lot in lots
    ]
    if values:
        connection.execute(insert(tables.lots), values)


def read_lots(
    connection: Connection, ids: Sequence[int] | Select[Any]
) -> defaultdict[int, tuple[Lot, ...]]:
    """The lots that were filed with these batches, without those that entries added."""
    lots = tables.lots.c
    query = select(tables.lots).where(lots.batch_id.in_(ids))
    found: defaultdict[int, tuple[Lot, ...]] = defaultdict(tuple)
    for row in connection.execute(query.order_by(lots.id)):
        # asked for in the query, SQLite would go through all that were filed with a batch
        if row.entry_id is not None:
            continue
        allergens = read_groups(json.loads(row.allergens))
        lot = Lot(row.ingredient, row.lot, row.supplier, row.mass_mg, allergens)
        found[row.batch_id] += (lot,)
    return found


def read_batch(connection: Connection, batch_id: int) -> Batch:
    """The batch with everything but its curve's bytes.

    Raises RecordError when its curve is missing.
    """
    head = connection.execute(select(tables.batches).where(tables.batches.c.id == batch_id)).one()
    code = code_of(head.day, head.day_number)
    curves = _belonging(connection, tables.curves, Curve, batch_id)
    if not curves:
        raise RecordError(f"Batch {code} has lost its curve; restore a backup of the notebook.")
    return Batch(
        id=head.id,
        code=code,
        started_unix_ms=head.started_unix_ms,
        utc_offset_min=head.utc_offset_min,
        couverture=head.couverture,
        method=head.method,
        profile=bytes(head.profile),
        couverture_toml=head.couverture_toml,
        rehearsal=head.rehearsal,
        operator=head.operator,
        notes=head.notes,
        created_unix_ms=head.created_unix_ms,
        uncertainty_centi_c=head.uncertainty_centi_c,
        uncertainty_at_centi_c=head.uncertainty_at_centi_c,
        curve=curves[0],
        marks=tuple(_belonging(connection, tables.marks, Mark, batch_id)),
        alarms=tuple(_belonging(connection, tables.alarms, Alarm, batch_id)),
        place=head.place,
        room_centi_c=head.room_centi_c,
        mass_mg=head.mass_mg,
        allergens=None if head.allergens is None else tuple(json.loads(head.allergens)),
        calibration=None if head.calibration is None else bytes(head.calibration),
        lots=read_lots(connection, [batch_id])[batch_id],
    )


def lines(limit: int | None, without: Collection[int] = ()) -> Select[Any]:
    """The rows of the list of batches, newest first; each goes through `line`.

    Those `without` have these ids.
    """
    query = select(*LINE_COLUMNS).order_by(*_NEWEST_FIRST).limit(limit)
    return query.where(tables.batches.c.id.not_in(without)) if without else query


def line(row: Row[Any], mistakes: Collection[int] = ()) -> BatchRow:
    """One line of the list of batches; `mistakes` are the ids of those that are none."""
    return BatchRow(
        id=row.id,
        code=code_of(row.day, row.day_number),
        started_unix_ms=row.started_unix_ms,
        utc_offset_min=row.utc_offset_min,
        couverture=row.couverture,
        method=row.method,
        rehearsal=row.rehearsal,
        operator=row.operator,
        mistake=row.id in mistakes,
    )


def code_of_id(connection: Connection, batch_id: int) -> str:
    """The code of the batch with this id."""
    batches = tables.batches.c
    query = select(batches.day, batches.day_number).where(batches.id == batch_id)
    row = connection.execute(query).one()
    return code_of(row.day, row.day_number)


def same_curve(board_id: int, generation: int, curve: int) -> Select[Any]:
    """What is filed under a curve's name: batch_id, crc and size."""
    columns = tables.curves.c
    return select(columns.batch_id, columns.crc, columns.size).where(
        columns.board_id == board_id, columns.generation == generation, columns.curve == curve
    )


def insert_calibration(connection: Connection, new: Calibration) -> int:
    """Write the calibration with the moment of filing; its id."""
    values = _fields(new) | {"filed_unix_ms": time.time_ns() // 1_000_000}
    return new_id(connection, tables.calibrations, values)


def new_id(connection: Connection, table: Table, values: dict[str, Any]) -> int:
    """Write one row; its id."""
    key: Any = connection.execute(insert(table).values(**values)).inserted_primary_key
    return int(key.id)


def read_calibrations(connection: Connection, board_id: int) -> list[Calibration]:
    """All of a board's calibrations, oldest first."""
    columns = tables.calibrations.c
    wanted = [columns[field.name] for field in dataclasses.fields(Calibration)]
    query = select(*wanted).where(columns.board_id == board_id).order_by(columns.id)
    return [
        dataclasses.replace(Calibration(*row), raw=bytes(row.raw))
        for row in connection.execute(query)
    ]


def _fields(record: Any) -> dict[str, Any]:
    return {field.name: getattr(record, field.name) for field in dataclasses.fields(record)}


def _belonging(
    connection: Connection, table: Table, kind: type[_Record], batch_id: int
) -> list[_Record]:
    """The batch's rows of `table`, which has a column for every field of `kind`."""
    columns = [table.c[field.name] for field in dataclasses.fields(kind)]
    order = table.c.offset_ms if "offset_ms" in table.c else table.c.id
    query = select(*columns).where(table.c.batch_id == batch_id).order_by(order, table.c.id)
    return [kind(*row) for row in connection.execute(query)]
