"""Between the entries of `records` and their rows, inside a transaction."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, select

from snapcurve.notebook import allergens, entries, indexing, rows, sealing, tables, words
from snapcurve.notebook.canonical import to_json
from snapcurve.notebook.codes import code_of
from snapcurve.notebook.records import Entry, NewEntry


def insert_entry(connection: Connection, batch_id: int | None, new: NewEntry) -> int:
    """Write a checked entry with what follows from it, and seal it; its id.

    Raises SnapcurveError for an entry that says nothing.
    """
    payload = entries.checked(new, batch_id is not None)
    now_ms = time.time_ns() // 1_000_000
    at_ms = now_ms if new.at_unix_ms is None else new.at_unix_ms
    name = ""
    if batch_id is not None:
        batch = rows.read_batch(connection, batch_id)
        name = batch.code
        if new.kind == "amendment":
            before = entries.amended(batch, read_entries(connection, batch_id))
            was = getattr(before.now, payload["field"])
            if payload["field"] == "allergens":
                whole = allergens.of(before)
                allergens.refuse_silent(whole, payload)
                was = whole.groups
            payload["was"] = list(was) if isinstance(was, tuple) else was
    entry_id = rows.new_id(
        connection,
        tables.entries,
        {
            "batch_id": batch_id,
            "kind": new.kind,
            "who": new.who,
            "why": new.why,
            "at_unix_ms": at_ms,
            "utc_offset_min": _offset_min(at_ms)
            if new.utc_offset_min is None
            else new.utc_offset_min,
            "payload": to_json(payload),
        },
    )
    if batch_id is not None:
        keys = words.of_entry(new.kind, new.who, new.why, payload)
        if new.kind == "lot":
            lot = entries.lot_of(payload)
            rows.insert_lots(connection, batch_id, [lot], entry_id)
            keys |= words.of_lot(vars(lot))
        indexing.add(connection, batch_id, keys)
    sealing.seal(connection, "entry", entry_id, name)
    return entry_id


def read_entries(connection: Connection, batch_id: int) -> list[Entry]:
    """All entries of one batch, in the order of filing."""
    return _read(connection, tables.entries.c.batch_id == batch_id)


def read_entry(connection: Connection, entry_id: int) -> Entry:
    """One entry."""
    return _read(connection, tables.entries.c.id == entry_id)[0]


def read_bench(connection: Connection) -> list[Entry]:
    """The entries that belong to no batch, in the order of filing."""
    return _read(connection, tables.entries.c.batch_id.is_(None))


def read_kind(
    connection: Connection, kind: str, span: tuple[int, int] | None = None
) -> list[Entry]:
    """Every entry of one kind, of batches and of the bench, in the order of filing.

    Only those made in `span` (unix ms), if it is given.
    """
    its = tables.entries.c
    condition = its.kind == kind
    if span is not None:
        condition &= its.at_unix_ms.between(*span)
    return _read(connection, condition)


def read_all(connection: Connection, ids: Sequence[int] | Select[Any]) -> list[Entry]:
    """All entries of these batches, in the order of filing."""
    return _read(connection, tables.entries.c.batch_id.in_(ids))


def read_lot_entries(connection: Connection, ids: Sequence[int]) -> list[tuple[int, Entry]]:
    """The entries that added lots to these batches, each with its batch's id."""
    its = tables.entries.c
    found = _read(connection, its.batch_id.in_(ids) & (its.kind == "lot"))
    return [(entry.batch_id, entry) for entry in found if entry.batch_id is not None]


def _read(connection: Connection, condition: ColumnElement[bool]) -> list[Entry]:
    its, seals, batches = tables.entries, tables.seals, tables.batches
    query = (
        select(its, seals.c.number, seals.c.hash, batches.c.day, batches.c.day_number)
        .select_from(
            its.outerjoin(
                seals, (seals.c.kind == "entry") & (seals.c.item_id == its.c.id)
            ).outerjoin(batches, batches.c.id == its.c.batch_id)
        )
        .where(condition)
        .order_by(its.c.id)
    )
    return [_entry(row) for row in connection.execute(query)]


def _entry(row: Any) -> Entry:
    return Entry(
        id=row.id,
        batch_id=row.batch_id,
        code=None if row.day is None else code_of(row.day, row.day_number),
        kind=row.kind,
        who=row.who,
        why=row.why,
        at_unix_ms=row.at_unix_ms,
        utc_offset_min=row.utc_offset_min,
        payload=json.loads(row.payload),
        # an entry without its seal is one for Notebook.check
        number=row.number or 0,
        hash=row.hash or "",
    )


def _offset_min(unix_ms: int) -> int:
    """What local clocks are ahead of UTC."""
    return round(time.localtime(unix_ms / 1000).tm_gmtoff / 60)
