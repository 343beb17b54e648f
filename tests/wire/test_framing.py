"""Framing against independent references and every kind of damage.

Oracles: the package cobs (Cheshire & Baker's byte stuffing) and zlib's CRC-32.
"""

import binascii
import tracemalloc
import zlib

import pytest
from cobs import cobs
from hypothesis import example, given, settings
from hypothesis import strategies as st

from snapcurve.wire import catalogue, frame
from snapcurve.wire.errors import WireError
from snapcurve.wire.frame import FrameReader, FrameWriter

BODIES = st.binary(max_size=600) | st.lists(
    st.sampled_from([b"\0", b"\0\0", b"\1" * 253, b"\2" * 254, b"\3" * 255, b"\xff", b"ab"]),
    max_size=6,
).map(lambda parts: b"".join(parts)[: catalogue.BODY_MAX])


class Taken:
    """A reader and what it handed on."""

    def __init__(self):
        self.frames = []
        self.reader = FrameReader(self._take)

    def _take(self, version, number, sequence, buffer, start, end):
        self.frames.append((version, number, sequence, bytes(buffer[start:end])))


def read(line, sizes=()):
    """What a reader makes of ``line``, fed in pieces of ``sizes`` and then the rest."""
    taken = Taken()
    at = 0
    for size in sizes:
        taken.reader.feed(line[at : at + size])
        at += size
    taken.reader.feed(line[at:])
    return taken


def line_of(number, sequence, payload=b""):
    """The line a FrameWriter makes."""
    writer = FrameWriter()
    writer.body[3 : 3 + len(payload)] = payload
    return bytes(writer.line[: writer.finish(number, sequence, 3 + len(payload))])


def reference_line(number, sequence, payload=b"", version=catalogue.PROTOCOL_VERSION):
    """The same from the references alone."""
    body = bytes([version, number, sequence]) + payload
    body += zlib.crc32(body).to_bytes(4, "little")
    return b"\0" + cobs.encode(body) + b"\0"


