"""From a batch's lots and entries to what its sheet says of them."""

from collections.abc import Iterable

from snapcurve.notebook.descriptions import days_words, entry_line, entry_words
from snapcurve.notebook.records import AmendedBatch, Entry
from snapcurve.report import sheet_matter as m
from snapcurve.shown.dates import local
from snapcurve.shown.plain_text import for_paper
from snapcurve.shown.quantities import Style


def lots(batch: AmendedBatch) -> tuple[m.Lot, ...]:
    """The couverture's own allergens in a row of their own if they are known, then every lot."""
    found = [
        m.Lot(
            ingredient=lot.ingredient,
            lot=lot.lot,
            maker=lot.supplier,
            mass_g=None if lot.mass_mg is None else lot.mass_mg / 1000,
            allergens=lot.allergens,
        )
        for lot in batch.now.lots
    ]
    own = batch.filed.allergens
    if own is not None:
        found.insert(0, m.Lot(batch.now.couverture, use="couverture", allergens=own))
    return tuple(found)


def corrections(found: AmendedBatch) -> tuple[m.Correction, ...]:
    """With the second into the curve if they were noted while it ran."""
    started, rows = found.filed.started_unix_ms, []
    for entry in found.entries:
        if entry.kind == "correction":
            at_s = None if started is None else (entry.at_unix_ms - started) / 1000
            last_ms = max((alarm.offset_ms for alarm in found.filed.alarms), default=0)
            if at_s is not None and not 0 <= at_s * 1000 <= last_ms:
                at_s = None
            rows.append(m.Correction(at_s, f"{entry.payload['text']} ({entry.who})"))
    return tuple(rows)


def outcomes(entries: Iterable[Entry]) -> tuple[m.Outcome, ...]:
    """Every finding, a later one too where it stands against an earlier."""
    return tuple(
        m.Outcome(
            moment=local(entry.at_unix_ms, entry.utc_offset_min),
            after=days_words(days) if (days := entry.payload.get("after_days")) else "",
            what=entry.payload["what"],
            finding=entry.payload["value"],
            who=entry.who,
        )
        for entry in entries
        if entry.kind == "outcome"
    )


def amendments(entries: Iterable[Entry], style: Style) -> tuple[m.Amendment, ...]:
    """Amended fields and lots that were noted after filing."""
    return tuple(
        m.Amendment(
            moment=local(entry.at_unix_ms, entry.utc_offset_min),
            who=entry.who,
            why=entry.why or "noted later",
            what=("lot: " if entry.kind == "lot" else "") + for_paper(entry_words(entry, style)),
        )
        for entry in entries
        if entry.kind in ("amendment", "lot")
    )


def notes(found: AmendedBatch, style: Style) -> tuple[str, ...]:
    """What was filed as a note, then notes and cleanings with who and when."""
    first = (found.now.notes,) if found.now.notes else ()
    later = [
        for_paper(entry_line(entry, style))
        for entry in found.entries
        if entry.kind in ("note", "cleaning")
    ]
    return (*first, *later)


def pictures(entries: Iterable[Entry], style: Style) -> tuple[str, ...]:
    """Where each is, and its SHA-256."""
    return tuple(
        for_paper(entry_line(entry, style)) for entry in entries if entry.kind == "picture"
    )
