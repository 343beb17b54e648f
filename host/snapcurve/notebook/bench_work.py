"""What batches hold, what was worked at each bench, and when it was cleaned, from the rows."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from sqlalchemy import Connection, select

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import leftovers, rows, tables
from snapcurve.notebook.allergens import Allergens, Source, of_batch
from snapcurve.notebook.cleaning import Cleaned, Worked
from snapcurve.notebook.codes import code_of
from snapcurve.notebook.entries import lots_after
from snapcurve.notebook.queries import mistakes
from snapcurve.notebook.records import Entry, Leftover, Lot
from snapcurve.notebook.wholes import Wholes

# What was left at a bench longer ago than this is not looked for: a list of batches must not
# read the whole notebook, and a bench in use is cleaned more often.
LOOK_BACK_MS = 31 * 86_400_000
EVER = (-(1 << 62), 1 << 62)
_AT_ONCE = 500  # a database limits how many values a question may name


def span_of(started_unix_ms: Iterable[int | None]) -> tuple[int, int] | None:
    """What must be read for batches that began then; None if no moment is known."""
    known = [moment for moment in started_unix_ms if moment is not None]
    return (min(known) - LOOK_BACK_MS, max(known)) if known else None


@dataclass(frozen=True)
class _Record:
    """What bears on the allergens of one record: its couverture's, its lots as filed and as they
    are now, and the amendments and lots that were added."""

    own: tuple[str, ...] | None
    filed: tuple[Lot, ...]
    now: tuple[Lot, ...]
    changes: tuple[Entry, ...]


class Holds:
    """What records hold, and all that went into them: read at once, worked out on demand."""

    def __init__(self, connection: Connection, ids: Collection[int]):
        wholes = Wholes(connection)
        every = sorted(leftovers.earlier(connection, ids, wholes))
        self._parts = wholes.cut(every)
        self._records: dict[int, _Record] = {}
        for begin in range(0, len(every), _AT_ONCE):
            self._records |= _records(connection, every[begin : begin + _AT_ONCE])
        lots = {lot.lot for one in self._records.values() for lot in one.now}
        self._named = leftovers.batches_named(connection, lots)
        self._known: dict[int, Allergens] = {}

    def of(self, batch_id: int) -> Allergens:
        """Of a record that is a part of a batch, what the whole batch holds.

        Worked out without recursion, for leftover may have gone on for years. What leads back
        to itself is not known: a batch that was filed later may close a circle.
        """
        waiting, begun = [self._first(batch_id)], set[int]()
        while waiting:
            key = waiting[-1]
            missing = [] if key in begun else self._earlier(key) - self._known.keys() - begun
            begun.add(key)
            waiting += missing
            if not missing:
                self._known.setdefault(waiting.pop(), self._worked_out(key))
        return self._known[self._first(batch_id)]

    def leftovers(self, batch_id: int) -> tuple[Leftover, ...]:
        """What went into a batch from earlier ones, and what those held."""
        lots = [lot.lot for one in self._of(batch_id) for lot in one.now if lot.lot in self._named]
        for lot in lots:
            self.of(self._named[lot])
        return self._leftovers(lots)

    def with_allergens(self, lot: Lot) -> Lot:
        """As it is, but a leftover with what its batch holds; a lot of one of these records."""
        if lot.lot not in self._named:
            return lot
        return replace(lot, allergens=self.of(self._named[lot.lot]).groups)

    def _leftovers(self, lots: Iterable[str]) -> tuple[Leftover, ...]:
        found = []
        for lot in dict.fromkeys(lots):
            holds = self._known.get(self._first(self._named[lot]), _A_CIRCLE)
            found.append(Leftover(lot, holds.named, holds.not_known_in(lot)))
        return tuple(found)

    def _worked_out(self, key: int) -> Allergens:
        """As `analysis.filed_batch` joins the records of a batch: the couverture of the first,
        the lots and entries of all."""
        its = self._of(key)
        return of_batch(
            its[0].own,
            tuple(dict.fromkeys(lot for one in its for lot in one.filed)),
            sorted((entry for one in its for entry in one.changes), key=lambda entry: entry.id),
            self._leftovers(lot.lot for one in its for lot in one.now if lot.lot in self._named),
        )

    def _earlier(self, key: int) -> set[int]:
        lots = (lot.lot for one in self._of(key) for lot in one.now)
        return {self._first(self._named[lot]) for lot in lots if lot in self._named}

    def _first(self, key: int) -> int:
        return self._parts.get(key, (key,))[0]

    def _of(self, key: int) -> list[_Record]:
        return [self._records[one] for one in self._parts.get(key, (key,))]


_A_CIRCLE = Allergens((Source("itself", None),))


def allergens_of_ids(connection: Connection, ids: Collection[int]) -> dict[int, Allergens]:
    """What each of these batches holds, as it stands with its entries; of a record that is a
    part of one, what the whole batch holds."""
    holds = Holds(connection, ids)
    return {one: holds.of(one) for one in ids}


def refuse_circle(connection: Connection, batch_id: int, lot: Lot) -> None:
    """SnapcurveError for a leftover that holds this batch itself, or whose allergens are typed."""
    named = leftovers.batches_named(connection, [lot.lot])
    if not named:
        return
    if lot.allergens is not None:
        raise SnapcurveError(
            f"{lot.lot} is a batch of this notebook, and a leftover of it has its allergens: leave"
            " --allergens out."
        )
    if batch_id in leftovers.earlier(connection, named.values(), Wholes(connection)):
        raise SnapcurveError(
            f"Batch {lot.lot} holds this very batch, so no leftover of it can have gone in:"
            " check the code."
        )


def _records(connection: Connection, ids: rows.Ids) -> dict[int, _Record]:
    its = tables.batches.c
    found = connection.execute(select(its.id, its.allergens).where(its.id.in_(ids))).all()
    filed, changes = rows.read_lots(connection, ids), _changes(connection, ids)
    records = {}
    for row in found:
        own = None if row.allergens is None else tuple(row.allergens)
        now, its_changes = filed[row.id], tuple(changes.get(row.id, ()))
        for entry in its_changes:
            if entry.kind == "lot":
                now, _ = lots_after(now, entry)
        records[row.id] = _Record(own, filed[row.id], now, its_changes)
    return records


def worked_and_cleaned(
    connection: Connection, span: tuple[int, int] = EVER
) -> tuple[list[Worked], list[Cleaned]]:
    """Every batch of known time that is no rehearsal, and every cleaning, within `span`.

    A batch in several records is worked once, when the first of them begins. What was started by
    mistake left nothing at the bench. A cleaning that is noted on a batch is one of that batch's
    place, unless it names another.
    """
    batches, entries = tables.batches.c, tables.entries.c
    started = batches.started_unix_ms
    within = started.between(*span), ~batches.rehearsal
    query = select(batches.id, batches.day, batches.day_number, started, batches.place)
    found = connection.execute(query.where(*within).order_by(started, batches.id)).all()
    changes = _changes(connection, select(batches.id).where(*within))
    ids = [row.id for row in found]
    parts, holds = Wholes(connection).cut(ids), allergens_of_ids(connection, ids)
    worked, places, mistaken = [], {}, mistakes(connection)
    told: set[int] = set()
    for row in found:
        place = row.place
        for entry in changes.get(row.id, ()):
            if entry.kind == "amendment" and entry.payload["field"] == "place":
                place = entry.payload["value"]
        places[row.id] = place
        # One that another bench files at this moment may be missing from what was read before.
        if row.id in mistaken or row.id in told or row.id not in holds:
            continue
        told.update(parts.get(row.id, ()))
        code = code_of(row.day, row.day_number)
        worked.append(Worked(code, place, row.started_unix_ms, holds[row.id]))
    of_the_span = (entries.kind == "cleaning") & entries.at_unix_ms.between(*span)
    cleaned = [
        Cleaned(entry.payload.get("place") or places.get(entry.batch_id or 0), entry.at_unix_ms)
        for entry in rows.entries_where(connection, of_the_span)
        if entry.payload.get("verified") != "swab positive"
    ]
    return worked, cleaned


def _changes(connection: Connection, ids: rows.Ids) -> dict[int, list[Entry]]:
    """The amendments and added lots of these batches, each batch's in the order of filing."""
    found: dict[int, list[Entry]] = {}
    for entry in rows.read_entries(connection, ids, ["amendment", "lot"]):
        found.setdefault(entry.batch_id or 0, []).append(entry)
    return found
