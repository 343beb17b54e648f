"""A batch as its entries leave it. No database here."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from snapcurve.notebook.records import AmendedBatch, Batch, Change, Entry, Lot
from snapcurve.notebook.vocabulary import read_groups
from snapcurve.recording.dips import dip_numbers


def lot_of(payload: Mapping[str, Any]) -> Lot:
    """The lot that an entry of kind "lot" adds."""
    return Lot(
        ingredient=payload["ingredient"],
        lot=payload["lot"],
        supplier=payload.get("supplier", ""),
        mass_mg=payload.get("mass_mg"),
        allergens=read_groups(payload.get("allergens", ())),
    )


def amended(filed: Batch, entries: Iterable[Entry]) -> AmendedBatch:
    """The batch as it stands after its entries, and which of them changed what."""
    now, changes, entries = filed, [], tuple(entries)
    for entry in entries:
        if entry.kind == "amendment":
            name, value = entry.payload["field"], entry.payload["value"]
            value = tuple(value) if isinstance(value, list) else value
            changes.append(Change(name, getattr(now, name), value, entry))
            changed: dict[str, Any] = {name: value}
            now = dataclasses.replace(now, **changed)
        elif entry.kind == "lot":
            lots, gone = lots_after(now.lots, entry)
            changes.extend(Change("lots", lot, None, entry) for lot in gone[1:])
            changes.append(Change("lots", gone[0] if gone else None, lots[-1], entry))
            now = dataclasses.replace(now, lots=lots)
    return AmendedBatch(filed, now, tuple(changes), entries)


def lots_after(lots: tuple[Lot, ...], entry: Entry) -> tuple[tuple[Lot, ...], tuple[Lot, ...]]:
    """Lots after an entry of kind "lot", the new one last, and those that it replaces."""
    replaced = entry.payload.get("replaces")
    gone = tuple(lot for lot in lots if lot.lot == replaced)
    left = tuple(lot for lot in lots if lot.lot != replaced)
    return (*left, lot_of(entry.payload)), gone


def outcomes_of(entries: Iterable[Entry]) -> dict[tuple[str, int | None], str]:
    """The newest word for each outcome, by what was judged and after how many days."""
    return {
        (entry.payload["what"], entry.payload.get("after_days")): entry.payload["value"]
        for entry in entries
        if entry.kind == "outcome"
    }


def dips_of(batch: Batch) -> dict[int, int]:
    """The number of each dip of a batch with its offset in ms, in the order of dipping."""
    marks = [mark for mark in batch.marks if mark.kind == "dip_test"]
    numbers = dip_numbers([mark.number for mark in marks])
    return dict(zip(numbers, (mark.offset_ms for mark in marks), strict=True))


def blades_with_offsets(batch: Batch, entries: Iterable[Entry]) -> list[tuple[float, Entry]]:
    """Filed results of test blades with the second each was dipped, in order of dipping.

    A result belongs to the mark it names, without a name to the last one; a later entry on
    the same mark stands in place of the earlier.
    """
    dips = dips_of(batch)
    found: dict[int, Entry] = {}
    for entry in entries:
        if entry.kind == "dip_test" and dips:
            number = entry.payload.get("mark") or max(dips, key=lambda one: dips[one])
            if number in dips:
                found[number] = entry
    return sorted(
        ((dips[number] / 1000, entry) for number, entry in found.items()), key=lambda two: two[0]
    )
