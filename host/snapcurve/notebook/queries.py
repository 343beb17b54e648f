"""Which batches are meant: the one that a person names, and those that a search is for.

Every search walks an index. One word costs as much in ten thousand batches as in a hundred.
With several, the rarest leads; that costs more only where each of them is common and few
batches have them all.
"""

from __future__ import annotations

import difflib
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence, Set
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, Row, Select, func, or_, select

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import rows, search_words, tables
from snapcurve.notebook.codes import id_of, parts_of
from snapcurve.notebook.records import BatchRow, Search
from snapcurve.notebook.vocabulary import OUTCOMES

_PAGE = 20
_AT_ONCE = 500  # a database limits how many values a question may name
# How far a word is counted to find the rarest.
_COUNTED = 200
_AFTER_ALL = "\U0010ffff"


def find_batch(connection: Connection, code_or_id: str) -> int:
    """The id of the batch with this code or id, or of the newest for "last".

    The newest is none that was started by mistake. Raises SnapcurveError when there is none.
    """
    last = code_or_id.strip().lower() == "last"
    found = None if last else _named(connection, code_or_id)
    if found is not None:
        return found
    newest = _began_last(connection)
    if newest is None:
        raise SnapcurveError("The notebook has no batches yet; collect or rehearse one first.")
    if last:
        return int(newest.id)
    raise SnapcurveError(
        f"There is no batch {code_or_id!r} in the notebook; the newest is"
        f' {rows.line(newest).code}, "last" for short.'
    )


def same_curve(connection: Connection, board_id: int, generation: int, curve: int) -> Any:
    """What is filed under a curve's name: batch_id, crc and size; None if nothing is."""
    its = tables.curves.c
    query = select(its.batch_id, its.crc, its.size).where(
        its.board_id == board_id, its.generation == generation, its.curve == curve
    )
    return connection.execute(query).first()


def mistakes(connection: Connection) -> Set[int]:
    """The ids of all batches that, as they stand now, were started by mistake."""
    its = tables.words.c
    query = select(its.word, its.batch_id).where(its.field == "mistake")
    found: defaultdict[str, set[int]] = defaultdict(set)
    for row in connection.execute(query):
        found[row.word].add(row.batch_id)
    both = found["yes"] & found["no"]
    if not both:  # as nearly always
        return found["yes"]
    # The search words do not say which amendment came last.
    newest = {
        entry.batch_id: entry.payload["value"]
        for entry in rows.read_entries(connection, list(both), ["amendment"])
        if entry.payload["field"] == "mistake"
    }
    return found["yes"] - {one for one in both if not newest[one]}


def lines(sought: Search, without: Collection[int] = ()) -> Select[Any]:
    """The rows of the list of batches between two dates, newest first, without those of these
    ids; each goes through `rows.line`."""
    query = select(*rows.LINE_COLUMNS).where(*_dates(sought, tables.newest_first))
    query = query.order_by(tables.newest_first.desc(), tables.batches.c.id.desc())
    return query.where(tables.batches.c.id.not_in(without)) if without else query


def _named(connection: Connection, code_or_id: str) -> int | None:
    columns = tables.batches.c
    query = select(columns.id)
    code = parts_of(code_or_id)
    if code is None:
        return connection.scalar(query.where(columns.id == id_of(code_or_id)))
    return connection.scalar(query.where(columns.day == code[0], columns.day_number == code[1]))


def _began_last(connection: Connection) -> Row[Any] | None:
    """The batch that began last, whenever it was filed; none that was started by mistake.

    A rehearsal counts from its filing: played fast, it is given a beginning long before that.
    """
    best = connection.execute(_candidates(connection, rehearsal=True).limit(1)).first()
    best_ms = 0 if best is None else best.created_unix_ms
    for row in _newest_first(connection):
        if best is not None and row.moment_ms <= best_ms:
            break  # none began later than at its place in the list
        began_ms = _began_by_ms(connection, row)
        if best is None or (began_ms, row.id) > (best_ms, best.id):
            best, best_ms = row, began_ms
    return best


