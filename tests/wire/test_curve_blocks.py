"""Curve blocks: written and read back, against an independent Rice coder, and damaged."""

import zlib
from fractions import Fraction

import lying_bytes
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from snapcurve.errors import RecordError
from snapcurve.recording import curve as curves
from snapcurve.wire import catalogue, codec, curve, curve_data
from snapcurve.wire.errors import WireError

LOWEST, HIGHEST = -0x7FFF, 0x7FFF
PERIOD_MS = 1000


def steps(size):
    """Samples that wander in steps of up to ``size``, with gaps."""
    step = st.one_of(st.none(), *[st.integers(-size, size)] * 4)
    return st.lists(step, max_size=catalogue.BLOCK_SAMPLES).map(_walk)


def _walk(taken):
    values, at = [], 4032
    for step in taken:
        at = at if step is None else max(LOWEST, min(HIGHEST, at + step))
        values.append(curve.GAP if step is None else at)
    return values


SAMPLES = st.one_of(
    *[steps(1 << power) for power in range(0, 17, 2)],
    st.lists(st.integers(-0x8000, HIGHEST), max_size=catalogue.BLOCK_SAMPLES),
    st.lists(st.sampled_from([LOWEST, HIGHEST, curve.GAP]), max_size=catalogue.BLOCK_SAMPLES),
)


def events_until(longest_ms):
    """Events of a block."""
    return st.lists(
        st.tuples(
            st.integers(0, longest_ms),
            st.sampled_from(list(catalogue.EVENT_KINDS)),
            st.integers(0, 0xFFFF),
            st.sampled_from(list(catalogue.PHASE_KINDS)),
            st.integers(-0x8000, 0x7FFF),
            st.integers(0, 0xFFFF),
        ),
        max_size=catalogue.BLOCK_EVENTS_MAX,
    )


EVENTS = events_until(0xFFFFFFFF)


def data_block(samples, events=(), start_ms=0, number=1, block=1, room=2100):
    writer = curve.BlockWriter()
    for index, value in enumerate(samples):
        writer.sample(start_ms + index * PERIOD_MS, value)
    for event in events:
        writer.event(event)
    length = writer.finish_data(number, block, PERIOD_MS, room)
    return bytes(writer.buffer[:length])


def other_block(kind, fields, values, number=1, block=0):
    writer = curve.BlockWriter()
    return bytes(writer.buffer[: writer.finish_other(kind, fields, values, number, block)])


def head_block(number=1, unix_s=1735689600, profile=b"\xc5\xc5"):
    values = (7, 3, 61, 250, unix_s, 500, 0, 1, 0, 0, profile)
    return other_block("head", catalogue.CURVE_HEAD, values, number)


def parsed(raw):
    _, _, _, start, end = curve.parse_block(raw)
    return curve_data.parse_data(raw, start, end)


# --- the bits, done once more in the simplest way -----------------------------------------


def plain_numbers(samples):
    """First value and the numbers u, by the words of the protocol's README."""
    known = [value for value in samples if value != curve.GAP]
    before = first = known[0] if known else 0
    numbers = []
    for value in samples:
        if value == curve.GAP:
            numbers.append(0)
            continue
        difference = value - before
        zigzag = 2 * difference if difference >= 0 else -2 * difference - 1
        numbers.append(zigzag + 1)
        before = value
    return first, numbers


def plain_bits(numbers, k):
    """The bit stream as a text of 0 and 1."""
    text = ""
    for u in numbers:
        ones = u // 2**k
        if ones >= 12:
            text += "1" * 12 + format(u, "017b")
        else:
            text += "1" * ones + "0" + (format(u % 2**k, f"0{k}b") if k else "")
    return text


def plain_body(samples, k):
    text = plain_bits(plain_numbers(samples)[1], k)
    text += "0" * (-len(text) % 8)
    return bytes(int(text[at : at + 8], 2) for at in range(0, len(text), 8))


@settings(max_examples=100)
@given(SAMPLES)
def test_the_bits_are_those_of_the_plain_coder(samples):
    raw = data_block(samples)
    head, _, _ = parsed(raw)
    k, first, length = head[4], head[5], head[7]
    assert first == plain_numbers(samples)[0]
    assert raw[27 : 27 + length] == plain_body(samples, k)
    # And no other k would have made it shorter.
    lengths = [len(plain_bits(plain_numbers(samples)[1], other)) for other in range(11)]
    assert k == lengths.index(min(lengths))


