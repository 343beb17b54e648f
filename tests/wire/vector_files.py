"""Reads the rows of protocol/vectors/; runs under both interpreters.

Rows are cells between bars; lines that begin with # are comments. Bytes are written in
hexadecimal, and XX*N stands for the byte XX, N times.
"""

import json

from snapcurve.wire import catalogue

_HERE = __file__.rsplit("/", 1)[0] if "/" in __file__ else "."
FOLDER = _HERE + "/../../protocol/vectors/"


def rows(name):
    """The rows of file ``name`` as lists of cells."""
    with open(FOLDER + name, encoding="utf-8") as file:
        lines = file.read().split("\n")
    return [
        [cell.strip() for cell in line.split("|")]
        for line in lines
        if line.strip() and not line.startswith("#")
    ]


def unhex(text):
    """The bytes that ``text`` writes down."""
    parts = []
    for word in text.split():
        byte, _, times = word.partition("*")
        parts.append(bytes([int(byte, 16)]) * (int(times) if times else 1))
    return b"".join(parts)


def record_of(name):
    """The record of a message, or the one that is called ``name`` in capitals."""
    if name == name.upper():
        return getattr(catalogue, name)
    return catalogue.message_record(catalogue.message_number(name))


def values_of(name, text):
    """Values written as JSON; where the catalogue has bytes, a text is hexadecimal."""
    values = json.loads(text)
    fields = record_of(name)
    for index in range(min(len(values), len(fields))):
        if fields[index][1] == "*" and isinstance(values[index], str):
            values[index] = unhex(values[index])
    return values


def refusal_of(text):
    """``(code, field)`` of a refusal."""
    code, field = text.split()
    return code, int(field)


def frames_of(text):
    """The frames a reader must hand on, as tuples of version, number, sequence, payload."""
    raws = [unhex(part) for part in text.split(";") if part.strip()]
    return [(raw[0], raw[1], raw[2], raw[3:]) for raw in raws]
