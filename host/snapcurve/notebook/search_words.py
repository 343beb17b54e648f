"""Search words: what a batch is found by, the same on every database.

Each word is a key of a field ("text" for all that a person may have written or read; the
others are whole names), with case, accents' form and spaces made alike. They follow from
the batch and its entries alone, so `Notebook.check` can work them out anew. Each database's own
text search would give other answers.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table, insert, select
from sqlalchemy.exc import DBAPIError

from snapcurve.notebook import hash_chain, tables

# Databases limit what an index entry holds; PostgreSQL's is about 2,700 bytes.
_LONGEST = 100
_BEGINNING = 60
# str.split() and this agree on letters and digits of every script, not on punctuation
_WORD = re.compile(r"\w+")

Keys = set[tuple[str, str]]


def key_of(text: str) -> str:
    """A whole name as a key: NFKC, case folded, spaces made one; long ones by their hash."""
    alike = " ".join(unicodedata.normalize("NFKC", text).casefold().split())
    if len(alike) <= _LONGEST:
        return alike
    return alike[:_BEGINNING] + "#" + hashlib.sha256(alike.encode()).hexdigest()[:32]


def words_of(text: str) -> list[str]:
    """The words of a text as keys."""
    return [key_of(word) for word in _WORD.findall(unicodedata.normalize("NFKC", text))]


def of_batch(head: Mapping[str, Any], board_name: str) -> Keys:
    """Keys of a batch's own row and of its board's name."""
    texts = (head[name] for name in ("couverture", "method", "operator", "notes", "place"))
    return (
        _whole("operator", head["operator"])
        | _words("couverture", head["couverture"])
        | _words("text", *texts, board_name)
    )


def of_lot(lot: Mapping[str, Any]) -> Keys:
    """Keys of one of its lots."""
    texts = (lot[name] for name in ("ingredient", "supplier", "lot"))
    return _whole("lot", lot["lot"]) | _words("text", *texts)


def of_entry(kind: str, who: str, why: str, payload: Mapping[str, Any]) -> Keys:
    """Keys of an entry on the batch."""
    keys = _words("text", who, why, *_texts(payload.values()))
    if kind == "outcome":
        what, value = payload["what"], payload["value"]
        return keys | {("outcome", value), ("outcome", f"{what}={value}")}
    if kind == "amendment":
        field, value = payload["field"], payload["value"]
        if field == "couverture":
            keys |= _words(field, value)
        elif field == "operator":
            keys |= _whole(field, value)
        elif field == "mistake":
            keys.add((field, "yes" if value else "no"))
    return keys


def add(connection: Connection, batch_id: int, keys: Keys) -> None:
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
    add(connection, batch_id, _keys_of(connection, [batch_id])[batch_id])


def wrong(connection: Connection, ids: Sequence[int]) -> set[int]:
    """Those of these batches whose stored keys are others than their rows give."""
    its = tables.batches.c
    query = select(its.id, tables.newest_first).where(its.id.in_(ids))
    stored = hash_chain.raw_query(
        "words", "batch_id field word newest_unix_ms", "WHERE batch_id IN :ids"
    )
    try:
        moments = dict(tuple(row) for row in connection.execute(query).all())
        expected = {
            (one, field, word, moments[one])
            for one, keys in _keys_of(connection, ids).items()
            for field, word in keys
        }
        found = {tuple(row) for row in connection.execute(stored, {"ids": list(ids)}).all()}
    except (DBAPIError, ValueError, TypeError, KeyError, AttributeError):
        if len(ids) == 1:
            return set(ids)
        # one of them cannot be read: which?
        return {one for each in ids for one in wrong(connection, [each])}
    return {row[0] for row in expected ^ found}


def _keys_of(connection: Connection, ids: Sequence[int]) -> dict[int, Keys]:
    """All keys that follow from what is stored of these batches."""
    keys: dict[int, Keys] = {}
    batches, curves = tables.batches, tables.curves.c
    query = select(curves.batch_id, curves.board_name).where(curves.batch_id.in_(ids))
    boards = dict(tuple(row) for row in connection.execute(query).all())
    for head in connection.execute(select(batches).where(batches.c.id.in_(ids))).all():
        keys[head.id] = of_batch(dict(head._mapping), boards.get(head.id, ""))
    for lot in _rows_of(connection, tables.lots, ids):
        keys[lot["batch_id"]] |= of_lot(lot)
    for entry in _rows_of(connection, tables.entries, ids):
        keys[entry["batch_id"]] |= of_entry(
            entry["kind"], entry["who"], entry["why"], entry["payload"]
        )
    return keys


def _rows_of(connection: Connection, table: Table, ids: Sequence[int]) -> list[Any]:
    query = select(table).where(table.c.batch_id.in_(ids)).order_by(table.c.id)
    return [row._mapping for row in connection.execute(query).all()]


def _whole(field: str, text: str | None) -> Keys:
    return {(field, key_of(text))} if text and text.strip() else set()


def _words(field: str, *texts: str | None) -> Keys:
    return {(field, word) for text in texts for word in words_of(text or "")}


def _texts(values: Iterable[Any]) -> Iterable[str]:
    for value in values:
        if isinstance(value, str):
            yield value
        elif isinstance(value, list | tuple):
            yield from _texts(value)
