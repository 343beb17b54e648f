"""Between the records of `records` and the rows of `tables`, inside a transaction."""

from __future__ import annotations

import dataclasses
import hashlib
import time
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Connection, Row, Select, Table, func, insert, select

from snapcurve.errors import RecordError
from snapcurve.notebook import allergens, hash_chain, search_words, tables
from snapcurve.notebook.checks import check_moment, checked_entry
from snapcurve.notebook.codes import code_of, day_of, utc_offset_min
from snapcurve.notebook.entries import amended, lot_of, refuse_own_review
from snapcurve.notebook.records import (
    LOST,
    Alarm,
    Batch,
    BatchRow,
    Calibration,
    Entry,
    FiledCurve,
    Leftover,
    Lot,
    Mark,
    NewBatch,
    NewEntry,
    Picture,
)
from snapcurve.notebook.vocabulary import read_groups, stored_groups

_Record = TypeVar("_Record", FiledCurve, Mark, Alarm, Calibration)
Ids = Sequence[int] | Select[Any]

# What `line` needs; profiles and couvertures' files are not read for a list.
LINE_COLUMNS = tuple(
    tables.batches.c[name]
    for name in (
        "id", "day", "day_number", "started_unix_ms", "utc_offset_min", "couverture",
        "method", "rehearsal", "operator",
    )
)  # fmt: skip
_OF_ITS_OWN_TABLE = ("curve", "marks", "alarms", "lots", "mistake")


def insert_batch(connection: Connection, new: NewBatch) -> int:
    """Write the batch with all that belongs to it, and seal it; its id."""
    day = day_of(new.started_unix_ms, new.utc_offset_min)
    number = func.max(tables.batches.c.day_number)
    last = connection.scalar(select(number).where(tables.batches.c.day == day)) or 0
    head = {name: value for name, value in vars(new).items() if name not in _OF_ITS_OWN_TABLE}
    head |= {"day": day, "day_number": last + 1, "created_unix_ms": _now_ms()}
    batch_id = _insert(connection, tables.batches, head)
    curve = {**vars(new.curve), "batch_id": batch_id, "size": len(new.curve.raw)}
    _insert(connection, tables.curves, curve)
    for table, records in ((tables.marks, new.marks), (tables.alarms, new.alarms)):
        if records:
            values = [{**vars(one), "batch_id": batch_id} for one in records]
            connection.execute(insert(table), values)
    _insert_lots(connection, batch_id, new.lots)
    search_words.add_batch(connection, batch_id)
    hash_chain.seal(connection, "batch", batch_id, code_of(day, last + 1))
    return batch_id


def insert_calibration(connection: Connection, new: Calibration) -> None:
    """Write the calibration with the moment of filing, and seal it."""
    values = {**vars(new), "filed_unix_ms": _now_ms()}
    key = _insert(connection, tables.calibrations, values)
    hash_chain.seal(connection, "calibration", key, hash_chain.calibration_name(new.board_id))


