"""Which record had leftover of which earlier one: the edges of the graph, and how far they reach.

An edge is a lot whose number is a batch's code, whether it stands or was replaced since: what
was ever said to have gone in is traced. `wholes` joins the records of one batch.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping

from sqlalchemy import Connection, func, select, tuple_

from snapcurve.notebook import search_words, tables
from snapcurve.notebook.codes import UNDATED, code_of, parts_of
from snapcurve.notebook.wholes import Wholes

Edges = Mapping[int, Collection[int]]
_AT_ONCE = 250  # a database limits how many values a question may name
_DEEP = 8  # so many bowls after each other are asked for one by one; then all edges are read


def batches_named(connection: Connection, lots: Iterable[str]) -> dict[str, int]:
    """Of these numbers of lots that are the code of a batch: that, and its id."""
    batches = tables.batches.c
    codes: dict[tuple[str, int], set[str]] = {}  # one batch may be written in two ways
    for lot in lots:
        if (key := parts_of(lot)) is not None:
            codes.setdefault(key, set()).add(lot)
    found: dict[str, int] = {}
    keys = list(codes)
    for begin in range(0, len(keys), _AT_ONCE):
        some = tuple_(batches.day, batches.day_number).in_(keys[begin : begin + _AT_ONCE])
        for row in connection.execute(
            select(batches.id, batches.day, batches.day_number).where(some)
        ):
            found |= dict.fromkeys(codes[row.day, row.day_number], int(row.id))
    return found


def with_lots(connection: Connection, keys: Iterable[str]) -> dict[int, set[str]]:
    """The ids of records that ever had a lot of one of these keys (search_words), and which."""
    its, found, every = tables.words.c, defaultdict[int, set[str]](set), list(keys)
    for begin in range(0, len(every), _AT_ONCE):
        some = its.word.in_(every[begin : begin + _AT_ONCE])
        query = select(its.batch_id, its.word).where(its.field == "lot", some)
        for row in connection.execute(query):
            found[row.batch_id].add(row.word)
    return found


def earlier(connection: Connection, ids: Iterable[int], wholes: Wholes) -> Edges:
    """Of each of these records what it had leftover of, and those to the very first."""
    return _reached(connection, ids, wholes, _earlier, lambda later, before: (later, before))


def later(connection: Connection, ids: Iterable[int], wholes: Wholes) -> Edges:
    """Of each of these records where its leftover went, and of those to the very last."""
    return _reached(connection, ids, wholes, _later, lambda later, before: (before, later))


def went_into(connection: Connection, ids: Collection[int]) -> dict[int, tuple[str, ...]]:
    """The codes of the records that had leftover of each of these, in the order of filing."""
    its = tables.batches.c
    edges = _later(connection, ids)
    later = sorted({one for others in edges.values() for one in others})
    codes: dict[int, str] = {}
    for begin in range(0, len(later), _AT_ONCE):
        some = its.id.in_(later[begin : begin + _AT_ONCE])
        for row in connection.execute(select(its.id, its.day, its.day_number).where(some)):
            codes[row.id] = code_of(row.day, row.day_number)
    return {one: tuple(codes[other] for other in sorted(edges.get(one, ()))) for one in ids}


def _reached(
    connection: Connection,
    ids: Iterable[int],
    wholes: Wholes,
    step: Callable[[Connection, Collection[int]], Edges],
    turned: Callable[[int, int], tuple[int, int]],
) -> Edges:
    """The edges from these records on; a record leads also to the other parts of its batch."""
    edges: dict[int, set[int]] = {}
    fresh = wholes.all_of(ids)
    for _ in range(_DEEP):
        edges |= {one: set() for one in fresh}
        for one, others in step(connection, fresh).items():
            edges[one].update(others)
        fresh = wholes.all_of(other for one in fresh for other in edges[one]) - edges.keys()
        if not fresh:
            return edges
    every = defaultdict[int, set[int]](set)
    for pair in _all(connection):
        one, other = turned(*pair)
        every[one].add(other)
    while fresh:
        for one in fresh:
            edges[one] = set(every.get(one, ()))
        fresh = wholes.all_of(other for one in fresh for other in edges[one]) - edges.keys()
    return edges


def _earlier(connection: Connection, ids: Collection[int]) -> Edges:
    its, every = tables.lots.c, sorted(ids)
    lots: list[tuple[int, str]] = []
    for begin in range(0, len(every), _AT_ONCE):
        some = its.batch_id.in_(every[begin : begin + _AT_ONCE])
        query = select(its.batch_id, its.lot).where(some)
        lots += [(row.batch_id, row.lot) for row in connection.execute(query)]
    return _edges(connection, lots)


def _edges(connection: Connection, lots: Collection[tuple[int, str]]) -> Edges:
    named = batches_named(connection, {lot for _, lot in lots})
    found = defaultdict[int, set[int]](set)
    for batch_id, lot in lots:
        if lot in named:
            found[batch_id].add(named[lot])
    return found


def _later(connection: Connection, ids: Collection[int]) -> Edges:
    its, every = tables.batches.c, sorted(ids)
    written: dict[str, int] = {}
    for begin in range(0, len(every), _AT_ONCE):
        some = its.id.in_(every[begin : begin + _AT_ONCE])
        for row in connection.execute(select(its.id, its.day, its.day_number).where(some)):
            # with its zero, and without
            for code in (code_of(row.day, row.day_number), f"{row.day}-{row.day_number}"):
                written[search_words.key_of(code)] = row.id
    found = defaultdict[int, set[int]](set)
    for batch_id, words in with_lots(connection, written).items():
        for word in words:
            found[written[word]].add(batch_id)
    return found


def _all(connection: Connection) -> list[tuple[int, int]]:
    """Every edge there is: the later record and the earlier."""
    its = tables.lots.c
    lot = func.lower(func.trim(its.lot))
    query = select(its.batch_id, its.lot).where(
        lot.like("____-__-__-%") | lot.like(f"{UNDATED}-%")
    )
    lots = [(row.batch_id, row.lot) for row in connection.execute(query)]
    return [(one, other) for one, others in _edges(connection, lots).items() for other in others]
