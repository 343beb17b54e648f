"""Search words: what a batch is found by, the same on every database.

Each word is a key of a field ("text" for all that a person may have written or read; the
others are whole names), with case, accents' form and spaces made alike. They follow from
the batch and its entries alone, so `Notebook.check` can work them out anew.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

# Databases limit what an index entry holds; PostgreSQL's is about 2,700 bytes.
_LONGEST = 100
_KEPT = 60
# str.split() and this agree on letters and digits of every script, not on punctuation
_WORD = re.compile(r"\w+")

Keys = set[tuple[str, str]]


def key_of(text: str) -> str:
    """A whole name as a key: NFKC, case folded, spaces made one; long ones by their hash."""
    alike = " ".join(unicodedata.normalize("NFKC", text).casefold().split())
    if len(alike) <= _LONGEST:
        return alike
    return alike[:_KEPT] + "#" + hashlib.sha256(alike.encode()).hexdigest()[:32]


def words_of(text: str) -> list[str]:
    """The words of a text as keys."""
    return [key_of(word) for word in _WORD.findall(unicodedata.normalize("NFKC", text))]


def of_batch(head: Mapping[str, Any], board_name: str) -> Keys:
    """Keys of a batch's own row and of its board's name."""
    keys = _whole("operator", head["operator"]) | _words("couverture", head["couverture"])
    texts = ("couverture", "method", "operator", "notes", "place")
    for text in (*(head[name] for name in texts), board_name):
        keys |= _words("text", text)
    return keys


def of_lot(lot: Mapping[str, Any]) -> Keys:
    """Keys of one of its lots."""
    keys = _whole("lot", lot["lot"])
    for name in ("ingredient", "supplier", "lot"):
        keys |= _words("text", lot[name])
    return keys


def of_entry(kind: str, who: str, why: str, payload: Mapping[str, Any]) -> Keys:
    """Keys of an entry on the batch."""
    keys: Keys = set()
    for text in (who, why, *_texts(payload.values())):
        keys |= _words("text", text)
    if kind == "amendment" and payload["field"] in ("couverture", "operator"):
        by = _words if payload["field"] == "couverture" else _whole
        keys |= by(payload["field"], payload["value"])
    if kind == "amendment" and payload["field"] == "mistake":
        keys |= {("mistake", "yes" if payload["value"] else "no")}
    if kind == "outcome":
        keys |= {("outcome", payload["value"]), ("outcome", outcome_key(payload))}
    return keys


def outcome_key(payload: Mapping[str, Any]) -> str:
    """Such as "bloom=marked"."""
    return f"{payload['what']}={payload['value']}"


def _whole(field: str, text: str | None) -> Keys:
    return {(field, key_of(text))} if text and text.strip() else set()


def _words(field: str, text: str | None) -> Keys:
    return {(field, word) for word in words_of(text or "")}


def _texts(values: Iterable[Any]) -> Iterable[str]:
    for value in values:
        if isinstance(value, str):
            yield value
        elif isinstance(value, list | tuple):
            yield from _texts(value)
