"""Curve blocks under any interpreter: the vectors, and writing and reading back.

Plain asserts, no libraries; test_portable.py runs it under both interpreters.
"""

import json

import vector_files
from vector_files import unhex, values_of

from snapcurve.wire import catalogue, codec, curve, curve_data
from snapcurve.wire.errors import WireError

checks = 0
BODIES = {"head": "CURVE_HEAD", "clock": "CLOCK_BLOCK", "end": "END_BLOCK", "probe": "PROBE"}


def same(got, wanted, what):
    """One counted check."""
    global checks
    checks += 1
    assert got == wanted, "%s: got %r, wanted %r" % (what, got, wanted)


def refused(call, wanted, what):
    """One counted check that ``call`` raises WireError with this code."""
    try:
        got = call()
    except WireError as error:
        same(error.code, wanted, what)
    else:
        raise AssertionError("%s: accepted as %r" % (what, got))


def fill(writer, start_ms, period_ms, samples, events):
    """Give a writer samples and events."""
    for index in range(len(samples)):
        writer.sample(start_ms + index * period_ms, samples[index])
    for event in events:
        writer.event(tuple(event))


def check_data(writer, number, block, values, wanted):
    start_ms, period_ms, room, samples, events = values
    samples = [curve.GAP if sample is None else sample for sample in samples]
    fill(writer, start_ms, period_ms, samples, events)
    length = writer.finish_data(number, block, period_ms, room)
    same(bytes(writer.buffer[:length]), wanted, "data block %d" % block)
    same(writer.empty(), True, "emptied")
    kind, got_curve, got_block, start, end = curve.parse_block(wanted)
    same((kind, got_curve, got_block), ("data", number, block), "head of the block")
    same((start, end), (12, len(wanted)), "body of the block")
    head, got_samples, got_events = curve_data.parse_data(wanted, start, end)
    same((head[0], head[1], head[6]), (start_ms, period_ms, room), "head of the data")
    same((got_samples, got_events), (samples, events), "data of block %d" % block)


def check_other(writer, kind, number, block, text, wanted):
    values = values_of(BODIES[kind], text)
    fields = getattr(catalogue, BODIES[kind])
    length = writer.finish_other(kind, fields, values, number, block)
    same(bytes(writer.buffer[:length]), wanted, kind + " block")
    # Behind other bytes, as in a curve.
    got = curve.parse_block(b"\xc5\xc5" + wanted + b"\xc5", 2)
    same(got[:3] + got[4:], (kind, number, block, len(wanted) + 2), "head of the block")
    same(codec.unpack(fields, wanted, got[3] - 2, got[4] - 2), values, "body of " + kind)


def check_vectors():
    writer = curve.BlockWriter()
    for row in vector_files.rows("blocks.txt"):
        if row[0] == "refused":
            check_refused(row[1], unhex(row[2]), row[3], row[4])
            continue
        kind, place, text, raw = row
        number, block = [int(word) for word in place.split()]
        if kind == "data":
            check_data(writer, number, block, json.loads(text), unhex(raw))
        else:
            check_other(writer, kind, number, block, text, unhex(raw))


def check_refused(where, raw, code, why):
    if where == "block":
        refused(lambda: curve.parse_block(raw), code, why)
        return
    assert where == "body", where
    start, end = curve.parse_block(raw)[3:]
    refused(lambda: curve_data.parse_data(raw, start, end), code, why)


def round_trip(writer, samples, events, what):
    fill(writer, 1000, 1000, samples, events)
    length = writer.finish_data(1, 2, 1000, 2100)
    assert length <= catalogue.BLOCK_MAX, what
    got = curve.parse_block(writer.buffer, 0)
    same(got[4], length, what)
    head, back, back_events = curve_data.parse_data(writer.buffer, got[3], got[4])
    same(back, samples, what)
    same(back_events, events, what)
    return head[4], length


def check_every_k():
    """Steps of one size make every k the shortest once."""
    writer = curve.BlockWriter()
    seen = set()
    for step in [0] + [1 << power for power in range(12)]:
        samples = [step * (index % 2) for index in range(catalogue.BLOCK_SAMPLES)]
        seen.add(round_trip(writer, samples, [], "steps of %d" % step)[0])
    same(sorted(seen), list(range(curve.K_MAX + 1)), "every k")


def check_worst_block():
    """Every step the full range and as many events as fit: still within BLOCK_MAX."""
    writer = curve.BlockWriter()
    samples = [0x7FFF if index % 2 else -0x7FFF for index in range(catalogue.BLOCK_SAMPLES)]
    event = [0xFFFFFFFF, "fault", 0xFFFF, "work", -0x8000, 0xFFFF]
    _, length = round_trip(writer, samples, [event] * catalogue.BLOCK_EVENTS_MAX, "worst")
    # 1 sample of 2 bits (the first), 119 of 12 + 17, rounded up to whole bytes.
    same(length, 8 + 15 + (2 + 119 * 29 + 7) // 8 + 16 * 12 + 4, "length of the worst block")


def check_writer():
    writer = curve.BlockWriter()
    same((writer.empty(), writer.full()), (True, False), "new")
    for index in range(catalogue.BLOCK_SAMPLES):
        same(writer.full(), False, "before sample %d" % index)
        writer.sample(index * 1000, 0)
    same(writer.full(), True, "after the last sample")
    writer.finish_data(1, 0, 1000, 0)
    for index in range(catalogue.BLOCK_EVENTS_MAX):
        same(writer.full(), False, "before event %d" % index)
        writer.event((5000 + index, "mark", 0, "none", 0, 0))
    same(writer.full(), True, "after the last event")
    writer.finish_data(1, 1, 1000, 0)
    start, end = curve.parse_block(writer.buffer)[3:]
    head = curve_data.parse_data(writer.buffer, start, end)[0]
    same(head[0], 5000, "a block without samples begins at its first event")
    # What 16 bits cannot hold is a gap, and what stands around it is not disturbed.
    for index, value in enumerate((100, 0x8000, -0x8001, 70000, 101)):
        writer.sample(index * 1000, value)
    writer.finish_data(1, 2, 1000, 0)
    start, end = curve.parse_block(writer.buffer)[3:]
    back = curve_data.parse_data(writer.buffer, start, end)[1]
    same(back, [100, curve.GAP, curve.GAP, curve.GAP, 101], "out of range")
    refused(
        lambda: writer.finish_other("head", catalogue.CURVE_HEAD, [0] * 10 + [bytes(257)], 1, 0),
        "bad_length",
        "a profile too long for the head",
    )


check_vectors()
check_every_k()
check_worst_block()
check_writer()
print("%d checks" % checks)
