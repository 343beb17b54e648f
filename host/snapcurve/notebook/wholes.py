"""Which records are one batch: after a restart of the board, or with the probe forgotten outside,
a batch goes on in another record, whose mark "resumed" names the curve it goes on with.

Nothing of it is filed: records come in any order, from any computer, and filed rows stay.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, Row, select, tuple_

from snapcurve.errors import RecordError
from snapcurve.notebook import tables
from snapcurve.recording.curve import end_reason_of
from snapcurve.recording.parts import LONGEST_HOLE_S

# How a curve ends whose batch may go on in another: not at all, or with the probe outside.
GOES_ON = (None, "room")
_AT_ONCE = 250  # a database limits how many values a question may name


class Wholes:
    """The records of this notebook that may be parts of a batch: read once, looked into on
    demand."""

    def __init__(self, connection: Connection):
        self._connection = connection
        self._resumed = _resumed(connection)
        self._before = _before(connection, self._resumed) if self._resumed else {}
        self._known: dict[int, tuple[int, ...]] = {}
        self._looked_at: set[int] = set()

    def of(self, batch_id: int) -> tuple[int, ...]:
        """The ids of all records of the batch that is in this one, as far as they are there
        without a gap, in the order in which they were recorded."""
        return self.cut([batch_id]).get(batch_id, (batch_id,))

    def all_of(self, ids: Iterable[int]) -> set[int]:
        """The ids of all records of the batches that are in these."""
        every = set(ids)
        return every.union(*self.cut(every).values())

    def cut(self, ids: Collection[int]) -> dict[int, tuple[int, ...]]:
        """The same of those of these records that are a part of a batch."""
        asked = _touching(ids, self._before) - self._looked_at
        if asked:
            self._look_into(asked)
        return {one: self._known[one] for one in ids if one in self._known}

    def _look_into(self, asked: set[int]) -> None:
        self._looked_at |= asked
        follows: dict[int, int] = {}
        taken: set[int] = set()
        heads, endings = _heads(self._connection, asked), _endings(self._connection, asked)
        for row in self._resumed:  # in the order of recording: the first that fits goes on with it
            fitting = (
                one
                for one in self._before.get(row.batch_id, ())
                if row.batch_id in asked
                and one not in taken
                and endings[one] in GOES_ON
                and _fit(heads[one], heads[row.batch_id])
            )
            if (found := next(fitting, None)) is not None:
                follows[row.batch_id] = found
                taken.add(found)
        self._known |= _chains(follows)


def _resumed(connection: Connection) -> list[Any]:
    """The records that go on with another: of each its first mark that says so."""
    marks, curves = tables.marks.c, tables.curves.c
    query = (
        select(marks.batch_id, marks.number, curves.board_id, curves.boot, curves.curve)
        .join(tables.curves, curves.batch_id == marks.batch_id)
        .where(marks.kind == "resumed")
        .order_by(curves.boot, curves.curve, marks.batch_id.desc(), marks.offset_ms, marks.id)
    )
    first: dict[int, Any] = {}
    for row in connection.execute(query):
        first.setdefault(row.batch_id, row)
    return list(first.values())


def _before(connection: Connection, resumed: Iterable[Row[Any]]) -> dict[int, list[int]]:
    """The records that each of these may go on with, the likeliest first: numbers come again on
    a board whose flash was erased."""
    curves = tables.curves.c
    keys = sorted({(row.board_id, row.number) for row in resumed})
    named: defaultdict[tuple[int, int], list[Any]] = defaultdict(list)
    for begin in range(0, len(keys), _AT_ONCE):
        some = tuple_(curves.board_id, curves.curve).in_(keys[begin : begin + _AT_ONCE])
        query = select(curves.batch_id, curves.board_id, curves.boot, curves.curve).where(some)
        for row in connection.execute(query.order_by(curves.boot.desc(), curves.id.desc())):
            named[row.board_id, row.curve].append(row)
    return {
        row.batch_id: [
            one.batch_id
            for one in named[row.board_id, row.number]
            if one.curve < row.curve and one.boot <= row.boot
        ]
        for row in resumed
    }


def _touching(ids: Collection[int], before: Mapping[int, list[int]]) -> set[int]:
    """All records that may belong to the same batch as one of these."""
    beside: defaultdict[int, set[int]] = defaultdict(set)
    for one, others in before.items():
        for other in others:
            beside[one].add(other)
            beside[other].add(one)
    fresh = beside.keys() & set(ids)
    found = set(fresh)
    while fresh:
        fresh = {other for one in fresh for other in beside[one]} - found
        found |= fresh
    return found


def _heads(connection: Connection, ids: Collection[int]) -> dict[int, Row[Any]]:
    its = tables.batches.c
    query = select(its.id, its.profile, its.rehearsal, its.started_unix_ms)
    return {row.id: row for row in _each(connection, query, its.id, ids)}


def _endings(connection: Connection, ids: Collection[int]) -> dict[int, str | None]:
    its, found = tables.curves.c, {}
    for row in _each(connection, select(its.batch_id, its.raw), its.batch_id, ids):
        try:
            found[row.batch_id] = end_reason_of(bytes(row.raw))
        except RecordError:
            found[row.batch_id] = "unreadable"
    return found


def _each(connection: Connection, query: Any, column: Any, ids: Collection[int]) -> Iterable[Any]:
    every = sorted(ids)
    for begin in range(0, len(every), _AT_ONCE):
        yield from connection.execute(query.where(column.in_(every[begin : begin + _AT_ONCE])))


def _fit(first: Row[Any], second: Row[Any]) -> bool:
    """Whether the one may go on in the other. A clock that was set in between may put them in
    the wrong order, not by days."""
    began_ms = first.started_unix_ms or 0
    return (
        bytes(first.profile) == bytes(second.profile)
        and first.rehearsal == second.rehearsal
        and began_ms - LONGEST_HOLE_S * 1000 <= (second.started_unix_ms or began_ms)
    )


def _chains(follows: Mapping[int, int]) -> dict[int, tuple[int, ...]]:
    goes_on_in = {before: after for after, before in follows.items()}
    found: dict[int, tuple[int, ...]] = {}
    for first in set(goes_on_in) - set(follows):
        chain = [first]
        while chain[-1] in goes_on_in:
            chain.append(goes_on_in[chain[-1]])
        found |= dict.fromkeys(chain, tuple(chain))
    return found
