"""What batches hold, what was worked at each bench, and when it was cleaned, from the rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, select

from snapcurve.notebook import rows, tables
from snapcurve.notebook.allergens import Allergens, of_batch
from snapcurve.notebook.cleaning import Cleaned, Worked
from snapcurve.notebook.codes import code_of
from snapcurve.notebook.queries import mistakes
from snapcurve.notebook.records import Entry

# What was left at a bench longer ago than this is not looked for: a list of batches must not
# read the whole notebook, and a bench in use is cleaned more often.
LOOK_BACK_MS = 31 * 86_400_000
EVER = (-(1 << 62), 1 << 62)
_AT_ONCE = 500  # a database limits how many values a question may name


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
    batches, entries = tables.batches.c, tables.entries.c
    started = batches.started_unix_ms
    within = started.between(*span), ~batches.rehearsal
    ids = select(batches.id).where(*within)
    changes = _changes(connection, ids)
    holds = _allergens(connection, ids, changes)
    query = select(batches.id, batches.day, batches.day_number, started, batches.place)
    worked, places, mistaken = [], {}, mistakes(connection)
    for row in connection.execute(query.where(*within).order_by(started, batches.id)).all():
        place = row.place
        for entry in changes.get(row.id, ()):
            if entry.kind == "amendment" and entry.payload["field"] == "place":
                place = entry.payload["value"]
        code = code_of(row.day, row.day_number)
        if row.id not in mistaken:
            worked.append(Worked(code, place, row.started_unix_ms, holds[row.id]))
        places[row.id] = place
    of_the_span = (entries.kind == "cleaning") & entries.at_unix_ms.between(*span)
    cleaned = [
        Cleaned(entry.payload.get("place") or places.get(entry.batch_id or 0), entry.at_unix_ms)
        for entry in rows.entries_where(connection, of_the_span)
    ]
    return worked, cleaned


def _changes(connection: Connection, ids: rows.Ids) -> dict[int, list[Entry]]:
    """The amendments and added lots of these batches, each batch's in the order of filing."""
    found: dict[int, list[Entry]] = {}
    for entry in rows.read_entries(connection, ids, ["amendment", "lot"]):
        found.setdefault(entry.batch_id or 0, []).append(entry)
    return found


def _allergens(
    connection: Connection, ids: rows.Ids, changes: dict[int, list[Entry]]
) -> dict[int, Allergens]:
    batches = tables.batches.c
    query = select(batches.id, batches.allergens).where(batches.id.in_(ids))
    lots = rows.read_lots(connection, ids)
    return {
        row.id: of_batch(
            None if row.allergens is None else tuple(row.allergens),
            lots[row.id],
            changes.get(row.id, ()),
        )
        for row in connection.execute(query)
    }
