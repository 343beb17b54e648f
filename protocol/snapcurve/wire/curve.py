"""Curve blocks: written while recording, checked anywhere (read by curve_data.py).

A data block holds up to BLOCK_SAMPLES samples on an even time grid as differences of
1/128 °C counts, Rice-coded. A sample becomes one number ``u``: 0 is a gap, otherwise ``u - 1``
is the zigzag form of the difference to the sample before (0, -1, 1, -2, ... -> 0, 1, 2, 3,
...). ``u`` is written as ``u >> k`` one-bits, a zero-bit and the low ``k`` bits; at ESCAPE
one-bits the number follows raw in 17 bits instead. ``k`` makes each block shortest. Bits fill
bytes from the top. (Rice 1979; probe noise of a few counts makes such differences nearly
geometric.) Rehearsed batches take 1.1 to 1.23 bytes a sample, heads and events included.
"""

import binascii
import struct
from array import array

from snapcurve.wire.const import const

from . import catalogue, codec
from .errors import WireError

GAP = -0x8000  # stands for "no reading" wherever a sample is an integer of 1/128 °C
ESCAPE = 12
RAW_BITS = 17
K_MAX = 10
_HEAD_SIZE = const(8)
_BODY_AT = const(_HEAD_SIZE + 4)  # the CRC stands between head and body


def _u_of(value: int, before: int) -> int:
    difference = value - before
    return (difference << 1) + 1 if difference >= 0 else -(difference << 1)


def _bits_for(values, count: int, k: int) -> int:
    bits = 0
    for index in range(count):
        quotient = values[index] >> k
        bits += ESCAPE + RAW_BITS if quotient >= ESCAPE else quotient + 1 + k
    return bits


class BlockWriter:
    """Collects samples and events and makes blocks of them in ``buffer``, allocated once."""

    def __init__(self):
        self.buffer = bytearray(catalogue.BLOCK_MAX)
        self._u = array("I", [0] * catalogue.BLOCK_SAMPLES)
        self._events = [()] * catalogue.BLOCK_EVENTS_MAX
        self.samples = 0
        self.events = 0
        self._first = 0
        self._last = GAP
        self._start_ms = 0

    def sample(self, offset_ms: int, value: int) -> None:
        """Add a sample of ``value`` 1/128 °C (or GAP), ``offset_ms`` into the curve.

        A value that 16 bits cannot hold is a gap. The caller keeps the grid even and calls
        ``finish_data`` when ``full``.
        """
        if self.samples == 0:
            self._start_ms = offset_ms
            self._first = 0
            self._last = GAP
        if not GAP < value <= 0x7FFF:
            self._u[self.samples] = 0
        else:
            if self._last == GAP:
                self._first = value
                self._last = value
            self._u[self.samples] = _u_of(value, self._last)
            self._last = value
        self.samples += 1

    def event(self, values) -> None:
        """Add an event: a tuple in the order of catalogue.EVENT."""
        if self.empty():
            # A block without samples still says where in the curve it belongs.
            self._start_ms = values[0]
            self._first = 0
        self._events[self.events] = values
        self.events += 1

    def full(self) -> bool:
        """Whether the next sample or event would not fit."""
        return self.samples == catalogue.BLOCK_SAMPLES or self.events == catalogue.BLOCK_EVENTS_MAX

    def empty(self) -> bool:
        """Whether nothing waits to be written."""
        return self.samples == 0 and self.events == 0

    def finish_data(
        self, curve: int, block: int, period_ms: int, room_centi_c: int, keep: bool = False
    ) -> int:
        """Make the data block of all that was added; its length in ``buffer``. With ``keep``
        it may grow: more can be added, and the block made again."""
        bits, k = min([(_bits_for(self._u, self.samples, k), k) for k in range(K_MAX + 1)])
        bits_length = (bits + 7) >> 3
        counts = (self._start_ms, period_ms, self.samples, self.events)
        values = counts + (k, self._first, room_centi_c, bits_length)
        at = codec.pack_into(catalogue.DATA_HEAD, self.buffer, _BODY_AT, values)
        self._write_bits(at, k)
        at += bits_length
        for index in range(self.events):
            at = codec.pack_into(catalogue.EVENT, self.buffer, at, self._events[index])
        if not keep:
            self.samples = 0
            self.events = 0
        return _seal_block(self.buffer, "data", curve, block, at)

    def _write_bits(self, at: int, k: int) -> None:
        buffer = self.buffer
        pending = 0  # bits not yet written, the oldest on top
        pending_bits = 0
        for index in range(self.samples):
            u = self._u[index]
            quotient = u >> k
            if quotient >= ESCAPE:
                pending = (pending << ESCAPE) | ((1 << ESCAPE) - 1)
                pending = (pending << RAW_BITS) | u
                pending_bits += ESCAPE + RAW_BITS
            else:
                pending = (pending << (quotient + 1)) | (((1 << quotient) - 1) << 1)
                pending = (pending << k) | (u & ((1 << k) - 1))
                pending_bits += quotient + 1 + k
            while pending_bits >= 8:
                pending_bits -= 8
                buffer[at] = pending >> pending_bits
                at += 1
                pending &= (1 << pending_bits) - 1
        if pending_bits:
            buffer[at] = (pending << (8 - pending_bits)) & 0xFF

    def finish_other(self, kind: str, fields, values, curve: int, block: int) -> int:
        """Make a block that is no data block (head, clock, end); its length in ``buffer``."""
        at = codec.pack_into(fields, self.buffer, _BODY_AT, values)
        return _seal_block(self.buffer, kind, curve, block, at)


def _block_crc(data, at: int, end: int) -> int:
    """CRC-32 of the block's head and body, without the CRC itself."""
    view = memoryview(data)
    return binascii.crc32(view[at + _BODY_AT : end], binascii.crc32(view[at : at + _HEAD_SIZE]))


def _seal_block(buffer, kind: str, curve: int, block: int, end: int) -> int:
    codec.pack_into(
        catalogue.BLOCK_HEAD, buffer, 0, (catalogue.BLOCK_SYNC, kind, end, curve, block)
    )
    struct.pack_into("<I", buffer, _HEAD_SIZE, _block_crc(buffer, 0, end))
    return end


def parse_block(data, at: int = 0):
    """Check the block at ``data[at:]``: ``(kind, curve, block, body_start, end)``.

    The body is ``data[body_start:end]``. Raises WireError("bad_length") if the data end too
    early, WireError("bad_value") if this is no block or its CRC is wrong.
    """
    if at + _BODY_AT > len(data):
        raise WireError("bad_length")
    if data[at] != catalogue.BLOCK_SYNC or data[at + 1] >= len(catalogue.BLOCK_KINDS):
        raise WireError("bad_value")
    _, kind, length, curve, block = codec.unpack(catalogue.BLOCK_HEAD, data, at, at + _HEAD_SIZE)
    if not _BODY_AT <= length <= catalogue.BLOCK_MAX:
        raise WireError("bad_value")
    end = at + length
    if end > len(data):
        raise WireError("bad_length")
    if block_crc(data, at) != _block_crc(data, at, end):
        raise WireError("bad_value")
    return kind, curve, block, at + _BODY_AT, end


def block_crc(data, at: int = 0) -> int:
    """The CRC that the block at ``data[at:]`` carries."""
    return struct.unpack_from("<I", data, at + _HEAD_SIZE)[0]
