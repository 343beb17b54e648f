"""Checks of what comes from outside and is to be filed: entries, and the texts of batches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.records import NewBatch, NewEntry
from snapcurve.notebook.vocabulary import (
    ALLERGEN_GROUPS,
    AMENDABLE,
    BLOOM_AFTER_DAYS,
    DEVIATIONS,
    DISPOSITIONS,
    ENTRY_KINDS,
    HOLD_STATES,
    OTHER,
    OUTCOMES,
    VERIFIED,
    stored_groups,
)
from snapcurve.shown.units import BATCH_MAX_G, PLAIN, ROOM_C

_LARGEST = 2**63 - 1
_DAY_MS = 86_400_000
LONGEST_TEXT = 4_000
"""Characters of a text in an entry; a sheet has a page for that."""
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
    # "name" is its file's, without folders; the notebook adds "sha256" and "size_bytes" of the
    # picture as it is kept
    "picture": {"name": str},
    # the fields of records.Lot, the allergens as vocabulary.stored_groups has them;
    # "replaces" is the lot it stands in place of
    "lot": {"ingredient": str, "lot": str},
    "cleaning": {"text": str},
    # the fields of records.Made; "replaces" is the name of what it stands in place of
    "made": {"name": str},
    # one step about the deviation of this kind (vocabulary.DEVIATIONS) that began at so many
    # seconds of the record
    "deviation": {"of": str, "at_s": int},
    # whether a lot may be used, and why
    "hold": {"lot": str, "state": str, "text": str},
    # what is set for a day at a bench, "" for one without a name: all of it, day.held_of
    "day": {"day": str, "bench": object},
}
"""What the payload of each kind must hold."""

_OPTIONAL: Mapping[str, Mapping[str, type]] = {
    "amendment": {"takes": list},
    "outcome": {"after_days": int},
    "dip_test": {"mark": int, "set_s": int, "text": str},
    "picture": {"text": str},
    "lot": {
        "supplier": str,
        "mass_mg": int,
        "allergens": list,
        "best_before": str,
        "replaces": str,
    },
    # "verified" one of vocabulary.VERIFIED
    "cleaning": {"place": str, "how": str, "verified": str},
    "made": {"pieces": int, "mass_mg": int, "best_before": str, "where": str, "replaces": str},
    "deviation": {"action": str, "disposition": str, "review": str, "text": str},
    "day": {
        "place": str,
        "operator": str,
        "room_centi_c": int,
        "mass_mg": int,
        "lots": object,
    },
}
_TYPES = {str: "text", int: "whole number", list: "list of words", object: "value"}
_OF_THE_BENCH = ("note", "cleaning", "picture", "hold", "day")
_NEVER_OF_A_BATCH = ("hold", "day")


def checked_entry(new: NewEntry, on_batch: bool) -> dict[str, Any]:
    """The payload to be filed; SnapcurveError for an entry that would say nothing."""
    if new.kind not in ENTRY_KINDS:
        raise SnapcurveError(f"There is no entry {new.kind!r}; use {', '.join(ENTRY_KINDS)}.")
    if not on_batch and new.kind not in _OF_THE_BENCH:
        raise SnapcurveError(f"An entry of kind {new.kind} belongs to a batch; name one.")
    if on_batch and new.kind in _NEVER_OF_A_BATCH:
        raise SnapcurveError(f"An entry of kind {new.kind} belongs to no batch; name none.")
    if not new.who.strip():
        raise SnapcurveError("The entry names nobody; say who makes it.")
    payload = _typed(new)
    refuse_lossy("entry", [new.who, new.why, payload])
    _refuse_long(new, payload)
    if new.kind == "amendment":
        _check_amendment(new, payload)
    elif new.kind == "outcome":
        _check_outcome(payload)
    elif new.kind == "made":
        _check_made(payload)
    elif new.kind == "deviation":
        _check_deviation(payload)
    elif new.kind == "day":
        check_day(payload["day"])
        check_conditions(payload.get("room_centi_c"), payload.get("mass_mg"))
    elif new.kind in ("hold", "cleaning"):
        _check_word(payload, "state", HOLD_STATES)
        _check_word(payload, "verified", VERIFIED)
    check_day(payload.get("best_before"))
    if (new.kind == "picture") != (new.picture is not None):
        raise SnapcurveError("A picture belongs to an entry of that kind; give both or neither.")
    check_allergens(payload.get("allergens"))
    if new.kind == "lot" and "allergens" in payload:
        payload["allergens"] = stored_groups(payload["allergens"])
    return payload


def check_moment(
    new: NewEntry, payload: Mapping[str, Any], at_unix_ms: int, began_unix_ms: int | None
) -> None:
    """SnapcurveError for an entry of a moment that cannot be: said to be from before its batch
    began, or about bloom after days that have not gone by (half a day is allowed for).

    An entry of now is never before: then the clock is wrong, and what is said is dear.
    """
    if began_unix_ms is None:
        return
    if new.at_unix_ms is not None and at_unix_ms < began_unix_ms:
        raise SnapcurveError("The entry is dated before its batch began; check its day and time.")
    days = payload.get("after_days")
    if days is not None and at_unix_ms < began_unix_ms + (days - 0.5) * _DAY_MS:
        raise SnapcurveError(
            f"Bloom after {days} {'day' if days == 1 else 'days'} cannot be seen so soon after"
            " the batch began; look then, or write a note of what is seen now."
        )


def check_conditions(room_centi_c: int | None, mass_mg: int | None) -> None:
    """SnapcurveError for a room in which nobody works and for a batch of no or too much mass."""
    low_c, high_c = ROOM_C
    if room_centi_c is not None and not low_c <= room_centi_c / 100 <= high_c:
        raise SnapcurveError(
            f"A room cannot be at {PLAIN.temperature(room_centi_c / 100)}; it is"
            f" {PLAIN.window(low_c, high_c)}."
        )
    if mass_mg is not None and not 0 < mass_mg <= BATCH_MAX_G * 1000:
        raise SnapcurveError(
            f"A batch cannot have {PLAIN.mass(mass_mg / 1000)}; it has more than nothing and at"
            f" most {PLAIN.mass(BATCH_MAX_G)}."
        )


def check_batch(new: NewBatch) -> None:
    """SnapcurveError for a batch with a text or number that some database would lose, or
    with an allergen group that is none."""
    for what, content in {
        "couverture's name": new.couverture,
        "couverture's file": new.couverture_toml,
        "operator's name": new.operator,
        "notes": new.notes,
        "board's name": new.curve.board_name,
        "place": new.place,
        "mass": new.mass_mg,
        "lots": [list(vars(lot).values()) for lot in new.lots],
    }.items():
        refuse_lossy(what, content)
    for groups in (new.allergens, *(lot.allergens for lot in new.lots)):
        check_allergens(groups)
    for lot in new.lots:
        check_day(lot.best_before)


def check_allergens(groups: Iterable[str] | None) -> None:
    """SnapcurveError for a group that is in no list and no word of one's own (OTHER)."""
    for group in groups or ():
        own = group.removeprefix(OTHER) if group.startswith(OTHER) else ""
        if group not in ALLERGEN_GROUPS and not (own.strip() and "," not in own):
            raise SnapcurveError(
                f"There is no allergen group {group!r}; use {', '.join(ALLERGEN_GROUPS)}, or"
                f" {OTHER}WORD for another."
            )


