"""The README's tables, made from the catalogue: ``python protocol/readme_tables.py``.

The command rewrites what is between the markers, and a test compares it. A table's name is a
message, a record or a list of words of the catalogue.
"""

import re
import struct
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from markdown_tables import MarkerError, filled, table
from snapcurve.wire import catalogue, codec, curve, frame

README = Path(__file__).with_name("README.md")
TYPES = {
    "b": "signed 8", "B": "unsigned 8", "h": "signed 16", "H": "unsigned 16",
    "i": "signed 32", "I": "unsigned 32",
}  # fmt: skip
RECORDS = [
    name
    for name, value in vars(catalogue).items()
    if name.isupper() and isinstance(value, tuple) and isinstance(value[0], tuple)
    if name not in ("MESSAGES", "MOMENT", "READING") and not name.startswith("_")
]
CHOICES = [
    name
    for name, value in vars(catalogue).items()
    if name.isupper() and isinstance(value, tuple) and isinstance(value[0], str)
    if name not in ("FAULTS", "TROUBLES")
]
LIMITS = (
    ("PAYLOAD_MAX", "longest payload"),
    ("BODY_MAX", "longest body"),
    ("CURVE_CHUNK_MAX", "most bytes of a curve in one answer"),
    ("CURVE_ROWS_MAX", "most rows in one list of curves"),
    ("PROFILE_MAX", "longest profile"),
    ("PHASES_MAX", "most phases in a profile"),
    ("CALIBRATION_POINTS_MAX", "most points in a calibration"),
    ("CALIBRATION_MAX", "longest calibration"),
    ("CHAIN_ENDS_MAX", "most ends of chains that a board keeps"),
    ("BLOCK_MAX", "longest curve block"),
    ("BLOCK_SAMPLES", "most samples in a block"),
    ("BLOCK_FIRST_SAMPLES", "samples with which a block is first written"),
    ("BLOCK_EVENTS_MAX", "most events in a block"),
)


def _choice_name(words: Sequence[str]) -> str:
    return next(name for name in CHOICES if getattr(catalogue, name) is words)


def _type(field: Sequence[Any]) -> tuple[str, str]:
    """Bytes and kind of a field."""
    code = field[1]
    if code == "*":
        return f"0 to {field[2]}", "bytes, to the end"
    if code.endswith("s"):
        return code[:-1], "text"
    size = str(struct.calcsize("<" + code))
    if len(field) == 3:
        return size, f"word of {_choice_name(field[2])}"
    return size, TYPES[code]


def fields(record: Sequence[Any]) -> str:
    """Offset, bytes, name and kind of each field."""
    lines = []
    at = 0
    for field in record:
        size, kind = _type(field)
        lines.append([str(at), size, f"`{field[0]}`", kind])
        at += 0 if field[1] == "*" else struct.calcsize("<" + field[1])
    return table(["at", "bytes", "field", "kind"], lines)


def _size(record: Sequence[Any]) -> str:
    fixed = codec.fixed_size(record)
    if record and record[-1][1] == "*":
        return f"{fixed} to {fixed + record[-1][2]}"
    return str(fixed)


def messages() -> str:
    """All messages with number and length."""
    rows = [
        [f"{number:02X}", f"`{name}`", _size(message)]
        for number, name, message in sorted(catalogue.MESSAGES)
    ]
    return table(["number", "message", "payload bytes"], rows)


def choices() -> str:
    """All lists of words; the number of a word is its place."""
    rows = []
    for name in CHOICES:
        words = getattr(catalogue, name)
        rows.append([name, ", ".join(f"{at} `{word}`" for at, word in enumerate(words))])
    return table(["list", "number and word"], rows)


def bits(what: str, words: Iterable[str], digits: int) -> str:
    """Words of which each has a bit."""
    rows = [[f"{1 << place:0{digits}X}", f"`{name}`"] for place, name in enumerate(words)]
    return table(["bit", what], rows)


def limits() -> str:
    """Numbers that bound everything."""
    rows = [[what, str(getattr(catalogue, name))] for name, what in LIMITS]
    rows.insert(2, ["longest frame on the line, both zeros included", str(frame.FRAME_MAX)])
    rows.append(["ones before a number follows raw", str(curve.ESCAPE)])
    rows.append(["bits of a raw number", str(curve.RAW_BITS)])
    rows.append(["largest k", str(curve.K_MAX)])
    return table(["what", "number"], rows)


def tables() -> dict[str, str]:
    """Every table by the name of its marker; messages without fields need none."""
    made = {"messages": messages(), "choices": choices(), "limits": limits()}
    made["faults"] = bits("fault", catalogue.FAULTS, 4)
    made["troubles"] = bits("trouble", catalogue.TROUBLES, 2)
    for _, name, rows in catalogue.MESSAGES:
        if rows:
            made[name] = fields(rows)
    for name in RECORDS:
        made[name] = fields(getattr(catalogue, name))
    return made


def fill(text: str) -> str:
    """The README text with every table replaced. Raises MarkerError."""
    made = tables()
    marked = re.findall(r"<!-- table (\w+) -->", text)
    for name in sorted(set(marked) ^ set(made)):
        raise MarkerError(f"README.md: table {name} has no marker, or a marker no table.")
    return filled(text, made)


def main() -> int:
    """Rewrite the tables in README.md."""
    try:
        text = fill(README.read_text(encoding="utf-8"))
    except MarkerError as error:
        print(error)
        return 1
    README.write_text(text, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