def encoded(data):
    target = bytearray(len(data) + len(data) // 254 + 1)
    return bytes(target[: frame.cobs_encode_into(data, len(data), target, 0)])


def decoded(data):
    buffer = bytearray(data)
    length = frame.cobs_decode_in_place(buffer, len(data))
    return None if length < 0 else bytes(buffer[:length])


def reference_decoded(data):
    try:
        return cobs.decode(data)
    except cobs.DecodeError:
        return None


def test_crc_is_the_catalogued_one():
    # CRC-32/ISO-HDLC of "123456789", from the catalogue of CRC algorithms.
    assert binascii.crc32(b"123456789") == zlib.crc32(b"123456789") == 0xCBF43926
    body = bytearray(b"123456789" + bytes(4))
    assert frame.seal(body, 9) == 13
    assert body[9:] == bytes.fromhex("26 39 F4 CB")


# Lengths from the package cobs and from issue threads about this boundary in other codecs.
@pytest.mark.parametrize(
    ("length", "on_the_line"),
    [(0, 1), (1, 2), (253, 254), (254, 255), (255, 257), (507, 509), (508, 510), (509, 512)],
)
def test_lengths_around_full_blocks(length, on_the_line):
    data = bytes(1 + at % 255 for at in range(length))
    assert len(encoded(data)) == on_the_line
    assert encoded(data) == cobs.encode(data)
    assert decoded(encoded(data)) == data


@pytest.mark.parametrize(
    "data",
    [bytes(range(255)), bytes(range(1, 256)), bytes([*range(2, 256), 0]),
     bytes([*range(3, 256), 0, 1]), bytes([0, *range(1, 255)]), bytes(1047), b"\xff" * 1047],
)  # fmt: skip
def test_boundary_contents(data):
    assert encoded(data) == cobs.encode(data)
    assert decoded(encoded(data)) == data


# Cheshire & Baker, IEEE/ACM Trans. Networking 7 (1999) 159: an IP header. From memory that it
# is theirs; the bytes agree with the package cobs.
def test_the_example_of_the_paper():
    data = bytes.fromhex("45 00 00 2C 4C 79 00 00 40 06 4F 37")
    assert encoded(data) == bytes.fromhex("02 45 01 04 2C 4C 79 01 05 40 06 4F 37")


@pytest.mark.parametrize(
    "data", ["00", "05 31 32 33", "05 31 32 33 34 00", "05 31 32 00 34", "03 11", "02", ""]
)
def test_what_is_no_cobs(data):
    assert decoded(bytes.fromhex(data)) is None


def test_the_other_form_of_a_full_block():
    full = bytes(range(1, 255))
    assert decoded(b"\xff" + full + b"\1") == decoded(b"\xff" + full) == full


@settings(max_examples=150)
@given(BODIES)
def test_encoding_is_that_of_the_reference(data):
    assert encoded(data) == cobs.encode(data)
    assert decoded(encoded(data)) == data


@settings(max_examples=200)
@given(st.binary(min_size=1, max_size=40) | st.lists(st.integers(0, 4), min_size=1).map(bytes))
@example(b"\xff" + bytes(range(1, 255)))
@example(b"\xff" + bytes(range(1, 255)) + b"\1\1")
@example(b"\xff" + bytes(range(1, 254)))
def test_decoding_is_that_of_the_reference(data):
    assert decoded(data) == reference_decoded(data)


@settings(max_examples=100)
@given(st.integers(0, 255), st.integers(0, 255), BODIES)
def test_a_frame_is_that_of_the_references(number, sequence, body):
    payload = body[: catalogue.PAYLOAD_MAX]
    line = line_of(number, sequence, payload)
    assert line == reference_line(number, sequence, payload)
    assert len(line) <= frame.FRAME_MAX
    taken = read(line)
    assert taken.frames == [(catalogue.PROTOCOL_VERSION, number, sequence, payload)]


def test_the_longest_payload_and_one_byte_more():
    writer = FrameWriter()
    assert writer.finish(1, 0, 3 + catalogue.PAYLOAD_MAX) <= frame.FRAME_MAX
    with pytest.raises(WireError):
        writer.finish(1, 0, 3 + catalogue.PAYLOAD_MAX + 1)


def test_that_the_sequence_number_wraps_to_zero():
    assert line_of(1, 256) == line_of(1, 0)


STREAM = [
    line_of(0x01, 1),
    line_of(0x07, 2, bytes.fromhex("0C 00 00 04 00 00 00 04")),
    b"noise",
    line_of(0x87, 3, bytes(600)),
    b"\0\0",
    b"\xff" * 1500,
    line_of(0x0D, 4, b"\2"),
    bytes.fromhex("03 01 01"),
    line_of(0x83, 5, b"A" * 247),
    line_of(0x83, 6, b"A" * 501)[:-1],
    line_of(0x0A, 7),
]


@settings(max_examples=60)
@given(st.lists(st.integers(0, 700), max_size=30))
def test_that_pieces_of_any_size_give_the_same_frames(sizes):
    whole = read(b"".join(STREAM))
    assert [one[2] for one in whole.frames] == [1, 2, 3, 4, 5, 6, 7]
    pieces = read(b"".join(STREAM), sizes)
    assert pieces.frames == whole.frames
    for counter in ("good", "damaged", "oversize"):
        assert getattr(pieces.reader, counter) == getattr(whole.reader, counter)


def test_single_bytes_and_a_buffer_used_again():
    line = b"".join(STREAM)
    assert read(line, [1] * len(line)).frames == read(line).frames
    taken = Taken()
    buffer = bytearray(64)
    for at in range(0, len(line), 64):
        part = line[at : at + 64]
        buffer[: len(part)] = part
        taken.reader.feed(memoryview(buffer)[: len(part)])  # what lies behind is from before
    assert taken.frames == read(line).frames


# --- damage ---------------------------------------------------------------------------

FIRST = (catalogue.PROTOCOL_VERSION, 0x07, 5, bytes.fromhex("0C 00 00 04 00 00 00 04"))
LONG = (catalogue.PROTOCOL_VERSION, 0x83, 5, b"A" * 200 + bytes(3) + b"B" * 52)
SECOND = (catalogue.PROTOCOL_VERSION, 0x0D, 6, b"\2")
THIRD = (catalogue.PROTOCOL_VERSION, 0x01, 7, b"")


def after_damage(first, at, piece):
    """Frames when byte ``at`` of the first of three frames has become ``piece``."""
    line = line_of(*first[1:])
    damaged = line[:at] + piece + line[at + 1 :]
    return read(damaged + line_of(*SECOND[1:]) + line_of(*THIRD[1:])).frames


def assert_bearable(got, first, untouched):
    """No message that was never sent, and at most one frame lost besides the damaged one."""
    if untouched:
        assert got == [first, SECOND, THIRD]
        return
    # Between two frames stand two zeros, so the damaged frame may survive (an outer zero
    # was hit); the one behind it must not suffer, and the one behind that never.
    assert got in ([SECOND, THIRD], [first, SECOND, THIRD], [first, THIRD], [THIRD])


def test_each_byte_of_a_frame_as_each_value():
    line = line_of(*FIRST[1:])
    for at in range(len(line)):
        for value in range(256):
            got = after_damage(FIRST, at, bytes([value]))
            assert_bearable(got, FIRST, value == line[at])


def test_each_byte_of_a_long_frame_in_several_ways():
    """Across a full block: code bytes get every value, the others the telling ones."""
    line = line_of(*LONG[1:])
    assert len(line) > 256
    codes = {at for at in range(len(line)) if line[at] not in b"AB"}
    for at in range(len(line)):
        old = line[at]
        values = range(256) if at in codes else {0, 1, 0xFF, old ^ 1, old ^ 0x80}
        for value in values:
            assert_bearable(after_damage(LONG, at, bytes([value])), LONG, value == old)


@pytest.mark.parametrize("first", [FIRST, LONG], ids=["short", "long"])
def test_each_byte_dropped_or_doubled(first):
    line = line_of(*first[1:])
    for at in range(len(line)):
        assert_bearable(after_damage(first, at, b""), first, False)
        assert_bearable(after_damage(first, at, line[at : at + 1] * 2), first, False)


@pytest.mark.parametrize("first", [FIRST, LONG], ids=["short", "long"])
def test_a_frame_cut_anywhere(first):
    line = line_of(*first[1:])
    for at in range(len(line) - 1):
        got = read(line[:at] + line_of(*SECOND[1:])).frames
        assert got == [SECOND], at


@settings(max_examples=100)
@given(st.data())
def test_that_random_damage_makes_no_message_up(data):
    line = bytearray(line_of(*FIRST[1:]) + line_of(*SECOND[1:]))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(line) - 1))
        line[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
        if not line:
            break
    taken = read(bytes(line) + line_of(*THIRD[1:]))
    assert set(taken.frames) <= {FIRST, SECOND, THIRD}
    assert taken.frames[-1] == THIRD


@settings(max_examples=100)
@given(st.binary(max_size=2500))
def test_that_noise_is_no_message_and_the_next_frame_is_good(noise):
    taken = read(noise + line_of(*FIRST[1:]))
    assert taken.frames == [FIRST]


@pytest.mark.parametrize("byte", [0x00, 0xFF, 0x01, 0x41])
@pytest.mark.parametrize("length", [1, 4, 7, 8, 255, 1052, 1053, 5000])
def test_one_byte_repeated(byte, length):
    taken = read(bytes([byte]) * length + b"\0")
    assert taken.frames == []
    refused = taken.reader.damaged + taken.reader.oversize
    assert refused == (0 if byte == 0 else 1)
    taken.reader.feed(line_of(*FIRST[1:]))
    assert taken.frames == [FIRST]


def test_that_an_over_long_frame_costs_itself_only():
    body = b"\1\x83\4" + b"B" * (catalogue.PAYLOAD_MAX + 1)
    body += zlib.crc32(body).to_bytes(4, "little")
    taken = read(b"\0" + cobs.encode(body) + line_of(*FIRST[1:]))
    assert taken.frames == [FIRST]
    assert (taken.reader.oversize, taken.reader.damaged) == (1, 0)


def test_that_memory_is_bounded():
    taken = Taken()
    garbage = bytes(1 + at % 255 for at in range(65536))
    taken.reader.feed(garbage)
    tracemalloc.start()
    try:
        for _ in range(8):
            taken.reader.feed(garbage)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 8192
    taken.reader.feed(line_of(*FIRST[1:]))
    assert taken.frames == [FIRST]
    assert taken.reader.oversize == 1
