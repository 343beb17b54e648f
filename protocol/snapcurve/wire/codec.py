"""Board-side packing of the catalogue's records.

``struct`` under MicroPython wraps numbers that are out of range, fills in missing ones
and ignores surplus bytes; every length, range and choice is therefore checked here.
"""

import struct

from .catalogue import NO_FIELD
from .errors import WireError


def _format(record) -> str:
    return "<" + "".join([field[1] for field in record if field[1] != "*"])


def fixed_size(record) -> int:
    """Bytes of the fixed part of ``record`` (all but a last ``*`` field)."""
    return struct.calcsize(_format(record))


def _strict_utf8(raw: bytes) -> bool:
    """Whether ``raw``, which passed a decoder, is UTF-8 by RFC 3629.

    MicroPython lets longer forms than needed, surrogates and numbers above 10FFFF pass.
    """
    before = 0
    for byte in raw:
        if byte in (0xC0, 0xC1) or byte > 0xF4:
            return False
        if (before == 0xE0 and byte < 0xA0) or (before == 0xF0 and byte < 0x90):
            return False
        if (before == 0xED and byte > 0x9F) or (before == 0xF4 and byte > 0x8F):
            return False
        before = byte
    return True


def _text_out(text, size: int, index: int) -> bytes:
    if not isinstance(text, str):
        raise WireError("bad_text", index)
    try:
        raw = text.encode("utf-8")
    except UnicodeError:
        raise WireError("bad_text", index)
    if len(raw) > size or b"\0" in raw or not _strict_utf8(raw):
        raise WireError("bad_text", index)
    return raw


def _text_in(raw: bytes, index: int) -> str:
    end = raw.find(b"\0")
    if end >= 0:
        if raw[end:] != bytes(len(raw) - end):
            raise WireError("bad_text", index)
        raw = raw[:end]
    try:
        text = raw.decode("utf-8")
    except UnicodeError:
        raise WireError("bad_text", index)
    if not _strict_utf8(raw):
        raise WireError("bad_text", index)
    return text


def _number(field, value, index: int) -> int:
    """``value`` as it goes on the wire, choice and range checked."""
    if len(field) == 3:
        try:
            return field[2].index(value)
        except ValueError:
            raise WireError("bad_choice", index)
    code = field[1]
    bits = 8 * struct.calcsize(code)
    lowest = -(1 << bits - 1) if code.islower() else 0
    if not isinstance(value, int) or isinstance(value, bool) or (value - lowest) >> bits:
        raise WireError("bad_value", index)
    return value


def pack_into(record, buffer, offset: int, values) -> int:
    """Write ``values`` (one per field of ``record``, in order) into ``buffer`` at ``offset``.

    Returns the offset behind the last byte. Raises WireError for a wrong count, a value
    out of range, an unknown choice, text that is too long, or a buffer that is too small.
    """
    if len(values) != len(record):
        raise WireError("bad_length", NO_FIELD)
    fixed = []  # type: list[int | bytes]
    tail = b""
    for index in range(len(record)):
        field = record[index]
        code = field[1]
        if code == "*":
            tail = values[index]
            if not isinstance(tail, (bytes, bytearray, memoryview)):
                raise WireError("bad_value", index)
            if len(tail) > field[2]:
                raise WireError("bad_length", index)
        elif code[-1] == "s":
            fixed.append(_text_out(values[index], int(code[:-1]), index))
        else:
            fixed.append(_number(field, values[index], index))
    form = _format(record)
    size = struct.calcsize(form)
    end = offset + size + len(tail)
    if end > len(buffer):
        raise WireError("bad_length", NO_FIELD)
    struct.pack_into(form, buffer, offset, *fixed)
    buffer[offset + size : end] = tail
    return end


def pack(record, values) -> bytes:
    """``values`` as bytes; see pack_into."""
    size = fixed_size(record)
    if record and record[-1][1] == "*" and values:
        tail = values[-1]
        size += len(tail) if isinstance(tail, (bytes, bytearray, memoryview)) else 0
    buffer = bytearray(size)
    pack_into(record, buffer, 0, values)
    return bytes(buffer)


def unpack(record, data, start: int = 0, end: int = -1):
    """The values of ``record`` in ``data[start:end]``, as a list in field order.

    ``end`` -1 means the end of ``data``. Raises WireError if the bytes are too few or too
    many, a choice is unknown, or text is not UTF-8 filled up with zeros.
    """
    if end < 0:
        end = len(data)
    form = _format(record)
    size = struct.calcsize(form)
    tail = bool(record) and record[-1][1] == "*"
    rest = end - start - size
    if rest < 0 or (rest > 0 and not tail):
        raise WireError("bad_length", NO_FIELD)
    if tail and rest > record[-1][2]:
        raise WireError("bad_length", len(record) - 1)
    values = list(struct.unpack_from(form, data, start))
    for index in range(len(values)):
        field = record[index]
        if field[1][-1] == "s":
            values[index] = _text_in(values[index], index)
        elif len(field) == 3:
            if values[index] >= len(field[2]):
                raise WireError("bad_choice", index)
            values[index] = field[2][values[index]]
    if tail:
        values.append(bytes(data[start + size : end]))
    return values


def unpack_rows(record, data):
    """All rows of ``record`` that ``data`` holds, as a list of lists.

    Raises WireError if the bytes are not a whole number of rows.
    """
    size = fixed_size(record)
    if len(data) % size:
        raise WireError("bad_length", NO_FIELD)
    return [unpack(record, data, at, at + size) for at in range(0, len(data), size)]
