"""One way to write JSON and rows as bytes, so that the same content has the same hash."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from snapcurve.errors import SnapcurveError

_LARGEST = 2**63 - 1


def to_json(value: Any) -> str:
    """Keys sorted, no spaces, characters as they are."""
    return json.dumps(
        value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
    )


def row_bytes(values: Iterable[Any]) -> bytes:
    """The values of a row, each with its type and length, so that no two rows are alike.

    None is ``n;``, an integer or truth value ``i12;``, text ``t5:`` and its UTF-8, bytes
    ``b5:`` and themselves, a floating-point number (no column has any; a damaged one may)
    ``f`` and its shortest text.
    """
    return b"".join(_value_bytes(value) for value in values)


def _value_bytes(value: Any) -> bytes:
    if value is None:
        return b"n;"
    if isinstance(value, int):
        return b"i%d;" % value
    if isinstance(value, float):
        return b"f%r;" % value
    if isinstance(value, str):
        # SQLite keeps bytes that are no text in a column of texts; see sqlite_file.read_any_text
        encoded = value.encode(errors="surrogateescape")
        return b"t%d:%b" % (len(encoded), encoded)
    content = bytes(value)
    return b"b%d:%b" % (len(content), content)


def refuse_lossy(what: str, value: Any) -> None:
    """Raise SnapcurveError for a text or number in `value` that some database would lose.

    NUL ends a text in some databases; half a surrogate pair has no UTF-8 form.
    """
    if isinstance(value, str):
        if any(char == "\0" or "\ud800" <= char <= "\udfff" for char in value):
            raise SnapcurveError(
                f"The {what} contains a character that cannot be stored; type it anew."
            )
    elif isinstance(value, int):
        if abs(value) > _LARGEST:
            raise SnapcurveError(f"The {what} holds a number too large to be stored.")
    elif isinstance(value, dict):
        for key, inner in value.items():
            refuse_lossy(what, key)
            refuse_lossy(what, inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            refuse_lossy(what, inner)
