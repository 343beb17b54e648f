"""What batches hold, what was worked at each bench, and when it was cleaned, from the rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from sqlalchemy import Connection, select, tuple_

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import rows, tables
from snapcurve.notebook.allergens import Allergens, of_batch
from snapcurve.notebook.cleaning import Cleaned, Worked
from snapcurve.notebook.codes import code_of, parts_of
from snapcurve.notebook.entries import lots_after
from snapcurve.notebook.queries import mistakes
from snapcurve.notebook.records import Entry, Leftover, Lot

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


def leftovers_of(connection: Connection, batch_id: int) -> tuple[Leftover, ...]:
    """What went into a batch from earlier ones, and what those held."""
    return _leftovers(connection, [batch_id]).get(batch_id, ())


def with_allergens(connection: Connection, lots: Sequence[Lot]) -> tuple[Lot, ...]:
    """Lots as they are, but those that are leftovers with what their batch holds."""
    named = _batches_named(connection, lots)
    holds = allergens_of_ids(connection, list(set(named.values()))) if named else {}
    return tuple(
        replace(lot, allergens=holds[named[lot.lot]].groups) if lot.lot in named else lot
        for lot in lots
    )


def refuse_circle(connection: Connection, batch_id: int, lot: Lot) -> None:
    """SnapcurveError for a leftover that holds this batch itself, or whose allergens are typed."""
    earlier = _batches_named(connection, [lot])
    if not earlier:
        return
    if lot.allergens is not None:
        raise SnapcurveError(
            f"{lot.lot} is a batch of this notebook, and a leftover of it has its allergens: leave"
            " --allergens out."
        )
    seen, ids = set(earlier.values()), list(earlier.values())
    while ids:
        if batch_id in seen:
            raise SnapcurveError(
                f"Batch {lot.lot} holds this very batch, so no leftover of it can have gone in:"
                " check the code."
            )
        lots = [lot for one in _lots_now(connection, ids).values() for lot in one]
        ids = [one for one in _batches_named(connection, lots).values() if one not in seen]
        seen.update(ids)


def _lots_now(connection: Connection, ids: rows.Ids) -> dict[int, tuple[Lot, ...]]:
    lots = dict(rows.read_lots(connection, ids))
    for entry in rows.read_entries(connection, ids, ["lot"]):
        key = entry.batch_id or 0
        lots[key] = lots_after(lots.get(key, ()), entry)[0]
    return lots


def _batches_named(connection: Connection, lots: Iterable[Lot]) -> dict[str, int]:
    """Of lots whose number is the code of a batch: that, and its id."""
    batches = tables.batches.c
    codes: dict[tuple[str, int], set[str]] = {}  # one batch may be written in two ways
    for lot in lots:
        if (key := parts_of(lot.lot)) is not None:
            codes.setdefault(key, set()).add(lot.lot)
    found: dict[str, int] = {}
    keys = list(codes)
    for begin in range(0, len(keys), _AT_ONCE // 2):
        some = tuple_(batches.day, batches.day_number).in_(keys[begin : begin + _AT_ONCE // 2])
        for row in connection.execute(
            select(batches.id, batches.day, batches.day_number).where(some)
        ):
            found |= dict.fromkeys(codes[row.day, row.day_number], int(row.id))
    return found


def _leftovers(connection: Connection, ids: Sequence[int]) -> dict[int, tuple[Leftover, ...]]:
    lots = _lots_now(connection, ids)
    named = _batches_named(connection, (lot for some in lots.values() for lot in some))
    holds = allergens_of_ids(connection, list(set(named.values()))) if named else {}
    return {
        key: tuple(
            Leftover(lot.lot, holds[named[lot.lot]].named, holds[named[lot.lot]].not_known)
            for lot in some
            if lot.lot in named
        )
        for key, some in lots.items()
    }


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
        # One that another bench files at this moment may be missing from what was read before.
        if row.id not in mistaken and row.id in holds:
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
    lots, found = rows.read_lots(connection, ids), connection.execute(query).all()
    leftovers = _leftovers(connection, [row.id for row in found])
    return {
        row.id: of_batch(
            None if row.allergens is None else tuple(row.allergens),
            lots[row.id],
            changes.get(row.id, ()),
            leftovers.get(row.id, ()),
        )
        for row in found
    }
