"""Where a lot went and what went into a batch, both ways to the end."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from sqlalchemy import Connection, select

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import leftovers, queries, rows, search_words, tables
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.bench_work import Holds
from snapcurve.notebook.codes import parts_of
from snapcurve.notebook.entries import lots_after, made_of
from snapcurve.notebook.records import Entry, Lot, TracedBatch
from snapcurve.notebook.vocabulary import LEFTOVER
from snapcurve.notebook.wholes import Wholes

_LOOKED_AT = 20  # older leftover is no longer in the bowl
_AT_ONCE = 500  # a database limits how many values a question may name


@dataclass(frozen=True)
class Trace:
    """What a trace found, each list newest first.

    ``itself`` is the batch whose code was asked for, None for a lot. ``forward`` are the batches
    with it, themselves or through leftovers; ``backward`` those whose leftover is in ``itself``,
    to the very first. ``allergens`` by the id of the batch. ``left_out`` are the codes of
    rehearsals, and of what was started by mistake, that were not asked for.
    """

    asked: str
    itself: TracedBatch | None
    forward: tuple[TracedBatch, ...]
    backward: tuple[TracedBatch, ...]
    allergens: Mapping[int, Allergens]
    left_out: tuple[str, ...] = ()

    @property
    def batches(self) -> tuple[TracedBatch, ...]:
        """Each once."""
        return (*([self.itself] if self.itself else []), *self.forward, *self.backward)


def trace(connection: Connection, name: str, mistakes: bool, rehearsals: bool) -> Trace:
    """Of a lot, or of a batch by its code; SnapcurveError if the name is empty."""
    name = name.strip()
    if not name:
        raise SnapcurveError("The lot is empty; name it as it stands on the package.")
    holding = leftovers.with_lots(connection, [search_words.key_of(name)])
    own = set(leftovers.batches_named(connection, [name]).values())
    wholes = Wholes(connection)
    forward = leftovers.later(connection, own | holding.keys(), wholes)
    backward = leftovers.earlier(connection, own, wholes)
    found = _Found(connection, forward.keys() | backward.keys(), wholes)
    itself = {found.first(one) for one in own}
    through = found.through(forward)
    ahead = {found.first(one) for one in forward} - itself
    behind = {found.first(one) for one in backward} - itself
    kept, left_out = [], []
    for one in found.traced(through):
        row = one.batch
        asked = row.id in itself
        if asked or ((mistakes or not row.mistake) and (rehearsals or not row.rehearsal)):
            kept.append(one)
        else:
            left_out.append(row.code)
    return Trace(
        name,
        next((one for one in kept if one.batch.id in itself), None),
        tuple(one for one in kept if one.batch.id in ahead),
        tuple(replace(one, through=()) for one in kept if one.batch.id in behind),
        {one.batch.id: found.holds.of(one.batch.id) for one in kept},
        tuple(left_out),
    )


def newest_leftover(connection: Connection, couverture: str) -> tuple[str, int | None] | None:
    """As `Notebook.newest_leftover`; an entry that has been put right counts as it stands."""
    its, batches = tables.entries.c, tables.batches.c
    query = (
        select(its.batch_id)
        .join(tables.batches, batches.id == its.batch_id)
        .where(its.kind == "made", batches.couverture == couverture, ~batches.rehearsal)
        .order_by(its.batch_id.desc())
        .distinct()
        .limit(_LOOKED_AT)
    )
    ids = connection.execute(query).scalars().all()
    mistaken = queries.mistakes(connection)
    for row in queries.lines_of(connection, [one for one in ids if one not in mistaken], mistaken):
        found = trace(connection, row.code, False, False)
        one = found.itself
        if one is None:
            continue
        left = [made.mass_mg for made in one.made if made.name.casefold() == LEFTOVER]
        if not left:
            continue
        named = {parts_of(code) for code in one.records}
        taken = [
            lot.mass_mg
            for other in found.forward
            for lot in other.lots
            if parts_of(lot.lot) in named
        ]
        if None in left or None in taken:
            if not taken:
                return one.batch.code, None
            continue  # something went, and whether that was all is not known
        rest_mg = sum(mass or 0 for mass in left) - sum(mass or 0 for mass in taken)
        if rest_mg > 0:
            return one.batch.code, rest_mg
    return None


class _Found:
    """Everything that is shown of these records, their batches as wholes."""

    def __init__(self, connection: Connection, ids: Collection[int], wholes: Wholes):
        self._connection = connection
        self._parts = {one: (one,) for one in ids} | wholes.cut(ids)
        every = sorted({part for one in ids for part in self._parts[one]})
        self.holds = Holds(connection, every)
        self._codes: dict[int, str] = {}
        self._masses: dict[int, int | None] = {}
        self._lots: dict[int, tuple[Lot, ...]] = {}
        self._entries: defaultdict[int, list[Entry]] = defaultdict(list)
        its = tables.batches.c
        for begin in range(0, len(every), _AT_ONCE):
            some = every[begin : begin + _AT_ONCE]
            query = select(its.id, its.mass_mg).where(its.id.in_(some))
            self._masses |= {row.id: row.mass_mg for row in connection.execute(query)}
            self._lots |= rows.read_lots(connection, some)
            for entry in rows.read_entries(connection, some, ["lot", "made", "amendment"]):
                self._entries[entry.batch_id or 0].append(entry)

    def first(self, batch_id: int) -> int:
        return self._parts[batch_id][0]

    def through(self, forward: leftovers.Edges) -> Mapping[int, set[int]]:
        """By the first record of a batch those of the batches that it had leftover of."""
        found: defaultdict[int, set[int]] = defaultdict(set)
        for one, others in forward.items():
            for other in others:
                found[self.first(other)].add(self.first(one))
        return found

    def traced(self, through: Mapping[int, set[int]]) -> list[TracedBatch]:
        mistaken = queries.mistakes(self._connection)
        every = sorted({part for parts in self._parts.values() for part in parts})
        lines = {one.id: one for one in queries.lines_of(self._connection, every, mistaken)}
        firsts = {parts[0] for parts in self._parts.values()}
        found = []
        for batch_id, row in lines.items():
            if batch_id not in firsts:
                continue
            parts = self._parts.get(batch_id, (batch_id,))
            now: dict[Lot, None] = {}
            gone: dict[Lot, None] = {}
            for part in parts:
                its, replaced = self._lots_of(part)
                now |= dict.fromkeys(its)
                gone |= dict.fromkeys(replaced)
            entries = [entry for part in parts for entry in self._entries[part]]
            found.append(
                TracedBatch(
                    row,
                    tuple(self.holds.with_allergens(lot) for lot in now),
                    tuple(gone),
                    tuple(sorted(lines[one].code for one in through.get(batch_id, ()))),
                    tuple(lines[part].code for part in parts),
                    made_of(sorted(entries, key=lambda entry: entry.id)),
                    self._mass(parts),
                )
            )
        return found

    def _lots_of(self, part: int) -> tuple[tuple[Lot, ...], tuple[Lot, ...]]:
        now, gone = self._lots.get(part, ()), tuple[Lot, ...]()
        for entry in self._entries[part]:
            if entry.kind == "lot":
                now, replaced = lots_after(now, entry)
                gone += replaced
        return now, gone

    def _mass(self, parts: tuple[int, ...]) -> int | None:
        """Of the first record, as `analysis.filed_batch` has it."""
        mass = self._masses[parts[0]]
        for entry in self._entries[parts[0]]:
            if entry.kind == "amendment" and entry.payload["field"] == "mass_mg":
                mass = entry.payload["value"]
        return mass