def _candidates(connection: Connection, *, rehearsal: bool) -> Select[Any]:
    """Rehearsals, the last filed first, or the others, by when they began."""
    batches, curves = tables.batches.c, tables.curves.c
    query = lines(Search(), mistakes(connection)).where(batches.rehearsal == rehearsal)
    if rehearsal:
        query = query.order_by(None).order_by(batches.id.desc())
    return query.join(tables.curves, curves.batch_id == batches.id).add_columns(
        tables.newest_first.label("moment_ms"),
        batches.created_unix_ms,
        curves.board_id,
        curves.boot,
        curves.curve,
    )


def _newest_first(connection: Connection) -> Iterator[Row[Any]]:
    query = _candidates(connection, rehearsal=False).limit(_PAGE)
    begin = 0
    while page := connection.execute(query.offset(begin)).all():
        yield from page
        begin += _PAGE


def _began_by_ms(connection: Connection, row: Row[Any]) -> int:
    """When a batch began, or by when it had begun."""
    if row.started_unix_ms is not None:
        return int(row.moment_ms)
    # What its board recorded later began later.
    batches, its = tables.batches.c, tables.curves.c
    later = or_(its.boot > row.boot, (its.boot == row.boot) & (its.curve > row.curve))
    query = select(func.min(tables.newest_first)).join(tables.curves, its.batch_id == batches.id)
    first = connection.scalar(query.where(its.board_id == row.board_id, later))
    return int(row.moment_ms if first is None else min(row.moment_ms, first - 1))


def search(connection: Connection, sought: Search, limit: int | None) -> list[BatchRow]:
    """The newest `limit` batches that are as sought, newest first."""
    terms = _terms(sought)
    if len(terms) > 1:
        terms.sort(key=lambda term: _count(connection, term))
    query = _within(sought, terms[0], terms[1:]) if terms else lines(sought)
    mistaken = mistakes(connection)
    if mistaken and not sought.mistakes:
        query = query.where(tables.batches.c.id.not_in(mistaken))
    if not sought.rehearsals:
        query = query.where(~tables.batches.c.rehearsal)
    return [rows.line(row, mistaken) for row in connection.execute(query.limit(limit))]


def best_before(connection: Connection, lot: str) -> str | None:
    """The day that was last noted for a lot of this number; None: none was."""
    its, words = tables.lots.c, tables.words.c
    key = search_words.key_of(lot)
    holding = select(words.batch_id).where(words.field == "lot", words.word == key)
    query = select(its.lot, its.best_before).where(
        its.batch_id.in_(holding), its.best_before.is_not(None)
    )
    for row in connection.execute(query.order_by(its.id.desc())):
        if search_words.key_of(row.lot) == key:
            return str(row.best_before)
    return None


def lots_like(connection: Connection, lot: str) -> list[str]:
    """Numbers of lots in the notebook that a person may have meant by this one, as they were
    written: with other spaces or hyphens, or nearly the same."""
    its, sought = tables.lots.c, _bare(lot)
    alike = {_bare(one): one for one in connection.execute(select(its.lot).distinct()).scalars()}
    near = difflib.get_close_matches(sought, alike, n=3, cutoff=0.8)
    return [alike[one] for one in near]


def lots_spelled_otherwise(connection: Connection, lot: str) -> list[str]:
    """Numbers of lots that differ from this one in spaces and hyphens alone, as they were
    written: a trace of the one does not find them."""
    key, sought = search_words.key_of(lot), _bare(lot)
    every = connection.execute(select(tables.lots.c.lot).distinct()).scalars()
    return [one for one in every if _bare(one) == sought and search_words.key_of(one) != key]


def _bare(lot: str) -> str:
    return "".join(char for char in search_words.key_of(lot) if char.isalnum())


