"""What batches hold, what was worked at each bench, and when it was cleaned, from the rows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, Select, select

from snapcurve.notebook import entry_rows, rows, tables
from snapcurve.notebook.allergens import Allergens, of_batch
from snapcurve.notebook.cleaning import Cleaned, Worked
from snapcurve.notebook.codes import code_of
from snapcurve.notebook.mistakes import mistakes
from snapcurve.notebook.records import Entry

# What was left at a bench longer ago than this is not looked for: a list of batches must not
# read the whole notebook, and a bench in use is cleaned more often.
LOOK_BACK_MS = 31 * 86_400_000
EVER = (-(1 << 62), 1 << 62)
_AT_ONCE = 500  # a database limits how many values a question may name
_Ids = Sequence[int] | Select[Any]


def span_of(started_unix_ms: Iterable[int | None]) -> tuple[int, int] | None:
    """What must be read for batches that began then; None if no moment is known."""
    known = [moment for moment in started_unix_ms if moment is not None]
    return (min(known) - LOOK_BACK_MS, max(known)) if known else None


def allergens_of_ids(connection: Connection, ids: Sequence[int]) -> dict[int, Allergens]:
    """What each of these batches holds, as it stands with its entries."""
    found: dict[int, Allergens] = {}
    for begin in range(0, len(ids), _AT_ONCE):
        some = ids[begin : begin + _AT_ONCE]
        found |= _allergens(connection, some, _changes(connection, some))
    return found


def worked_and_cleaned(
    connection: Connection, span: tuple[int, int] = EVER
) -> tuple[list[Worked], list[Cleaned]]:
    """Every batch of known time that is no rehearsal, and every cleaning, within `span`.

    What was started by mistake left nothing at the bench. A cleaning that is noted on a batch is
    one of that batch's place, unless it names another.
    """
    batches = tables.batches.c
    started = batches.started_unix_ms
    within = started.between(*span), ~batches.rehearsal
    ids = select(batches.id).where(*within)
    changes = _changes(connection, ids)
    holds = _allergens(connection, ids, changes)
    query = select(batches.id, batches.day, batches.day_number, started, batches.place)
    worked, places, none = [], {}, mistakes(connection)
    for row in connection.execute(query.where(*within).order_by(started, batches.id)).all():
        place = row.place
        for entry in changes.get(row.id, ()):
            if entry.kind == "amendment" and entry.payload["field"] == "place":
                place = entry.payload["value"]
        code = code_of(row.day, row.day_number)
        if row.id not in none:
            worked.append(Worked(code, place, row.started_unix_ms, holds[row.id]))
        places[row.id] = place
    cleaned = [
        Cleaned(entry.payload.get("place") or places.get(entry.batch_id or 0), entry.at_unix_ms)
        for entry in entry_rows.read_kind(connection, "cleaning", span)
    ]
    return worked, cleaned


def _changes(connection: Connection, ids: _Ids) -> dict[int, list[Entry]]:
    """The amendments and added lots of these batches, each batch's in the order of filing."""
    found: dict[int, list[Entry]] = {}
    for entry in entry_rows.read_all(connection, ids):
        if entry.kind in ("amendment", "lot"):
            found.setdefault(entry.batch_id or 0, []).append(entry)
    return found


def _allergens(
    connection: Connection, ids: _Ids, changes: dict[int, list[Entry]]
) -> dict[int, Allergens]:
    batches = tables.batches.c
    query = select(batches.id, batches.allergens).where(batches.id.in_(ids))
    own = {row.id: row.allergens for row in connection.execute(query)}
    lots = rows.read_lots(connection, ids)
    return {
        one: of_batch(
            None if stored is None else tuple(json.loads(stored)),
            lots[one],
            changes.get(one, ()),
        )
        for one, stored in own.items()
    }