@settings(max_examples=100)
@given(SAMPLES, st.integers(0, curve.K_MAX))
def test_that_any_k_can_be_read(samples, k):
    bits = plain_body(samples, k)
    first = plain_numbers(samples)[0]
    assert curve_data.decode_samples(bits, 0, len(bits), len(samples), k, first) == samples


@settings(max_examples=100)
@given(SAMPLES, EVENTS, st.integers(0, 0xFFFFFFFF), st.integers(-0x8000, 0x7FFF))
def test_round_trip(samples, events, start_ms, room):
    if samples:
        start_ms = min(start_ms, 0xFFFFFFFF - PERIOD_MS * len(samples))
    elif events:
        start_ms = events[0][0]
    else:
        start_ms = 0
    raw = data_block(samples, events, start_ms, room=room)
    assert len(raw) <= catalogue.BLOCK_MAX
    assert curve.parse_block(raw) == ("data", 1, 1, 12, len(raw))
    head, values, back = parsed(raw)
    assert head[:4] == [start_ms, PERIOD_MS, len(samples), len(events)]
    assert head[6] == room
    assert values == samples
    assert [tuple(event) for event in back] == events


def test_a_writer_used_again_remembers_nothing():
    writer = curve.BlockWriter()
    for index in range(catalogue.BLOCK_SAMPLES):
        writer.sample(index, HIGHEST if index % 2 else LOWEST)
    for _ in range(catalogue.BLOCK_EVENTS_MAX):
        writer.event((9, "alarm", 1, "melt", 0, 0))
    writer.finish_data(1, 1, PERIOD_MS, 0)
    writer.sample(5000, 7)
    length = writer.finish_data(1, 1, PERIOD_MS, 2100)
    assert bytes(writer.buffer[:length]) == data_block([7], start_ms=5000)


def test_that_the_crc_of_a_curve_depends_on_its_content():
    """Data with their own CRC behind them all give the same CRC-32; these must not."""
    crcs = {zlib.crc32(head_block() + data_block([value])) for value in range(100)}
    assert len(crcs) == 100


def test_a_quiet_minute_is_small():
    """Noise of one count: four bits a sample at most, so an hour is about 3 KiB."""
    samples = [4032 + (index * 7 % 3) - 1 for index in range(60)]
    assert len(data_block(samples)) <= 27 + 30


# --- damage -------------------------------------------------------------------------------


@settings(max_examples=200)
@given(st.binary(max_size=60) | st.binary(max_size=60).map(lambda tail: b"\xc5" + tail))
def test_that_random_bytes_are_refused_as_blocks(raw):
    with pytest.raises(WireError):
        curve.parse_block(raw)


@settings(max_examples=250)
@given(
    st.sampled_from([0, 1, 2, 9, 60, 255]),
    st.integers(0, 3),
    st.integers(0, 12),
    st.integers(-0x8000, 0x7FFF),
    st.binary(max_size=80),
    st.integers(-1, 1),
)
def test_that_any_body_is_read_or_refused(samples, events, k, first, rest, off):
    """Past the CRC: a head that may lie, and any bytes behind it."""
    bits = max(0, len(rest) - 12 * events + off)
    body = codec.pack(catalogue.DATA_HEAD, (0, 1000, samples, events, k, first, 0, bits)) + rest
    try:
        head, values, back = curve_data.parse_data(body, 0, len(body))
    except WireError:
        return
    assert (len(values), len(back)) == (samples, events)
    assert all(-0x8000 <= value <= 0x7FFF for value in values)
    assert head[4] <= curve.K_MAX


@settings(max_examples=100)
@given(SAMPLES, EVENTS, st.data())
def test_that_a_damaged_block_is_refused(samples, events, data):
    raw = bytearray(data_block(samples, events))
    at = data.draw(st.integers(0, len(raw) - 1))
    raw[at] ^= data.draw(st.integers(1, 255))
    with pytest.raises(WireError):
        curve.parse_block(raw)
    whole = data_block(samples, events)
    with pytest.raises(WireError):
        curve.parse_block(whole[: data.draw(st.integers(0, len(whole) - 1))])


