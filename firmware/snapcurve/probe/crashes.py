"""Why the firmware failed: one record on flash, reported on request.

Loaded only when there is something to record or to report.
"""

import binascii
import io
import struct
import sys

from snapcurve.wire.catalogue import REASON_MAX

from .store import Store

NAME = "crash"
LEFT = "left"
WATCHDOG = "the loop stood still until the watchdog restarted the board"
_HEAD = "<IIH"  # CRC-32 of what follows, number of the start it happened in, crashes so far


def describe(error) -> str:
    """``TypeName: message`` and where it was raised, innermost place first."""
    lines = []
    if hasattr(sys, "print_exception"):  # MicroPython
        text = io.StringIO()
        sys.print_exception(error, text)
        lines = text.getvalue().split("\n")
    else:
        place = error.__traceback__
        while place is not None:
            code = place.tb_frame.f_code
            row = (code.co_filename, place.tb_lineno, code.co_name)
            lines.append('  File "%s", line %d, in %s' % row)
            place = place.tb_next
    places = []  # type: list[str]
    for line in lines:
        if line.startswith('  File "'):
            parts = line.split('"')
            name = parts[1].replace("\\", "/").split("/")[-1]
            places.insert(0, name + parts[2].replace(", line ", ":").replace(", in ", " "))
    reason = ("%s: %s" % (type(error).__name__, error))[: REASON_MAX // 2]
    return reason + " at " + " < ".join(places)


def record(root: str, reason: str, boot: int = 0) -> None:
    """Write ``reason`` as what ended start ``boot``, 0: the present one. OSError if the flash
    fails."""
    store = Store(root)
    boot = boot or store.counted()
    raw = reason.encode()[:REASON_MAX]
    body = struct.pack("<IH", boot, min(last(store)[1] + 1, 0xFFFF)) + raw
    store.save(NAME, struct.pack("<I", binascii.crc32(body)) + body)


def left(root: str) -> None:
    """The firmware is left on request: a reset after that is no failure."""
    store = Store(root)
    store.save(LEFT, struct.pack("<I", store.counted()))


def after_reset(root: str, boot: int) -> None:
    """Start ``boot`` comes from a reset. If the firmware had neither failed nor been left for
    the prompt, it was the watchdog."""
    store = Store(root)
    known = (last(store)[0], struct.unpack("<I", store.load(LEFT) or bytes(4))[0])
    if boot - 1 not in known:
        record(root, WATCHDOG, boot - 1)


def last(store):
    """``(boot, crashes so far, reason)`` of the newest crash; ``(0, 0, b"")`` if none."""
    raw = store.load(NAME)
    size = struct.calcsize(_HEAD)
    if len(raw) < size or binascii.crc32(raw[4:]) != struct.unpack("<I", raw[:4])[0]:
        return 0, 0, b""
    _, boot, count = struct.unpack(_HEAD, raw[:size])
    return boot, count, raw[size:]
