"""The notebook for other programs: rows with units in their names, and plain values. Pure.

Temperatures in °C and masses in g whatever the settings say, moments in ISO 8601 with their
offset from UTC.
"""

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypedDict

from snapcurve.notebook import allergens
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.descriptions import (
    allergen_words,
    amendment_words,
    entry_words,
    lot_words,
)
from snapcurve.notebook.entries import lot_of, made_of, outcomes_of
from snapcurve.notebook.records import AmendedBatch, Batch, Entry, Lot, Made
from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, OUTCOMES
from snapcurve.recording.curve import Curve
from snapcurve.shown.plain_text import cell, for_paper
from snapcurve.shown.units import PLAIN, iso


class LotJson(TypedDict):
    """A lot for a script; allergens as in `AllergensJson`."""

    ingredient: str
    lot: str
    maker: str
    mass_g: float | None
    allergens: list[str] | None
    best_before: str | None


class MadeJson(TypedDict):
    """What was made of a batch, for a script."""

    name: str
    pieces: int | None
    mass_g: float | None
    best_before: str | None
    where: str


class AllergensJson(TypedDict):
    """A batch's allergens for a script: a list, empty only if all was declared to hold none,
    null if nothing is named and something is not known; and what is not known."""

    allergens: list[str] | None
    allergens_not_known: list[str]


class _Fields(AllergensJson):
    couverture: str
    operator: str | None
    place: str | None
    room_c: float | None
    mass_g: float | None
    allergens_taken_away: list[dict[str, Any]]
    notes: str | None
    lots: list[LotJson]


class _FieldsAsFiled(_Fields):
    couverture_allergens: list[str] | None


class EntryJson(TypedDict):
    """An entry for a script; ``holds`` its payload, ``filed_by`` is the server's login that filed
    it, null on SQLite."""

    at: str
    kind: str
    who: str
    why: str
    words: str
    holds: dict[str, Any]
    sha256: str
    filed_by: str | None


class BatchJson(TypedDict):
    """All of a batch but the curve's bytes: as filed, as it stands, and its entries;
    ``not_as_filed`` says what of it was altered since, ``filed_by`` is as of an entry."""

    batch: str
    started: str | None
    method: str
    rehearsal: bool
    mistake: bool
    as_filed: _FieldsAsFiled
    now: _Fields
    uncertainty_c: float | None
    uncertainty_at_c: float | None
    board: dict[str, str]
    curve: dict[str, int | str]
    marks: list[dict[str, Any]]
    alarms: list[dict[str, Any]]
    made: list[MadeJson]
    entries: list[EntryJson]
    filed_by: str | None
    not_as_filed: list[str]


def _outcome(what: str, after_days: int | None) -> tuple[str, Callable[[AmendedBatch], Any]]:
    name = what if after_days is None else f"{what} after {after_days} d"
    return name, lambda one: outcomes_of(one.entries).get((what, after_days))


_COLUMNS: tuple[tuple[str, Callable[[AmendedBatch], Any]], ...] = (
    ("batch", lambda one: one.now.code),
    ("started (ISO 8601)", lambda one: _started(one.now)),
    ("couverture", lambda one: one.now.couverture),
    ("method", lambda one: one.now.method),
    ("rehearsal", lambda one: "yes" if one.now.rehearsal else "no"),
    ("operator", lambda one: one.now.operator),
    ("place", lambda one: one.now.place),
    ("room (°C)", lambda one: _scaled(one.now.room_centi_c, 100)),
    ("mass (g)", lambda one: _scaled(one.now.mass_mg, 1000)),
    ("allergens", lambda one: for_paper(allergen_words(allergens.of(one)))),
    ("lots", lambda one: for_paper("\n".join(lot_words(lot, PLAIN) for lot in one.now.lots))),
    ("board", lambda one: f"{one.now.curve.board_name} {one.now.curve.board_id:08x}"),
    ("uncertainty k=2 (°C)", lambda one: _scaled(one.now.uncertainty_centi_c, 100)),
    ("uncertainty at (°C)", lambda one: _scaled(one.now.uncertainty_at_centi_c, 100)),
    *(_outcome(what, None) for what in OUTCOMES if what != "bloom"),
    *(_outcome("bloom", days) for days in BLOOM_AFTER_DAYS),
    ("amendments", lambda one: _amendments(one.entries)),
    ("notes", lambda one: "\n".join(_notes(one))),
    ("not as filed", lambda one: for_paper("\n".join(one.not_as_filed))),
)


BATCH_HEAD = tuple(name for name, _ in _COLUMNS)


def csv_of(batches: Sequence[tuple[AmendedBatch, Mapping[str, Any]]]) -> str:
    """A line for each batch as it stands with its amendments, and more columns, of the same
    names for all; RFC 4180."""
    head = [*BATCH_HEAD, *(name for _, more in batches[:1] for name in more)]
    return table_csv(head, ([*batch_row(one), *more.values()] for one, more in batches))


def batch_row(one: AmendedBatch) -> list[Any]:
    """The values below BATCH_HEAD."""
    return [value_of(one) for _, value_of in _COLUMNS]