def insert_entry(
    connection: Connection,
    batch_id: int | None,
    new: NewEntry,
    picture: Picture | None = None,
    leftovers: tuple[Leftover, ...] = (),
) -> int:
    """Write an entry with what follows from it, and seal it; its id. `picture` is `new.picture`
    as it is to be kept, `leftovers` what went into the batch from earlier ones.

    Raises SnapcurveError for an entry that says nothing.
    """
    payload = checked_entry(new, batch_id is not None)
    at_ms = _now_ms() if new.at_unix_ms is None else new.at_unix_ms
    code = ""
    if batch_id is not None:
        batch = read_batch(connection, batch_id)
        code = batch.code
        check_moment(new, payload, at_ms, batch.started_unix_ms)
        if new.kind == "deviation":
            refuse_own_review(read_entries(connection, [batch_id]), payload, new.who)
        if new.kind == "amendment":
            before = amended(batch, read_entries(connection, [batch_id]))
            was = getattr(before.now, payload["field"])
            if payload["field"] == "allergens":
                whole = allergens.of(dataclasses.replace(before, leftovers=leftovers))
                allergens.refuse_silent(whole, payload)
                was = whole.groups
            payload["was"] = list(was) if isinstance(was, tuple) else was
    kept: dict[str, Any] = {}
    if picture is not None:
        kept = {**vars(picture), "sha256": hashlib.sha256(picture.content).hexdigest()}
        payload |= {"sha256": kept["sha256"], "size_bytes": len(picture.content)}
    offset_min = utc_offset_min(at_ms / 1000) if new.utc_offset_min is None else new.utc_offset_min
    values = {
        "kind": new.kind,
        "who": new.who,
        "why": new.why,
        "batch_id": batch_id,
        "at_unix_ms": at_ms,
        "utc_offset_min": offset_min,
        "payload": payload,
    }
    entry_id = _insert(connection, tables.entries, values)
    if kept:
        _insert(connection, tables.pictures, {**kept, "entry_id": entry_id})
    if batch_id is not None:
        keys = search_words.of_entry(new.kind, new.who, new.why, payload)
        if new.kind == "lot":
            lot = lot_of(payload)
            _insert_lots(connection, batch_id, [lot], entry_id)
            keys |= search_words.of_lot(vars(lot))
        search_words.add(connection, batch_id, keys)
    hash_chain.seal(connection, "entry", entry_id, code)
    return entry_id


def read_batch(connection: Connection, batch_id: int) -> Batch:
    """The batch with everything but its curve's bytes.

    Raises RecordError when its curve is missing.
    """
    batch = read_batches(connection, [batch_id])[batch_id]
    if batch.curve == LOST:
        raise RecordError(
            f"Batch {batch.code} has lost its curve; restore a backup of the notebook."
        )
    return batch


def read_batches(connection: Connection, ids: Sequence[int]) -> dict[int, Batch]:
    """These batches with everything but their curves' bytes; LOST where the curve is missing."""
    its = tables.batches
    curves = _belonging(connection, tables.curves, FiledCurve, ids)
    marks = _belonging(connection, tables.marks, Mark, ids)
    alarms = _belonging(connection, tables.alarms, Alarm, ids)
    lots = read_lots(connection, ids)
    found = {}
    for head in connection.execute(select(its).where(its.c.id.in_(ids))).all():
        values = dict(head._mapping)
        code = code_of(values.pop("day"), values.pop("day_number"))
        values |= {
            "profile": bytes(head.profile),
            "allergens": None if head.allergens is None else tuple(head.allergens),
            "calibration": None if head.calibration is None else bytes(head.calibration),
        }
        found[head.id] = Batch(
            **values,
            code=code,
            curve=(curves.get(head.id) or [LOST])[0],
            marks=tuple(marks.get(head.id, ())),
            alarms=tuple(alarms.get(head.id, ())),
            lots=lots[head.id],
        )
    return found


def read_lots(connection: Connection, ids: Ids) -> defaultdict[int, tuple[Lot, ...]]:
    """The lots that were filed with these batches, without those that entries added."""
    lots = tables.lots
    query = select(lots).where(lots.c.batch_id.in_(ids)).order_by(lots.c.id)
    found: defaultdict[int, tuple[Lot, ...]] = defaultdict(tuple)
    for row in connection.execute(query).all():
        # asked for in the query, SQLite would go through all that were filed with a batch
        if row.entry_id is None:
            groups = read_groups(row.allergens)
            found[row.batch_id] += (
                Lot(row.ingredient, row.lot, row.supplier, row.mass_mg, groups, row.best_before),
            )
    return found


def read_entries(connection: Connection, ids: Ids, kinds: Collection[str] = ()) -> list[Entry]:
    """All entries of these batches, or those of these kinds, in the order of filing."""
    its = tables.entries.c
    condition = its.batch_id.in_(ids)
    return entries_where(connection, condition & its.kind.in_(kinds) if kinds else condition)


