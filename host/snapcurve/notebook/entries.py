"""A batch as its entries leave it. No database here."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.records import AmendedBatch, Batch, Change, Entry, Lot, Made
from snapcurve.notebook.vocabulary import read_groups
from snapcurve.recording.dips import dip_numbers

SAME_S = 30  # a later version may see the same deviation begin some seconds earlier or later


def lot_of(payload: Mapping[str, Any]) -> Lot:
    """The lot that an entry of kind "lot" adds."""
    return Lot(
        ingredient=payload["ingredient"],
        lot=payload["lot"],
        supplier=payload.get("supplier", ""),
        mass_mg=payload.get("mass_mg"),
        allergens=read_groups(payload.get("allergens", ())),
        best_before=payload.get("best_before"),
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


def made_of(entries: Iterable[Entry]) -> tuple[Made, ...]:
    """What was made of a batch, as it stands after its entries."""
    found: list[Made] = []
    for entry in entries:
        if entry.kind == "made":
            replaced = entry.payload.get("replaces")
            found = [one for one in found if one.name != replaced]
            values = {name: value for name, value in entry.payload.items() if name != "replaces"}
            found.append(Made(**values))
    return tuple(found)


def same_deviation(payload: Mapping[str, Any], of: str, record_s: float) -> bool:
    """Whether an entry of kind "deviation" is about the one of this kind at this second."""
    return bool(payload["of"] == of) and abs(int(payload["at_s"]) - record_s) <= SAME_S


def refuse_own_review(before: Iterable[Entry], payload: Mapping[str, Any], who: str) -> None:
    """SnapcurveError for a review of what was not handled yet, or by a person who handled it."""
    if "review" not in payload:
        return
    before = list(before)
    own = [
        entry
        for entry in before
        if entry.kind == "deviation"
        and same_deviation(entry.payload, payload["of"], payload["at_s"])
    ]
    actions = [entry for entry in own if "action" in entry.payload]
    actions = actions or [entry for entry in before if entry.kind == "correction"]
    dispositions = [entry for entry in own if "disposition" in entry.payload]
    if not actions or not dispositions:
        missing = "--disposition" if actions else "--action"
        raise SnapcurveError(
            f"There is nothing to review yet: say first what was done, with {missing}."
        )
    if who.strip().casefold() in {
        entry.who.strip().casefold() for entry in (*actions, *dispositions)
    }:
        raise SnapcurveError(
            f"{who} handled this deviation, so somebody else reviews it: give --by NAME."
        )


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
