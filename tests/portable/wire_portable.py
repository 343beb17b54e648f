"""The wire's vectors under any interpreter: payloads, refusals and frames.

Plain asserts, no libraries; test_portable.py runs it under both interpreters.
"""

import binascii
import gc

import vector_files
from vector_files import record_of, unhex, values_of

from snapcurve.wire import catalogue, codec, frame
from snapcurve.wire.errors import WireError

checks = 0


def same(got, wanted, what):
    """One counted check."""
    global checks
    checks += 1
    assert got == wanted, "%s: got %r, wanted %r" % (what, got, wanted)


def refused(call, wanted, what):
    """One counted check that ``call`` raises WireError with this code and field."""
    try:
        got = call()
    except WireError as error:
        same((error.code, error.field), wanted, what)
    else:
        raise AssertionError("%s: accepted as %r" % (what, got))


class Collector:
    """A reader with what it handed on."""

    def __init__(self):
        self.frames = []
        self.reader = frame.FrameReader(self._take)

    def _take(self, version, number, sequence, buffer, start, end):
        self.frames.append((version, number, sequence, bytes(buffer[start:end])))

    def counted(self):
        return self.frames, self.reader.damaged, self.reader.oversize


def write(writer, version, number, sequence, payload):
    """The line a writer makes of one frame."""
    assert version == catalogue.PROTOCOL_VERSION
    end = writer.PAYLOAD_AT + len(payload)
    writer.body[writer.PAYLOAD_AT : end] = payload
    return bytes(memoryview(writer.line)[: writer.finish(number, sequence, end)])


def check_messages():
    for name, text, payload_text in vector_files.rows("messages.txt"):
        values = values_of(name, text)
        payload = unhex(payload_text)
        record = record_of(name)
        same(codec.pack(record, values), payload, "packing " + name)
        same(codec.unpack(record, payload), values, "parsing " + name)
        # In the middle of a longer buffer, as the link does it.
        inside = bytearray(b"\xa5" * (len(payload) + 7))
        same(codec.pack_into(record, inside, 3, values), len(payload) + 3, "end of " + name)
        same(bytes(inside), b"\xa5" * 3 + payload + b"\xa5" * 4, "around " + name)
        view = memoryview(inside)
        same(codec.unpack(record, view, 3, len(payload) + 3), values, "inside " + name)


def check_rejected():
    for name, direction, text, refusal, why in vector_files.rows("rejected.txt"):
        wanted = vector_files.refusal_of(refusal)
        record = record_of(name)
        what = "%s: %s" % (name, why)
        if direction == "parse":
            payload = unhex(text)
            refused(lambda r=record, p=payload: codec.unpack(r, p), wanted, what)
        else:
            assert direction == "pack", direction
            values = values_of(name, text)
            refused(lambda r=record, v=values: codec.pack(r, v), wanted, what)


def check_packing_limits():
    record = record_of("mark")
    refused(lambda: codec.pack(record, [1, "note", 2, 3]), ("bad_length", 255), "too many")
    refused(lambda: codec.pack(record, [True, "note", 2]), ("bad_value", 0), "a truth value")
    refused(
        lambda: codec.pack_into(record, bytearray(6), 2, [1, "note", 2]),
        ("bad_length", 255),
        "no room in the buffer",
    )
    refused(
        lambda: codec.unpack_rows(catalogue.PHASE, bytes(13)), ("bad_length", 255), "no whole row"
    )
    same(codec.unpack_rows(catalogue.CLOCK_BLOCK, bytes(20)), [[0, 0, 0], [0, 0, 0]], "two rows")
    same(codec.unpack_rows(catalogue.PHASE, b""), [], "no rows")


def check_frames():
    writer = frame.FrameWriter()
    for how, line_text, frames_text, damaged, oversize, what in vector_files.rows("frames.txt"):
        line = unhex(line_text)
        frames = vector_files.frames_of(frames_text)
        wanted = (frames, int(damaged), int(oversize))
        if how == "write":
            same(write(writer, *frames[0]), line, "writing: " + what)
        for chunk in (1, 2, 7, 64, 255, len(line)):
            collector = Collector()
            for at in range(0, len(line), chunk):
                collector.reader.feed(line[at : at + chunk])
            same(collector.counted(), wanted, "in pieces of %d: %s" % (chunk, what))
            same(collector.reader.good, len(frames), "counted: " + what)


def check_damage():
    """Each byte of the first of three frames as all 256 values, dropped and doubled."""
    writer = frame.FrameWriter()
    version = catalogue.PROTOCOL_VERSION
    first = (version, 0x07, 5, unhex("0C 00 00 04 00 00 00 04"))
    second = (version, 0x01, 6, b"")
    third = (version, 0x0D, 7, b"\x02")
    whole = write(writer, *first)
    rest = write(writer, *second) + write(writer, *third)
    for at in range(len(whole)):
        pieces = [bytes([value]) for value in range(256)] + [b"", whole[at : at + 1] * 2]
        for piece in pieces:
            collector = Collector()
            collector.reader.feed(whole[:at] + piece + whole[at + 1 :] + rest)
            got = collector.frames
            assert all(one in (first, second, third) for one in got), got
            same(got[-1:], [third], "the frame behind the next")
            assert piece == whole[at : at + 1] or len(got) <= 3, got


def check_memory():
    """Whatever comes in, a reader holds no more than its one buffer."""
    if not hasattr(gc, "mem_alloc"):
        return  # only MicroPython can say how much is in use
    collector = Collector()
    noise = bytes([1 + at % 255 for at in range(4096)])
    collector.reader.feed(noise)
    gc.collect()
    before = gc.mem_alloc()
    for _ in range(64):
        collector.reader.feed(noise)
        collector.reader.feed(b"\0\5\1\0")
    gc.collect()
    assert gc.mem_alloc() - before < 512, gc.mem_alloc() - before
    same(collector.frames, [], "no frames in noise")


same(binascii.crc32(b"123456789"), 0xCBF43926, "CRC-32/ISO-HDLC of 123456789")
check_messages()
check_rejected()
check_packing_limits()
check_frames()
check_damage()
check_memory()
print("%d checks" % checks)
