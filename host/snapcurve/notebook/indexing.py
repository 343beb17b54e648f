"""Keeping the search words (`words`) of batches beside their rows."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import DBAPIError

from snapcurve.notebook import sealing, tables, words


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
    add(connection, batch_id, keys_of(connection, [batch_id])[batch_id])


def add_all(connection: Connection) -> None:
    """For a notebook from before there were search words."""
    for batch_id in connection.execute(select(tables.batches.c.id)).scalars().all():
        add_batch(connection, batch_id)


def keys_of(connection: Connection, ids: Sequence[int]) -> dict[int, words.Keys]:
    """All keys that follow from what is stored of these batches."""
    keys: dict[int, words.Keys] = {}
    batches, curves = tables.batches, tables.curves.c
    query = select(curves.batch_id, curves.board_name).where(curves.batch_id.in_(ids))
    boards = dict(tuple(row) for row in connection.execute(query))
    for head in connection.execute(select(batches).where(batches.c.id.in_(ids))):
        keys[head.id] = words.of_batch(dict(head._mapping), boards.get(head.id, ""))
    for lot in _of(connection, tables.lots, ids):
        keys[lot["batch_id"]] |= words.of_lot(lot)
    for entry in _of(connection, tables.entries, ids):
        keys[entry["batch_id"]] |= words.of_entry(
            entry["kind"], entry["who"], entry["why"], json.loads(entry["payload"])
        )
    return keys


def wrong(connection: Connection, ids: Sequence[int]) -> set[int]:
    """Those of these batches whose stored keys are others than their rows give."""
    its = tables.batches.c
    query = select(its.id, tables.newest_first).where(its.id.in_(ids))
    stored = sealing.raw_query(
        "words", "batch_id field word newest_unix_ms", "WHERE batch_id IN :ids"
    )
    try:
        moments = dict(tuple(row) for row in connection.execute(query))
        wanted = {
            (one, field, word, moments[one])
            for one, keys in keys_of(connection, ids).items()
            for field, word in keys
        }
        found = {tuple(row) for row in connection.execute(stored, {"ids": list(ids)})}
    except (DBAPIError, ValueError, TypeError, KeyError, AttributeError):
        if len(ids) == 1:
            return set(ids)
        # one of them cannot be read: which?
        return {one for each in ids for one in wrong(connection, [each])}
    return {row[0] for row in wanted ^ found}


def _of(connection: Connection, of: Any, ids: Sequence[int]) -> list[Any]:
    query = select(of).where(of.c.batch_id.in_(ids)).order_by(of.c.id)
    return [row._mapping for row in connection.execute(query)]
