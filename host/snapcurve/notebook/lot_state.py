"""Whether a lot may go into a batch: its date, and whether somebody holds it. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from snapcurve.notebook.descriptions import day_words
from snapcurve.notebook.records import Entry, Lot
from snapcurve.notebook.search_words import key_of
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style, local


def on_hold(entries: Iterable[Entry]) -> dict[str, Entry]:
    """The lots that are on hold, by their key, and the entry that says so."""
    held: dict[str, Entry] = {}
    for entry in entries:
        if entry.kind == "hold":
            held[key_of(entry.payload["lot"])] = entry
    return {key: entry for key, entry in held.items() if entry.payload["state"] == "on hold"}


def hold_sentences(
    held: Mapping[str, Entry], style: Style, lots: Iterable[Lot] | None = None
) -> list[str]:
    """Which lots are on hold, or which of these, since when, by whom and why."""
    found = held
    if lots is not None:
        found = {key: held[key] for lot in lots if (key := key_of(lot.lot)) in held}
    return [
        f"Lot {on_one_line(entry.payload['lot'])} was put on hold on"
        f" {style.day(local(entry.at_unix_ms, entry.utc_offset_min))} by {on_one_line(entry.who)}:"
        f" {on_one_line(entry.payload['text'])}."
        for entry in found.values()
    ]


def troubles(lot: Lot, day: str, held: Mapping[str, Entry], style: Style) -> list[str]:
    """What speaks against this lot in a batch of ``day`` (ISO 8601), each as a sentence's part."""
    found, name = [], on_one_line(lot.lot)
    if lot.best_before is not None and lot.best_before < day:
        found.append(
            f"Lot {name} was best before {day_words(lot.best_before, style)}, and the batch is of"
            f" {day_words(day, style)}"
        )
    if (entry := held.get(key_of(lot.lot))) is not None:
        found.append(
            f"Lot {name} is on hold since {entry.who} said: {on_one_line(entry.payload['text'])}"
        )
    return found
