"""What each kind of entry holds, and a batch as its entries leave it. No database here."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Mapping
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.canonical import refuse_lossy
from snapcurve.notebook.records import AmendedBatch, Batch, Change, Entry, Lot, NewEntry
from snapcurve.notebook.vocabulary import (
    ALLERGEN_GROUPS,
    AMENDABLE,
    BLOOM_AFTER_DAYS,
    ENTRY_KINDS,
    OUTCOMES,
    read_groups,
    stored_groups,
)

PAYLOADS: Mapping[str, Mapping[str, type]] = {
    "note": {"text": str},
    # "was" is added by the notebook: what the field held before, of allergens the whole
    # batch's; "takes" are groups that the batch does not hold although something names them
    "amendment": {"field": str, "value": object},
    # of bloom also "after_days", one of BLOOM_AFTER_DAYS
    "outcome": {"what": str, "value": str},
    # "mark" is the number of the board's mark, "set_s" how long the blade took to set
    "dip_test": {"result": str},
    "correction": {"text": str},
    # "sha256" is that of the file at `path` when the entry was made, 64 hexadecimal digits
    "picture": {"path": str, "sha256": str},
    # the fields of records.Lot, the allergens as vocabulary.stored_groups has them;
    # "replaces" is the lot it stands in place of
    "lot": {"ingredient": str, "lot": str},
    "cleaning": {"text": str},
}
"""What the payload of each kind must hold; other keys may stand beside them."""

_OPTIONAL: Mapping[str, Mapping[str, type]] = {
    "amendment": {"takes": list},
    "outcome": {"after_days": int},
    "dip_test": {"mark": int, "set_s": int, "text": str},
    "picture": {"text": str},
    "lot": {"supplier": str, "mass_mg": int, "allergens": list, "replaces": str},
    "cleaning": {"place": str},
}
_OF_THE_BENCH = ("note", "cleaning", "picture")


def checked(new: NewEntry, on_batch: bool) -> dict[str, Any]:
    """The payload to be filed; SnapcurveError for an entry that would say nothing."""
    if new.kind not in ENTRY_KINDS:
        raise SnapcurveError(f"There is no entry {new.kind!r}; use {', '.join(ENTRY_KINDS)}.")
    if not on_batch and new.kind not in _OF_THE_BENCH:
        raise SnapcurveError(f"An entry of kind {new.kind} belongs to a batch; name one.")
    if not new.who.strip():
        raise SnapcurveError("An entry needs the name of the person who makes it.")
    payload = _typed(new)
    refuse_lossy("entry", [new.who, new.why, payload])
    if new.kind == "amendment":
        _check_amendment(new, payload)
    elif new.kind == "outcome":
        _check_outcome(payload)
    elif new.kind == "picture" and not re.fullmatch(r"[0-9a-f]{64}", payload["sha256"]):
        raise SnapcurveError("A picture's SHA-256 is 64 hexadecimal digits in small letters.")
    elif new.kind == "lot" and not payload["lot"].strip():
        raise SnapcurveError("A lot needs its number as it stands on the package.")
    check_allergens(payload.get("allergens"))
    if new.kind == "lot" and "allergens" in payload:
        payload["allergens"] = stored_groups(payload["allergens"])
    return payload


def lot_of(payload: Mapping[str, Any]) -> Lot:
    """The lot that an entry of kind "lot" adds."""
    return Lot(
        ingredient=payload["ingredient"],
        lot=payload["lot"],
        supplier=payload.get("supplier", ""),
        mass_mg=payload.get("mass_mg"),
        allergens=read_groups(payload.get("allergens", ())),
    )


def check_allergens(groups: Iterable[str] | None) -> None:
    """SnapcurveError for a group that is not in the list."""
    for group in groups or ():
        if group not in ALLERGEN_GROUPS:
            raise SnapcurveError(
                f"There is no allergen group {group!r}; use {', '.join(ALLERGEN_GROUPS)}."
            )


def amended(filed: Batch, entries: Iterable[Entry]) -> AmendedBatch:
    """The batch as it stands after its entries, and which of them changed what."""
    now, changes, kept = filed, [], tuple(entries)
    for entry in kept:
        if entry.kind == "amendment":
            name = entry.payload["field"]
            value = entry.payload["value"]
            value = tuple(value) if isinstance(value, list) else value
            changes.append(Change(name, getattr(now, name), value, entry))
            changed: dict[str, Any] = {name: value}
            now = dataclasses.replace(now, **changed)
        elif entry.kind == "lot":
            lots, gone = lots_after(now.lots, entry)
            changes.extend(Change("lots", lot, None, entry) for lot in gone[1:])
            changes.append(Change("lots", gone[0] if gone else None, lots[-1], entry))
            now = dataclasses.replace(now, lots=lots)
    return AmendedBatch(filed, now, tuple(changes), kept)


def lots_after(lots: tuple[Lot, ...], entry: Entry) -> tuple[tuple[Lot, ...], tuple[Lot, ...]]:
    """Lots after an entry of kind "lot", the new one last, and those that it replaces."""
    replaced = entry.payload.get("replaces")
    gone = tuple(lot for lot in lots if lot.lot == replaced)
    kept = tuple(lot for lot in lots if lot.lot != replaced)
    return (*kept, lot_of(entry.payload)), gone


def _typed(new: NewEntry) -> dict[str, Any]:
    """The payload, tuples as lists, without what is None; each value of its type."""
    payload = {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in new.payload.items()
        if value is not None or key == "value"
    }
    needed, optional = PAYLOADS[new.kind], _OPTIONAL.get(new.kind, {})
    for key in needed:
        if key not in payload:
            raise SnapcurveError(f"An entry of kind {new.kind} needs its {key}.")
    for key, value in payload.items():
        kind = needed.get(key) or optional.get(key)
        if kind is None:
            raise SnapcurveError(f"An entry of kind {new.kind} has no {key!r}.")
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            raise SnapcurveError(f"The {key} of an entry of kind {new.kind} is not one.")
        if kind is str and key in needed and not str(value).strip():
            raise SnapcurveError(f"The {key} of an entry of kind {new.kind} is empty.")
        if kind is list and not _are_words(value):
            raise SnapcurveError(f"The {key} of an entry of kind {new.kind} is not words.")
    return payload


def _are_words(value: Any) -> bool:
    return all(isinstance(one, str) for one in value)


def _check_amendment(new: NewEntry, payload: Mapping[str, Any]) -> None:
    name, value = payload["field"], payload["value"]
    if not new.why.strip():
        raise SnapcurveError("An amendment needs its reason.")
    if name not in AMENDABLE:
        raise SnapcurveError(
            f"{name!r} of a batch cannot be amended; use {', '.join(AMENDABLE)}, or a note."
        )
    takes = payload.get("takes", ())
    if takes and name != "allergens":
        raise SnapcurveError(f"Only allergens are taken away, not a batch's {name}.")
    check_allergens(takes)
    if both := [group for group in takes if value is None or group in value]:
        also = "not known" if value is None else "named"
        raise SnapcurveError(
            f"{', '.join(both)} cannot be taken away and {also} at once; say what is meant."
        )
    wanted: Any = AMENDABLE[name]
    if value is None and name not in ("couverture", "mistake"):
        return
    if not isinstance(value, wanted) or isinstance(value, bool) != (wanted is bool):
        raise SnapcurveError(f"{value!r} cannot be a batch's {name}.")
    if wanted is list:
        if not _are_words(value):
            raise SnapcurveError(f"{value!r} cannot be a batch's {name}.")
        check_allergens(value)


def _check_outcome(payload: Mapping[str, Any]) -> None:
    what, value, days = payload["what"], payload["value"], payload.get("after_days")
    if what not in OUTCOMES:
        raise SnapcurveError(f"There is no outcome {what!r}; use {', '.join(OUTCOMES)}.")
    if value not in OUTCOMES[what]:
        raise SnapcurveError(f"{what} is {', '.join(OUTCOMES[what])}, not {value!r}.")
    if what == "bloom" and days not in BLOOM_AFTER_DAYS:
        allowed = ", ".join(map(str, BLOOM_AFTER_DAYS))
        raise SnapcurveError(f"Bloom is looked for after {allowed} days; say which.")
    if what != "bloom" and days is not None:
        raise SnapcurveError(f"Only bloom is judged after days, {what} at once.")