def refuse_lossy(what: str, value: Any) -> None:
    """SnapcurveError for a text or number in `value` that some database would lose.

    NUL ends a text in some databases; half a surrogate pair has no UTF-8 form.
    """
    if isinstance(value, str):
        if any(char == "\0" or "\ud800" <= char <= "\udfff" for char in value):
            raise SnapcurveError(
                f"The {what} contains a character that cannot be stored; type it anew."
            )
    elif isinstance(value, int):
        if abs(value) > _LARGEST:
            raise SnapcurveError(
                f"The {what} holds a number too large to be stored; write a smaller one."
            )
    elif isinstance(value, dict):
        refuse_lossy(what, [*value.keys(), *value.values()])
    elif isinstance(value, list | tuple):
        for inner in value:
            refuse_lossy(what, inner)


def _typed(new: NewEntry) -> dict[str, Any]:
    """The payload, tuples as lists, without what is None; each value of its type."""
    payload = {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in new.payload.items()
        if value is not None or key == "value"
    }
    required, optional = PAYLOADS[new.kind], _OPTIONAL.get(new.kind, {})
    of_kind = f"an entry of kind {new.kind}"
    for key in required:
        if key not in payload:
            raise SnapcurveError(f"The {key} of {of_kind} is missing; add it.")
    for key, value in payload.items():
        kind = required.get(key) or optional.get(key)
        if kind is None:
            names = ", ".join((*required, *optional))
            raise SnapcurveError(f"There is no {key!r} in {of_kind}; use {names}.")
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            raise SnapcurveError(f"The {key} of {of_kind} is no {_TYPES[kind]}; write one.")
        if kind is str and key in required and not str(value).strip():
            raise SnapcurveError(f"The {key} of {of_kind} is empty; write one.")
        if kind is list and not _are_words(value):
            raise SnapcurveError(f"The {key} of {of_kind} is no {_TYPES[kind]}; write one.")
    return payload