def curve_csv(curve: Curve) -> str:
    """A curve, a line for each sample; empty where nothing was read."""
    rows = zip(curve.times_s, curve.temperatures_c, strict=True)
    return table_csv(("time (s)", "temperature (°C)"), rows)


def plain(one: AmendedBatch) -> BatchJson:
    """A batch for a script."""
    filed = one.filed
    as_filed = _fields(filed, allergens.of_batch(filed.allergens, filed.lots))
    return {
        "batch": filed.code,
        "started": _started(filed),
        "method": filed.method,
        "rehearsal": filed.rehearsal,
        "mistake": bool(one.now.mistake),
        "as_filed": {**as_filed, "couverture_allergens": _listed(filed.allergens)},
        "now": _fields(one.now, allergens.of(one)),
        "uncertainty_c": _scaled(filed.uncertainty_centi_c, 100),
        "uncertainty_at_c": _scaled(filed.uncertainty_at_centi_c, 100),
        "board": {"name": filed.curve.board_name, "id": f"{filed.curve.board_id:08x}"},
        "curve": {
            "boot": filed.curve.boot,
            "curve": filed.curve.curve,
            "generation": filed.curve.generation,
            "bytes": filed.curve.size,
            "crc32": f"{filed.curve.crc:08x}",
        },
        "marks": [
            {"at_s": mark.offset_ms / 1000, "kind": mark.kind, "number": mark.number}
            for mark in filed.marks
        ],
        "alarms": [
            {"at_s": alarm.offset_ms / 1000, "alarm": alarm.alarm, "phase": alarm.phase}
            for alarm in filed.alarms
        ],
        "made": [made_plain(made) for made in made_of(one.entries)],
        "entries": [entry_plain(entry) for entry in one.entries],
        "filed_by": one.filed_by,
        "not_as_filed": list(one.not_as_filed),
    }


def lot_plain(lot: Lot) -> LotJson:
    """A lot for a script."""
    return {
        "ingredient": lot.ingredient,
        "lot": lot.lot,
        "maker": lot.supplier,
        "mass_g": _scaled(lot.mass_mg, 1000),
        "allergens": _listed(lot.allergens),
        "best_before": lot.best_before,
    }


def made_plain(made: Made) -> MadeJson:
    """What was made, for a script."""
    return {
        "name": made.name,
        "pieces": made.pieces,
        "mass_g": _scaled(made.mass_mg, 1000),
        "best_before": made.best_before,
        "where": made.where,
    }


def allergens_plain(found: Allergens) -> AllergensJson:
    """A batch's allergens for a script."""
    return {
        "allergens": _listed(found.groups),
        "allergens_not_known": list(found.not_known),
    }


def _fields(batch: Batch, found: Allergens) -> _Fields:
    return {
        "couverture": batch.couverture,
        "operator": batch.operator,
        "place": batch.place,
        "room_c": _scaled(batch.room_centi_c, 100),
        "mass_g": _scaled(batch.mass_mg, 1000),
        **allergens_plain(found),
        "allergens_taken_away": [
            {"groups": list(away.groups), "who": away.who, "why": away.why}
            for away in found.taken_away
        ],
        "notes": batch.notes,
        "lots": [lot_plain(lot) for lot in batch.lots],
    }


def entry_plain(entry: Entry) -> EntryJson:
    """An entry for a script."""
    holds = dict(entry.payload)
    if entry.kind == "lot":  # as stored, an empty list means that nothing is known
        holds["allergens"] = _listed(lot_of(entry.payload).allergens)
    return {
        "at": iso(entry.at_unix_ms, entry.utc_offset_min),
        "kind": entry.kind,
        "who": entry.who,
        "why": entry.why,
        "words": for_paper(entry_words(entry, PLAIN)),
        "holds": holds,
        "sha256": entry.hash,
        "filed_by": entry.filed_by,
    }


def table_csv(head: Sequence[str], rows: Iterable[Iterable[Any]]) -> str:
    """A table as RFC 4180 has it."""
    return csv_lines([head, *rows])


def csv_lines(rows: Iterable[Iterable[Any]]) -> str:
    """Rows of such a table."""
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\r\n")
    for row in rows:
        writer.writerow([cell(value) if isinstance(value, str) else value for value in row])
    return target.getvalue()


def _amendments(entries: Iterable[Entry]) -> str:
    changes = [entry for entry in entries if entry.kind == "amendment"]
    return for_paper(
        "\n".join(f"{amendment_words(entry, PLAIN)} ({entry.why})" for entry in changes)
    )


def _notes(one: AmendedBatch) -> list[str]:
    later = [entry.payload["text"] for entry in one.entries if entry.kind == "note"]
    return [one.now.notes, *later] if one.now.notes else later


def _started(batch: Batch) -> str | None:
    started = batch.started_unix_ms
    return None if started is None else iso(started, batch.utc_offset_min)


def _listed(groups: tuple[str, ...] | None) -> list[str] | None:
    return None if groups is None else list(groups)


def _scaled(value: int | None, by: int) -> float | None:
    return None if value is None else value / by