def lines_of(connection: Connection, ids: Sequence[int], mistaken: Set[int]) -> list[BatchRow]:
    """The lines of these batches, newest first."""
    found: list[Row[Any]] = []
    for begin in range(0, len(ids), _AT_ONCE):
        some = tables.batches.c.id.in_(ids[begin : begin + _AT_ONCE])
        found += connection.execute(
            lines(Search()).add_columns(tables.newest_first.label("moment_ms")).where(some)
        ).all()
    found.sort(key=lambda row: (row.moment_ms, row.id), reverse=True)
    return [rows.line(row, mistaken) for row in found]


def _terms(sought: Search) -> list[tuple[str, str]]:
    """Fields and keys that must all be there; a key that ends with "*" is a beginning."""
    terms = []
    for field, text in (("text", sought.text), ("couverture", sought.couverture)):
        for word in text.split():
            found = search_words.words_of(word)
            if not found and word.strip("*"):
                raise SnapcurveError(f"{word!r} holds no letter or digit to search for.")
            if found and word.endswith("*"):
                found[-1] += "*"
            terms += [(field, one) for one in found]
    for field, name in (("lot", sought.lot), ("operator", sought.operator)):
        if name.strip():
            terms.append((field, search_words.key_of(name)))
    if sought.outcome.strip():
        terms.append(("outcome", _outcome(sought.outcome)))
    return list(dict.fromkeys(terms))


def _outcome(text: str) -> str:
    what, equals, value = text.strip().casefold().rpartition("=")
    known = OUTCOMES.get(what, ()) if equals else [w for one in OUTCOMES.values() for w in one]
    if value not in known:
        all_words = "; ".join(f"{what}={', '.join(one)}" for what, one in OUTCOMES.items())
        raise SnapcurveError(f"There is no outcome {text!r}; use one of {all_words}.")
    return what + equals + value


def _is(table: FromClause, term: tuple[str, str]) -> ColumnElement[bool]:
    field, key = term
    same = table.c.field == field
    # a name may end with "*" itself; only words are looked up by their beginning
    if key.endswith("*") and field in ("text", "couverture"):
        begins = key[:-1]
        return same & (table.c.word >= begins) & (table.c.word < begins + _AFTER_ALL)
    return same & (table.c.word == key)


def _count(connection: Connection, term: tuple[str, str]) -> int:
    some = select(tables.words.c.batch_id).where(_is(tables.words, term)).limit(_COUNTED)
    return connection.scalar(select(func.count()).select_from(some.subquery())) or 0


def _within(sought: Search, first: tuple[str, str], others: list[tuple[str, str]]) -> Select[Any]:
    lead = tables.words.alias("lead")
    query = select(*rows.LINE_COLUMNS).join(lead, lead.c.batch_id == tables.batches.c.id)
    query = query.where(_is(lead, first), *_dates(sought, lead.c.newest_unix_ms))
    for term in others:
        other = tables.words.alias()
        query = query.where(
            select(other.c.batch_id)
            .where(
                _is(other, term),
                other.c.newest_unix_ms == lead.c.newest_unix_ms,
                other.c.batch_id == lead.c.batch_id,
            )
            # Keeps PostgreSQL from joining all that have the one word to all that have the
            # other; asked row by row it stops when the page is full.
            .offset(0)
            .exists()
        )
    if first[1].endswith("*"):
        # a batch may have several words that begin so
        query = query.add_columns(lead.c.newest_unix_ms, lead.c.batch_id).distinct()
    return query.order_by(lead.c.newest_unix_ms.desc(), lead.c.batch_id.desc())


def _dates(sought: Search, moment: ColumnElement[Any]) -> list[ColumnElement[bool]]:
    found = []
    if sought.since_unix_ms is not None:
        found.append(moment >= sought.since_unix_ms)
    if sought.before_unix_ms is not None:
        found.append(moment < sought.before_unix_ms)
    return found
