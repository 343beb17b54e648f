"""What was worked at each bench, and when it was cleaned, from the rows."""

from __future__ import annotations

import json
from collections.abc import Iterable

from sqlalchemy import Connection, select

from . import entry_rows, rows, tables
from .cleaning import Cleaned, Worked
from .codes import code_of
from .entries import amended

# What was left at a bench longer ago than this is not looked for: a list of batches must not
# read the whole notebook, and a bench in use is cleaned more often.
LOOK_BACK_MS = 31 * 86_400_000
EVER = (-(1 << 62), 1 << 62)


def span_of(started_unix_ms: Iterable[int | None]) -> tuple[int, int] | None:
    """What must be read for batches that began then; None if no moment is known."""
    known = [moment for moment in started_unix_ms if moment is not None]
    return (min(known) - LOOK_BACK_MS, max(known)) if known else None


def worked_and_cleaned(
    connection: Connection, span: tuple[int, int] = EVER
) -> tuple[list[Worked], list[Cleaned]]:
    """Every batch of known time that is no rehearsal, and every cleaning, within `span`.

    A batch holds the allergens of its couverture and of its lots. A cleaning that is noted
    on a batch is one of that batch's place, unless it names another.
    """
    batches = tables.batches.c
    started = batches.started_unix_ms
    query = select(batches.id, batches.day, batches.day_number, started, batches.place)
    query = query.add_columns(batches.allergens).where(started.between(*span), ~batches.rehearsal)
    ids = select(batches.id).where(started.between(*span), ~batches.rehearsal)
    changed = {
        entry.batch_id
        for kind in ("amendment", "lot")
        for entry in entry_rows.read_kind(connection, kind, of=ids)
    }
    lots: dict[int, set[str]] = {}
    its = tables.lots.c
    for lot in connection.execute(
        select(its.batch_id, its.allergens).where(its.batch_id.in_(ids))
    ):
        lots.setdefault(lot.batch_id, set()).update(json.loads(lot.allergens))
    worked, places = [], {}
    for row in connection.execute(query.order_by(started, batches.id)).all():
        place = row.place
        holds = None if row.allergens is None else {*json.loads(row.allergens)}
        if row.id in changed:
            entries = entry_rows.read_entries(connection, row.id)
            now = amended(rows.read_batch(connection, row.id), entries).now
            place = now.place
            holds = None if now.allergens is None else {*now.allergens}
        groups = None if holds is None else frozenset(holds | lots.get(row.id, set()))
        code = code_of(row.day, row.day_number)
        worked.append(Worked(code, place, row.started_unix_ms, groups))
        places[row.id] = place
    cleaned = [
        Cleaned(entry.payload.get("place") or places.get(entry.batch_id or 0), entry.at_unix_ms)
        for entry in entry_rows.read_kind(connection, "cleaning", span)
    ]
    return worked, cleaned
