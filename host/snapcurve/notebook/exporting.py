"""The notebook for other programs: rows with units in their names, and plain values. Pure.

Temperatures in °C and masses in g whatever the settings say, moments in ISO 8601 with their
offset from UTC.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from snapcurve.notebook import allergens
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.describing import allergen_words, amendment_words, entry_words, lot_words
from snapcurve.notebook.entries import lot_of
from snapcurve.notebook.records import AmendedBatch, Entry, Lot
from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, OUTCOMES
from snapcurve.recording.curve import Curve
from snapcurve.shown.dates import iso
from snapcurve.shown.plain_text import cell, for_paper
from snapcurve.shown.quantities import PLAIN

_OUTCOMES = [(what, None) for what in OUTCOMES if what != "bloom"] + [
    ("bloom", days) for days in BLOOM_AFTER_DAYS
]
HEAD = (
    "batch",
    "started (ISO 8601)",
    "couverture",
    "method",
    "rehearsal",
    "operator",
    "place",
    "room (°C)",
    "mass (g)",
    "allergens",
    "lots",
    "board",
    "uncertainty k=2 (°C)",
    "uncertainty at (°C)",
    *(what if days is None else f"{what} after {days} d" for what, days in _OUTCOMES),
    "amendments",
    "notes",
)


def outcomes_of(entries: Iterable[Entry]) -> dict[tuple[str, int | None], str]:
    """The newest word for each outcome."""
    return {
        (entry.payload["what"], entry.payload.get("after_days")): entry.payload["value"]
        for entry in entries
        if entry.kind == "outcome"
    }


def csv_of(batches: Iterable[AmendedBatch]) -> str:
    """A line for each batch as it stands with its amendments; RFC 4180."""
    return _csv(HEAD, (_row(one) for one in batches))


def curve_csv(curve: Curve) -> str:
    """A curve, a line for each sample; empty where nothing was read."""
    rows = zip(curve.times_s, curve.temperatures_c, strict=True)
    return _csv(("time (s)", "temperature (°C)"), rows)


def _csv(head: Sequence[str], rows: Iterable[Iterable[Any]]) -> str:
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\r\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([cell(value) if isinstance(value, str) else value for value in row])
    return target.getvalue()


def _row(one: AmendedBatch) -> list[Any]:
    now, found = one.now, outcomes_of(one.entries)
    notes = [now.notes] if now.notes else []
    notes += [entry.payload["text"] for entry in one.entries if entry.kind == "note"]
    changes = [entry for entry in one.entries if entry.kind == "amendment"]
    return [
        now.code,
        None if now.started_unix_ms is None else iso(now.started_unix_ms, now.utc_offset_min),
        now.couverture,
        now.method,
        "yes" if now.rehearsal else "no",
        now.operator,
        now.place,
        _scaled(now.room_centi_c, 100),
        _scaled(now.mass_mg, 1000),
        for_paper(allergen_words(allergens.of(one))),
        for_paper("\n".join(lot_words(lot, PLAIN) for lot in now.lots)),
        f"{now.curve.board_name} {now.curve.board_id:08x}",
        _scaled(now.uncertainty_centi_c, 100),
        _scaled(now.uncertainty_at_centi_c, 100),
        *(found.get(key) for key in _OUTCOMES),
        for_paper(
            "\n".join(f"{amendment_words(entry, PLAIN)} ({entry.why})" for entry in changes)
        ),
        "\n".join(notes),
    ]


def plain(one: AmendedBatch) -> dict[str, Any]:
    """All of a batch but the curve's bytes: as filed, as it stands, and its entries."""
    filed = one.filed
    return {
        "batch": filed.code,
        "started": None
        if filed.started_unix_ms is None
        else iso(filed.started_unix_ms, filed.utc_offset_min),
        "method": filed.method,
        "rehearsal": filed.rehearsal,
        "mistake": bool(one.now.mistake),
        "as_filed": _fields(filed, allergens.of_batch(filed.allergens, filed.lots))
        | {"couverture_allergens": _listed(filed.allergens)},
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
        "entries": [
            {
                "at": iso(entry.at_unix_ms, entry.utc_offset_min),
                "kind": entry.kind,
                "who": entry.who,
                "why": entry.why,
                "words": for_paper(entry_words(entry, PLAIN)),
                "holds": _holds(entry),
                "sha256": entry.hash,
            }
            for entry in one.entries
        ],
    }


def allergens_plain(found: Allergens) -> dict[str, Any]:
    """A batch's allergens for a script: a list, empty only if all was declared to hold none,
    null if nothing is named and something is not known; and what is not known."""
    return {
        "allergens": _listed(found.groups),
        "allergens_not_known": list(found.not_known),
    }


def _listed(groups: tuple[str, ...] | None) -> list[str] | None:
    return None if groups is None else list(groups)


def _holds(entry: Entry) -> dict[str, Any]:
    if entry.kind != "lot":
        return dict(entry.payload)
    # as stored, an empty list means that nothing is known
    return {**entry.payload, "allergens": _listed(lot_of(entry.payload).allergens)}


def _fields(batch: Any, found: Allergens) -> dict[str, Any]:
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


def lot_plain(lot: Lot) -> dict[str, Any]:
    """A lot for a script."""
    return {
        "ingredient": lot.ingredient,
        "lot": lot.lot,
        "maker": lot.supplier,
        "mass_g": _scaled(lot.mass_mg, 1000),
        "allergens": _listed(lot.allergens),
    }


def _scaled(value: int | None, by: int) -> float | None:
    return None if value is None else value / by
