"""Bytes that are right in form and wrong in what they say, for boards that lie.

``packed`` writes any number into any field, words outside of their lists and texts with
escape sequences too, and puts right CRCs around them.
"""

import binascii
import struct

from cobs import cobs

from snapcurve.wire import catalogue, codec
from snapcurve.wire.curve import ESCAPE, RAW_BITS

_SIZES = {"b": 1, "B": 1, "h": 2, "H": 2, "i": 4, "I": 4}
WORST = "\x1b[31m\x1b]0;owned\x07\r\n\x9b2J\u202eevil\u2068"
"""Colours, a window's title, a bell, another line, an 8-bit escape, reversed letters."""


def packed(record: tuple, values: dict) -> bytes:
    """``values`` as bytes of ``record``; what is missing is zero. A number is cut to its field,
    a text too; a word may be given by its number."""
    raw = b""
    for row in record:
        name, code = row[0], row[1]
        value = values.get(name, b"" if code == "*" or code.endswith("s") else 0)
        if code == "*":
            raw += bytes(value)
        elif code.endswith("s"):
            size = int(code[:-1])
            text = value.encode() if isinstance(value, str) else bytes(value)
            raw += text[:size].ljust(size, b"\0")
        else:
            if len(row) == 3 and isinstance(value, str):
                value = row[2].index(value)
            raw += (value & ((1 << 8 * _SIZES[code]) - 1)).to_bytes(_SIZES[code], "little")
    return raw


def frame(number: int, sequence: int, payload: bytes, version: int | None = None) -> bytes:
    """A frame of anything, CRC and all."""
    first = catalogue.PROTOCOL_VERSION if version is None else version
    body = bytes([first, number & 0xFF, sequence & 0xFF]) + payload
    return b"\0" + cobs.encode(body + binascii.crc32(body).to_bytes(4, "little")) + b"\0"


def block(kind: str, curve: int, number: int, body: bytes) -> bytes:
    """A block of a curve around any body."""
    length = codec.fixed_size(catalogue.BLOCK_HEAD) + 4 + len(body)
    head = packed(
        catalogue.BLOCK_HEAD,
        {
            "sync": catalogue.BLOCK_SYNC,
            "kind": kind,
            "length": length,
            "curve": curve,
            "block": number,
        },
    )
    return head + struct.pack("<I", binascii.crc32(body, binascii.crc32(head))) + body


def bits_of(values: list[int]) -> bytes:
    """Samples of 1/128 °C as a bit stream in which every one is raw; None is a gap."""
    text, before = "", values[0] if values else 0
    for value in values:
        difference = value - before
        u = (difference << 1) + 1 if difference >= 0 else -(difference << 1)
        text += "1" * ESCAPE + f"{u:0{RAW_BITS}b}"
        before = value
    text += "0" * (-len(text) % 8)
    return int(text, 2).to_bytes(len(text) // 8, "big") if text else b""


def data_body(values: list[int], rows: list[dict], **head) -> bytes:
    """The body of a data block; ``head`` overrides what its head says of itself."""
    bits = bits_of(values)
    said = {
        "period_ms": 1000,
        "samples": len(values),
        "events": len(rows),
        "first_128ths": values[0] if values else 0,
        "room_centi_c": 2100,
        "bits_length": len(bits),
        **head,
    }
    behind = b"".join(packed(catalogue.EVENT, event) for event in rows)
    return packed(catalogue.DATA_HEAD, said) + bits + behind


def profile_of(
    couverture: str | bytes = "Milk", phases: list[dict] | None = None, **head
) -> bytes:
    """A profile; without ``phases`` a good one of seeding."""
    said = {
        "couverture": couverture,
        "method": "seeding",
        "never_above_centi_c": 5000,
        "test_early_s": 180,
        "test_due_s": 300,
        "test_late_s": 420,
        **head,
    }
    good = [
        {"kind": "melt", "direction": "rise", "target_centi_c": 4500, "lead_s": 20},
        {
            "kind": "work",
            "direction": "hold",
            "target_centi_c": 3330,
            "low_centi_c": 3000,
            "high_centi_c": 3200,
        },
    ]
    rows = b"".join(packed(catalogue.PHASE, one) for one in (good if phases is None else phases))
    return packed(catalogue.PROFILE_HEAD, said) + rows


def calibration_of(points: list[dict] | None = None, **head) -> bytes:
    """A calibration; without ``points`` a good one from an ice bath."""
    good = [
        {
            "indicated_centi_c": 50,
            "correction_centi_c": -50,
            "step": "ice",
            "unix_s": 1_795_000_000,
            "reference_limit_milli_c": 50,
            "spread_milli_c": 5,
            "readings": 100,
            "cold_junction_centi_c": 2200,
        }
    ]
    said = {"set_unix_s": 1_795_000_000, "tolerance_class": 1, **head}
    rows = good if points is None else points
    return packed(catalogue.CALIBRATION_HEAD, said) + b"".join(
        packed(catalogue.CALIBRATION_POINT, one) for one in rows
    )


def curve_of(profile: bytes, curve: int = 1, minutes: int = 40, **head) -> bytes:
    """A curve that makes sense: a batch from 46 °C down to 31 °C with a test blade."""
    said = {
        "board_id": 7,
        "boot": 3,
        "unix_s": 1_795_600_000,
        "minor": 1,
        "profile": profile,
        **head,
    }
    parts = [block("head", curve, 0, packed(catalogue.CURVE_HEAD, said))]
    for minute in range(minutes):
        start_c = max(31.0, 46.0 - minute)
        end_c = max(31.0, 45.0 - minute)
        values = [round(128 * (start_c + (end_c - start_c) * s / 60)) for s in range(60)]
        events = []
        if minute == 0:
            events.append({"offset_ms": 500, "kind": "alarm", "code": 1, "phase": "melt",
                           "estimate_centi_c": 4500})  # fmt: skip
        if minute == 20:
            events.append({"offset_ms": 1_200_500, "kind": "mark", "code": 0, "phase": "work",
                           "estimate_centi_c": 3100, "number": 1})  # fmt: skip
        body = data_body(values, events, start_ms=minute * 60_000)
        parts.append(block("data", curve, minute + 1, body))
    end = packed(catalogue.END_BLOCK, {"offset_ms": minutes * 60_000, "reason": "button"})
    return b"".join([*parts, block("end", curve, minutes + 1, end)])
