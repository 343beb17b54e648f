"""Framing: COBS between zero bytes, with version, number, sequence and CRC-32 inside.

A frame on the line is ``00``, the COBS form of the body, ``00``. The leading zero ends what
stood on the line before (a boot banner, the tail of a torn frame); an empty frame between two
zeros means nothing.

Body: version, message number, sequence number, payload, CRC-32/ISO-HDLC of all of it
(little-endian). A frame cut at a COBS code (Cheshire & Baker 1999) is again valid COBS, so
the CRC decides. A bad frame is counted and dropped; a delimiter starts afresh, without a
timer.
"""

import binascii
import struct

from .catalogue import BODY_MAX, PAYLOAD_MAX, PROTOCOL_VERSION
from .errors import WireError

CODES_MAX = BODY_MAX // 254 + 1  # one code byte for each 254 begun
FRAME_MAX = BODY_MAX + CODES_MAX + 2  # and the two delimiters


def cobs_encode_into(source, length: int, target, at: int) -> int:
    """COBS form of ``source[:length]`` into ``target`` from ``at``; the offset behind it.

    A full block of 254 at the very end gets no further code byte. The target needs room for
    ``length + length // 254 + 1`` bytes. Source and target may be one buffer, if the source
    begins at least ``length // 254 + 1`` bytes behind ``at``.
    """
    code_at = at
    at += 1
    run = 1
    for index in range(length):
        byte = source[index]
        if byte:
            target[at] = byte
            at += 1
            run += 1
        if not byte or (run == 0xFF and index + 1 < length):
            target[code_at] = run
            code_at = at
            at += 1
            run = 1
    target[code_at] = run
    return at


def cobs_decode_in_place(buffer, length: int) -> int:
    """Undo COBS within ``buffer[:length]``; the number of bytes that remain, or -1.

    -1 means that the bytes are no COBS: empty, a zero inside, or a code that points
    beyond the end.
    """
    if length == 0:
        return -1
    read = 0
    written = 0
    while read < length:
        code = buffer[read]
        if code == 0 or read + code > length:
            return -1
        for index in range(read + 1, read + code):
            if buffer[index] == 0:
                return -1
            buffer[written] = buffer[index]
            written += 1
        read += code
        if code != 0xFF and read < length:
            buffer[written] = 0
            written += 1
    return written


def seal(body, length: int) -> int:
    """Append the CRC-32 of ``body[:length]`` to it; the new length."""
    struct.pack_into("<I", body, length, binascii.crc32(memoryview(body)[:length]))
    return length + 4


class FrameWriter:
    """Builds one frame at a time in one buffer of its own.

    Fill ``payload`` (``PAYLOAD_MAX`` bytes at offset PAYLOAD_AT of ``body``), then call
    ``finish``, which puts the frame in the place of the body: it is
    ``memoryview(writer.line)[:n]`` and stays valid until ``body`` is filled again.
    """

    PAYLOAD_AT = 3

    def __init__(self):
        self.line = bytearray(FRAME_MAX)
        self.body = memoryview(self.line)[1 + CODES_MAX :][:BODY_MAX]

    def finish(self, number: int, sequence: int, payload_end: int) -> int:
        """Frame the payload that ends at ``payload_end`` of ``body``; bytes in ``line``."""
        if payload_end - self.PAYLOAD_AT > PAYLOAD_MAX:
            raise WireError("bad_length")
        body = self.body
        body[0] = PROTOCOL_VERSION
        body[1] = number
        body[2] = sequence & 0xFF
        length = seal(body, payload_end)
        line = self.line
        line[0] = 0
        end = cobs_encode_into(body, length, line, 1)
        line[end] = 0
        return end + 1


class FrameReader:
    """Bytes in, frames out; bounded, and it counts what it drops.

    ``longest`` is that of the bodies it takes. A good frame goes to ``on_frame(version, number,
    sequence, buffer, start, end)`` with the payload at ``buffer[start:end]``, valid only
    during the call.
    """

    def __init__(self, on_frame, longest: int = BODY_MAX):
        self._on_frame = on_frame
        self._longest = longest
        self._buffer = bytearray(longest + longest // 254 + 1)
        self._length = 0
        self._too_long = False
        self.good = 0
        self.damaged = 0  # no COBS, too short, or CRC wrong
        self.oversize = 0

    def feed(self, data) -> None:
        """Take bytes."""
        buffer = self._buffer
        room = len(buffer)
        for byte in data:
            if byte == 0:
                self._end_of_frame()
            elif self._length < room:
                buffer[self._length] = byte
                self._length += 1
            else:
                self._too_long = True

    def _end_of_frame(self) -> None:
        length = self._length
        too_long = self._too_long
        self._length = 0
        self._too_long = False
        if too_long:
            self.oversize += 1
            return
        if length == 0:
            return
        buffer = self._buffer
        length = cobs_decode_in_place(buffer, length)
        if length > self._longest:
            self.oversize += 1
            return
        if length < 7 or not _crc_good(buffer, length - 4):
            self.damaged += 1
            return
        self.good += 1
        self._on_frame(buffer[0], buffer[1], buffer[2], buffer, 3, length - 4)


def _crc_good(buffer, end: int) -> bool:
    return struct.unpack_from("<I", buffer, end)[0] == binascii.crc32(memoryview(buffer)[:end])