def entries_where(connection: Connection, condition: ColumnElement[bool]) -> list[Entry]:
    """The entries for which this holds, in the order of filing."""
    its, seals, batches = tables.entries, tables.seals, tables.batches
    query = (
        select(
            its,
            seals.c.number,
            seals.c.hash,
            seals.c.filed_by,
            batches.c.day,
            batches.c.day_number,
        )
        .select_from(its)
        .outerjoin(seals, (seals.c.kind == "entry") & (seals.c.item_id == its.c.id))
        .outerjoin(batches, batches.c.id == its.c.batch_id)
        .where(condition)
        .order_by(its.c.id)
    )
    found = []
    for row in connection.execute(query).all():
        values = dict(row._mapping)
        day, number = values.pop("day"), values.pop("day_number")
        # an entry without its seal is one for Notebook.check
        values |= {"number": row.number or 0, "hash": row.hash or ""}
        found.append(Entry(**values, code=None if day is None else code_of(day, number)))
    return found


def logins_of(connection: Connection, ids: Ids) -> dict[int, str]:
    """Whose login filed each of these batches, by its seal; without those of which none is
    sealed."""
    its = tables.seals.c
    sealed = (its.kind == "batch") & its.item_id.in_(ids) & its.filed_by.is_not(None)
    query = select(its.item_id, its.filed_by).where(sealed)
    return {row.item_id: row.filed_by for row in connection.execute(query)}


def read_calibrations(connection: Connection, board_id: int) -> list[Calibration]:
    """All of a board's calibrations, oldest first."""
    found = _records(
        connection, tables.calibrations, Calibration, tables.calibrations.c.board_id == board_id
    )
    return [dataclasses.replace(one, raw=bytes(one.raw)) for one in found]


def line(row: Row[Any], mistakes: Collection[int] = ()) -> BatchRow:
    """One line of the list of batches; `mistakes` are the ids of those that are none."""
    values = {column.name: row._mapping[column.name] for column in LINE_COLUMNS}
    code = code_of(values.pop("day"), values.pop("day_number"))
    return BatchRow(**values, code=code, mistake=row.id in mistakes)


def code_of_id(connection: Connection, batch_id: int) -> str:
    """The code of the batch with this id."""
    batches = tables.batches.c
    query = select(batches.day, batches.day_number).where(batches.id == batch_id)
    return code_of(*connection.execute(query).one())


def _insert(connection: Connection, table: Table, values: dict[str, Any]) -> int:
    """Write one row; its id."""
    key: Any = connection.execute(insert(table).values(**values)).inserted_primary_key
    return int(key.id)


def _insert_lots(
    connection: Connection, batch_id: int, lots: Iterable[Lot], entry_id: int | None = None
) -> None:
    """Write lots of a batch; `entry_id` is the entry that adds them, if one does."""
    for lot in lots:
        values = {"batch_id": batch_id, "entry_id": entry_id}
        groups = stored_groups(lot.allergens)
        _insert(connection, tables.lots, {**vars(lot), **values, "allergens": groups})


def _belonging(
    connection: Connection, table: Table, kind: type[_Record], ids: Sequence[int]
) -> dict[int, list[_Record]]:
    """Rows of `table`, which has a column for every field of `kind`, by their batch, in order."""
    found: defaultdict[int, list[_Record]] = defaultdict(list)
    query = _in_order(table, kind).add_columns(table.c.batch_id.label("of"))
    names = [field.name for field in dataclasses.fields(kind)]
    # .all(): row by row each would be asked for by itself
    for *values, batch_id in connection.execute(query.where(table.c.batch_id.in_(ids))).all():
        found[batch_id].append(kind(**dict(zip(names, values, strict=True))))
    return found


def _records(
    connection: Connection, table: Table, kind: type[_Record], condition: ColumnElement[bool]
) -> list[_Record]:
    query = _in_order(table, kind).where(condition)
    return [kind(**row._mapping) for row in connection.execute(query)]


def _in_order(table: Table, kind: type[_Record]) -> Select[Any]:
    columns = [table.c[field.name] for field in dataclasses.fields(kind)]
    order = table.c.offset_ms if "offset_ms" in table.c else table.c.id
    return select(*columns).order_by(order, table.c.id)


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
