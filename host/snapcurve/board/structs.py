"""The message catalogue as ``construct`` structs.

Built from the same records as the board's codec. Unknown choices, trailing bytes and
numbers out of range are errors here too: `construct` lets the first two pass unless told
otherwise, hence Mapping and Terminated.
"""

from collections.abc import Sequence
from functools import cache
from typing import Any

import construct as c

from snapcurve.shown.plain_text import visible
from snapcurve.wire import codec

Record = tuple[tuple[Any, ...], ...]  # as catalogue.py says

_INTEGERS = {
    "b": c.Int8sl,
    "B": c.Int8ul,
    "h": c.Int16sl,
    "H": c.Int16ul,
    "i": c.Int32sl,
    "I": c.Int32ul,
}


def _text(size: int) -> Any:
    """UTF-8 filled up with zero bytes, and none within it."""
    return c.ExprValidator(
        c.PaddedString(size, "utf8"), lambda text, _: isinstance(text, str) and "\0" not in text
    )


def _tail(longest: int) -> Any:
    """The rest of the payload, bounded."""
    return c.ExprValidator(
        c.GreedyBytes, lambda raw, _: isinstance(raw, bytes | bytearray) and len(raw) <= longest
    )


def _field(row: Sequence[Any]) -> Any:
    name, code = row[0], row[1]
    if code == "*":
        return name / _tail(row[2])
    if code.endswith("s"):
        return name / _text(int(code[:-1]))
    if len(row) == 3:
        return name / c.Mapping(
            _INTEGERS[code], {word: number for number, word in enumerate(row[2])}
        )
    return name / _INTEGERS[code]


@cache
def struct_of(record: Record) -> Any:
    """A construct for a record of the catalogue that takes no byte too many."""
    return c.Struct(*[_field(row) for row in record], c.Terminated)


def parse(record: Record, data: bytes) -> dict[str, Any]:
    """``data`` as a plain dictionary in field order; construct.ConstructError if it breaks
    the catalogue. A board may say what it likes, so here its texts are made harmless."""
    values = parse_exactly(record, data)
    return {name: visible(one) if isinstance(one, str) else one for name, one in values.items()}


def parse_exactly(record: Record, data: bytes) -> dict[str, Any]:
    """As ``parse``, texts as they are."""
    parsed = struct_of(record).parse(data)
    return {row[0]: parsed[row[0]] for row in record}


def parse_rows(record: Record, data: bytes) -> list[dict[str, Any]]:
    """The rows of ``record`` that ``data`` holds, each as ``parse`` has it."""
    size = codec.fixed_size(record)
    return [parse(record, data[at : at + size]) for at in range(0, len(data), size)]


def build(record: Record, values: dict[str, Any]) -> bytes:
    """``values`` as bytes; construct.ConstructError or KeyError if they do not fit."""
    return bytes(struct_of(record).build(values))