def _refuse_long(new: NewEntry, payload: Mapping[str, Any]) -> None:
    for name, text in {**payload, "reason": new.why, "name of the person": new.who}.items():
        if isinstance(text, str) and len(text) > LONGEST_TEXT:
            raise SnapcurveError(
                f"The {name} of an entry of kind {new.kind} has {len(text)} characters; write at"
                f" most {LONGEST_TEXT}."
            )


def _are_words(value: Any) -> bool:
    return all(isinstance(one, str) for one in value)


def _check_amendment(new: NewEntry, payload: Mapping[str, Any]) -> None:
    name, value = payload["field"], payload["value"]
    if not new.why.strip():
        raise SnapcurveError("The amendment has no reason; say why.")
    if name not in AMENDABLE:
        raise SnapcurveError(
            f"{name!r} of a batch cannot be amended; use {', '.join(AMENDABLE)}, or a note."
        )
    takes = payload.get("takes", ())
    if takes and name != "allergens":
        raise SnapcurveError(f"A batch's {name} cannot be taken away; only allergens can.")
    check_allergens(takes)
    if both := [group for group in takes if value is None or group in value]:
        also = "not known" if value is None else "named"
        raise SnapcurveError(
            f"{', '.join(both)} cannot be taken away and {also} at once; say what is meant."
        )
    if value is None and name not in ("couverture", "mistake"):
        return
    kind: Any = AMENDABLE[name]
    if (
        not isinstance(value, kind)
        or isinstance(value, bool) != (kind is bool)
        or (kind is list and not _are_words(value))
    ):
        raise SnapcurveError(f"{value!r} cannot be a batch's {name}; write another one.")
    if name == "couverture" and not value.strip():
        raise SnapcurveError("A batch's couverture cannot be empty; write its name.")
    if name == "room_centi_c":
        check_conditions(value, None)
    if name == "mass_mg":
        check_conditions(None, value)
    if kind is list:
        check_allergens(value)


def _check_made(payload: Mapping[str, Any]) -> None:
    if payload.get("pieces", 1) < 1 or payload.get("mass_mg", 1) < 1:
        raise SnapcurveError("What was made has more than no pieces and no mass; write how much.")


def _check_word(payload: Mapping[str, Any], name: str, words: Sequence[str]) -> None:
    if payload.get(name, words[0]) not in words:
        raise SnapcurveError(f"{payload[name]!r} is not understood; use {', '.join(words)}.")


def _check_deviation(payload: Mapping[str, Any]) -> None:
    if payload["of"] not in DEVIATIONS:
        raise SnapcurveError(f"There is no deviation {payload['of']!r}; use one of {DEVIATIONS}.")
    steps = [name for name in ("action", "disposition", "review") if name in payload]
    if len(steps) != 1 or not str(payload[steps[0]]).strip():
        raise SnapcurveError("An entry on a deviation is one step; say what was done.")
    if payload.get("disposition", DISPOSITIONS[0]) not in DISPOSITIONS:
        raise SnapcurveError(
            f"Chocolate cannot be {payload['disposition']!r}; use {', '.join(DISPOSITIONS)}."
        )


def check_day(day: str | None) -> None:
    """SnapcurveError for a day that is none in ISO 8601."""
    try:
        if day is not None and date.fromisoformat(day).isoformat() != day:
            raise ValueError
    except ValueError as error:
        raise SnapcurveError(f"{day!r} is not a day: write it as 2027-05-01.") from error


def _check_outcome(payload: Mapping[str, Any]) -> None:
    what, value, days = payload["what"], payload["value"], payload.get("after_days")
    if what not in OUTCOMES:
        raise SnapcurveError(f"There is no outcome {what!r}; use {', '.join(OUTCOMES)}.")
    if value not in OUTCOMES[what]:
        raise SnapcurveError(
            f"{what.capitalize()} cannot be {value!r}; use {', '.join(OUTCOMES[what])}."
        )
    if what == "bloom" and days not in BLOOM_AFTER_DAYS:
        allowed = ", ".join(map(str, BLOOM_AFTER_DAYS))
        raise SnapcurveError(f"Bloom is looked for after {allowed} days; say which.")
    if what != "bloom" and days is not None:
        raise SnapcurveError(f"{what.capitalize()} is judged at once; leave the days out.")
