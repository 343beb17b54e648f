"""Keeping the search words (`words`) of batches beside their rows."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, column, insert, select, table
from sqlalchemy.exc import DBAPIError

from . import sealing, tables, words


def add(connection: Connection, batch_id: int, keys: words.Keys) -> None:
    """Have the batch found by these keys too."""
    its = tables.words.c
    known = connection.execute(select(its.field, its.word).where(its.batch_id == batch_id))
    new = keys - {(row.field, row.word) for row in known}
    if not new:
        return
    moment = connection.scalar(select(tables.newest_first).where(tables.batches.c.id == batch_id))
    connection.execute(
        insert(tables.words),
        [
            {"field": field, "word": word, "newest_unix_ms": moment, "batch_id": batch_id}
            for field, word in sorted(new)
        ],
    )


def add_batch(connection: Connection, batch_id: int) -> None:
    """Have a batch found by everything that is in its rows."""
    add(connection, batch_id, keys_of(connection, batch_id))


def add_all(connection: Connection) -> None:
    """For a notebook from before there were search words."""
    for batch_id in connection.execute(select(tables.batches.c.id)).scalars().all():
        add_batch(connection, batch_id)


def keys_of(connection: Connection, batch_id: int) -> words.Keys:
    """All keys that follow from what is stored of the batch."""
    head = connection.execute(select(tables.batches).where(tables.batches.c.id == batch_id)).one()
    curves = tables.curves.c
    names = connection.execute(select(curves.board_name).where(curves.batch_id == batch_id))
    keys: words.Keys = words.of_batch(dict(head._mapping), names.scalar() or "")
    for lot in _of(connection, tables.lots, batch_id):
        keys |= words.of_lot(lot)
    for entry in _of(connection, tables.entries, batch_id):
        keys |= words.of_entry(
            entry["kind"], entry["who"], entry["why"], json.loads(entry["payload"])
        )
    return keys


def is_wrong(connection: Connection, batch_id: int) -> bool:
    """Whether the stored keys of a batch are others than its rows give."""
    try:
        moment = connection.scalar(
            select(tables.newest_first).where(tables.batches.c.id == batch_id)
        )
        wanted = {(field, word, moment) for field, word in keys_of(connection, batch_id)}
        stored = connection.execute(
            select(*sealing.raw_columns("field word newest_unix_ms"))
            .select_from(table("words"))
            .where(column("batch_id") == batch_id)
        )
        return {tuple(row) for row in stored} != wanted
    except (DBAPIError, ValueError, TypeError, KeyError, AttributeError):
        return True


def _of(connection: Connection, of: Any, batch_id: int) -> list[Any]:
    query = select(of).where(of.c.batch_id == batch_id).order_by(of.c.id)
    return [row._mapping for row in connection.execute(query)]
