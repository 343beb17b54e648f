"""Which batches are none: amendments say that they were started by mistake."""

from __future__ import annotations

from collections.abc import Set

from sqlalchemy import Connection, select

from snapcurve.notebook import entry_rows, tables


def mistakes(connection: Connection) -> Set[int]:
    """The ids of all batches that, as they stand now, were started by mistake."""
    yes, no = (_said(connection, word) for word in ("yes", "no"))
    # The search words do not say which amendment came last, and hardly any batch has both.
    return (yes - no) | {one for one in yes & no if _newest(connection, one)}


def _said(connection: Connection, word: str) -> Set[int]:
    its = tables.words.c
    query = select(its.batch_id).where(its.field == "mistake", its.word == word)
    return set(connection.execute(query).scalars())


def _newest(connection: Connection, batch_id: int) -> bool:
    said = [
        entry.payload["value"]
        for entry in entry_rows.read_entries(connection, batch_id)
        if entry.kind == "amendment" and entry.payload["field"] == "mistake"
    ]
    return bool(said and said[-1])