def test_each_bit_of_a_block():
    raw = data_block([4032, 4033, curve.GAP, 4030], [(60, "mark", 0, "work", 3100, 0)])
    for bit in range(8 * len(raw)):
        damaged = bytearray(raw)
        damaged[bit // 8] ^= 1 << bit % 8
        with pytest.raises(WireError):
            curve.parse_block(damaged)


# --- whole curves, as the host decodes them -----------------------------------------------

BLOCKS = st.lists(
    st.tuples(SAMPLES.filter(len), events_until(curves.LONGEST_MS)), min_size=1, max_size=5
)
APART_S = catalogue.BLOCK_SAMPLES


def curve_of(blocks):
    """Bytes of a curve: head, data blocks two minutes apart, end; and the blocks as a list."""
    parts = [head_block()]
    for index, (samples, events) in enumerate(blocks):
        parts.append(data_block(samples, events, index * APART_S * 1000, block=index + 1))
    ending = (len(blocks) * APART_S * 1000, "room")
    parts.append(other_block("end", catalogue.END_BLOCK, ending, block=len(parts)))
    return parts


def expected(blocks, kept):
    """Times and temperatures of the kept data blocks, worked out exactly."""
    times, temperatures = [], []
    for index, (samples, _) in enumerate(blocks):
        if index + 1 in kept:
            for place, value in enumerate(samples):
                times.append(index * APART_S + place)
                temperatures.append(None if value == curve.GAP else Fraction(value, 128))
    return times, temperatures


@settings(max_examples=30)
@given(BLOCKS)
def test_a_whole_curve(blocks):
    got = curves.decode(b"".join(curve_of(blocks)))
    assert (got.times_s, got.temperatures_c) == expected(blocks, range(1, 9))
    assert (got.curve, got.board_id, got.boot, got.firmware) == (1, 7, 3, "0.1.0")
    assert got.started_uptime_ms == 61250
    assert got.started_unix_ms == 1735689600500
    assert (got.profile, got.end_reason) == (b"\xc5\xc5", "room")
    assert (got.lost_blocks, got.trailing_bytes) == (0, 0)
    wanted = [event for _, events in blocks for event in events]
    assert [(e.offset_ms, e.kind, e.phase, e.number) for e in got.events] == [
        (event[0], event[1], event[3], event[5]) for event in wanted
    ]


@settings(max_examples=40)
@given(BLOCKS, st.data())
def test_lost_blocks_are_counted_and_the_others_kept(blocks, data):
    parts = curve_of(blocks)
    inner = range(1, len(parts) - 1)
    lost = set(data.draw(st.lists(st.sampled_from(inner), unique=True)))
    got = curves.decode(b"".join(part for at, part in enumerate(parts) if at not in lost))
    assert got.lost_blocks == len(lost)
    assert (got.times_s, got.temperatures_c) == expected(blocks, set(inner) - lost)
    assert got.end_reason == "room"


@settings(max_examples=40)
@given(BLOCKS, st.data())
def test_damaged_blocks_cost_only_themselves(blocks, data):
    parts = [bytearray(part) for part in curve_of(blocks)]
    inner = range(1, len(parts) - 1)
    hit = set(data.draw(st.lists(st.sampled_from(inner), unique=True)))
    for at in hit:
        place = data.draw(st.integers(0, len(parts[at]) - 1))
        how = data.draw(st.sampled_from(["changed", "dropped", "inserted", "cut", "erased"]))
        if how == "changed":
            parts[at][place] ^= data.draw(st.integers(1, 255))
        elif how == "dropped":
            del parts[at][place]
        elif how == "inserted":  # inside: a byte before or behind it leaves a block whole
            inside = max(1, place)
            parts[at].insert(inside, parts[at][inside] ^ 0xFF)
        elif how == "cut":
            del parts[at][place:]
        else:
            parts[at][:] = b"\xff" * len(parts[at])
    got = curves.decode(b"".join(parts))
    assert got.lost_blocks == len(hit)
    assert (got.times_s, got.temperatures_c) == expected(blocks, set(inner) - hit)
    assert got.end_reason == "room"


@settings(max_examples=40)
@given(BLOCKS, st.data())
def test_a_curve_cut_anywhere_keeps_its_whole_blocks(blocks, data):
    parts = curve_of(blocks)
    raw = b"".join(parts)
    cut = data.draw(st.integers(len(parts[0]), len(raw)))
    whole, end = 0, 0
    while whole < len(parts) and end + len(parts[whole]) <= cut:
        end += len(parts[whole])
        whole += 1
    got = curves.decode(raw[:cut])
    assert (got.times_s, got.temperatures_c) == expected(blocks, range(whole))
    assert got.lost_blocks == 0
    assert (got.end_reason is None) == (whole < len(parts))
    assert (got.trailing_bytes > 0) == (cut > end)


def blocks_of(*described):
    """A curve of data blocks from ``(start_ms, period_ms, samples, events)``."""
    parts = [head_block()]
    for number, (start_ms, period_ms, samples, events) in enumerate(described, 1):
        head = (start_ms, period_ms, len(samples), len(events), 0, 4032, 2100)
        body = plain_body(samples, 0)
        raw = codec.pack(catalogue.DATA_HEAD, (*head, len(body))) + body
        raw += b"".join(codec.pack(catalogue.EVENT, event) for event in events)
        parts.append(lying_bytes.block("data", 1, number, raw))
    return b"".join(parts)


@pytest.mark.parametrize(
    ("second", "kept"),
    [
        ((120_000, 1000, [4032] * 60, []), 120),
        ((59_001, 1000, [4032] * 60, []), 120),
        ((59_000, 1000, [4032] * 60, []), 60),  # back to where the first one ended
        ((0, 1000, [4032] * 60, []), 60),
        ((120_000, 0, [4032] * 60, []), 60),  # time that stands still
        ((120_000, 1, [4032] * 60, []), 60),  # faster than any converter
        ((120_000, curves.PERIOD_LEAST_MS, [4032] * 60, []), 120),
        ((0xFFFFFFFF, 1000, [4032] * 60, []), 60),  # after seven weeks
        ((curves.LONGEST_MS - 59_000, 1000, [4032] * 60, []), 120),
        ((curves.LONGEST_MS - 58_999, 1000, [4032] * 60, []), 60),
        ((120_000, 1000, [4032] * 121, []), 60),  # more than fit a block
        ((120_000, 1000, [4032] * 60, [(0, "alarm", 0, "work", 0, 0)] * 16), 120),
        ((120_000, 1000, [4032] * 60, [(0, "alarm", 0, "work", 0, 0)] * 17), 60),
        ((120_000, 1000, [4032] * 60, [(0xFFFFFFFF, "alarm", 0, "work", 0, 0)]), 60),
    ],
)
def test_a_block_with_a_right_crc_that_no_board_wrote_is_lost(second, kept):
    """Whoever draws or judges a curve may rely on a time that goes forwards, in steps."""
    got = curves.decode(blocks_of((0, 1000, [4032] * 60, []), second) + head_block())
    assert len(got.times_s) == kept
    assert sorted(set(got.times_s)) == got.times_s


def test_a_curve_has_only_so_many_events():
    """More than one every few seconds for half a day: whoever looks through them must end."""
    event = (0, "alarm", 0, "work", 0, 0)
    full = [(at * 60_000, 1000, [4032] * 2, [event] * 16) for at in range(700)]
    got = curves.decode(blocks_of(*full))
    assert curves.EVENTS_MOST - 16 < len(got.events) <= curves.EVENTS_MOST


def test_a_clock_that_would_put_the_start_before_1970_says_nothing():
    late = other_block("clock", catalogue.CLOCK_BLOCK, (5000, 4, 999), block=1)
    assert curves.decode(head_block(unix_s=0) + late).started_unix_ms is None
    good = other_block("clock", catalogue.CLOCK_BLOCK, (5000, 5, 0), block=1)
    assert curves.decode(head_block(unix_s=0) + good).started_unix_ms == 0


def test_a_curve_whose_clock_was_set_later():
    parts = [
        head_block(unix_s=0),
        data_block([1, 2, 3]),
        other_block("clock", catalogue.CLOCK_BLOCK, (73000, 1735689673, 250), block=2),
        data_block([4], start_ms=73000, block=3),
    ]
    assert curves.decode(b"".join(parts[:2])).started_unix_ms is None
    got = curves.decode(b"".join(parts))
    assert got.started_unix_ms == 1735689600250
    assert got.lost_blocks == 0


@pytest.mark.parametrize("raw", [b"", b"\xff" * 600, bytes(600), data_block([1, 2, 3], block=0)])
def test_what_has_no_head_is_no_curve(raw):
    with pytest.raises(RecordError):
        curves.decode(raw)


@settings(max_examples=150)
@given(st.binary(max_size=300), st.booleans())
def test_that_garbage_is_refused_or_ignored(garbage, with_head):
    head = head_block() if with_head else b""
    try:
        got = curves.decode(head + garbage)
    except RecordError:
        assert not with_head
        return
    assert got.times_s == []
    assert (got.trailing_bytes > 0) == (len(garbage) > 0)
