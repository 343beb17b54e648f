"""Finding batches by what is known of them; every query walks an index.

One word costs as much in ten thousand batches as in a hundred. With several, the rarest
leads; that costs more only where each of them is common and few batches have them all.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, Select, func, select

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import rows, tables, words
from snapcurve.notebook.mistakes import mistakes
from snapcurve.notebook.records import BatchRow, Search
from snapcurve.notebook.vocabulary import OUTCOMES

# How far a word is counted to find the rarest.
_COUNTED = 200
_AFTER_ALL = "\U0010ffff"


def search(connection: Connection, wanted: Search, limit: int | None) -> list[BatchRow]:
    """The newest `limit` batches that are as wanted, newest first."""
    terms = _terms(wanted)
    if len(terms) > 1:
        terms.sort(key=lambda term: _count(connection, term))
    query = _within(wanted, terms[0], terms[1:]) if terms else _by_date(wanted)
    none = mistakes(connection)
    if none and not wanted.mistakes:
        query = query.where(tables.batches.c.id.not_in(none))
    return [rows.line(row, none) for row in connection.execute(query.limit(limit))]


def with_lot(connection: Connection, lot: str) -> list[Any]:
    """The lines of all batches that ever had this lot, newest first."""
    if not lot.strip():
        raise SnapcurveError("Name the lot as it stands on the package.")
    query = _within(Search(), ("lot", words.key_of(lot)), [])
    return list(connection.execute(query))


def _terms(wanted: Search) -> list[tuple[str, str]]:
    """Fields and keys that must all be there; a key that ends with "*" is a beginning."""
    terms = []
    for field, text in (("text", wanted.text), ("couverture", wanted.couverture)):
        for word in text.split():
            found = words.words_of(word)
            if not found and word.strip("*"):
                raise SnapcurveError(f"{word!r} holds no letter or digit to search for.")
            if found and word.endswith("*"):
                found[-1] += "*"
            terms += [(field, one) for one in found]
    for field, name in (("lot", wanted.lot), ("operator", wanted.operator)):
        if name.strip():
            terms.append((field, words.key_of(name)))
    if wanted.outcome.strip():
        terms.append(("outcome", _outcome(wanted.outcome)))
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


def _within(wanted: Search, first: tuple[str, str], others: list[tuple[str, str]]) -> Select[Any]:
    lead = tables.words.alias("lead")
    query = select(*rows.LINE_COLUMNS).join(lead, lead.c.batch_id == tables.batches.c.id)
    query = query.where(_is(lead, first), *_dates(wanted, lead.c.newest_unix_ms))
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


def _by_date(wanted: Search) -> Select[Any]:
    query = select(*rows.LINE_COLUMNS).where(*_dates(wanted, tables.newest_first))
    return query.order_by(tables.newest_first.desc(), tables.batches.c.id.desc())


def _dates(wanted: Search, moment: ColumnElement[Any]) -> list[ColumnElement[bool]]:
    found = []
    if wanted.since_unix_ms is not None:
        found.append(moment >= wanted.since_unix_ms)
    if wanted.before_unix_ms is not None:
        found.append(moment < wanted.before_unix_ms)
    return found
