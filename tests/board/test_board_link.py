"""The board's end of the wire: answers in order, never blocking, whatever the host does.

Frames of the host are made with the package cobs.
"""

import random

import pytest
from board_fakes import Stream, parse_frame, raw_frame, request
from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.link import Link
from snapcurve.wire import catalogue
from snapcurve.wire.errors import WireError

GIVEN_UP_MS = 2500  # a host that takes no byte for so long has gone
READING = (1, 2, 3, 4, 500, 5, 6, 7, 0, "air", "melt", "near", 1, "none", 65535, 0)


class Requests:
    """Answers a few messages and remembers what it was asked."""

    def __init__(self):
        self.asked = []
        self.data = b""
        self.live_interval_ms = self.live_due_ms = 0
        self.leaving = False

    def handle(self, now_ms, number, values):
        name = catalogue.message_name(number)
        self.asked.append((name, *values))
        if name == "hello":
            return (0, 1, 0, 7, "fake", 3, 10, 20, "MAX31856", "K")
        if name == "profile_get":
            return (self.data[:256],)
        if name == "curve_read":
            return (values[0], values[1], 5000, 1, self.data)
        if name == "live_on":
            self.live_interval_ms, self.live_due_ms = values[0], now_ms
            return ()
        if name == "live_off":
            self.live_interval_ms = 0
            return ()
        if name == "profile_put":
            return (len(values[0]),)
        raise WireError("no_profile", 3)

    def reading(self, _now_ms):
        return READING


class Rig:
    def __init__(self):
        self.stream = Stream()
        self.requests = Requests()
        self.link = Link(self.stream, self.requests)
        self.now_ms = 0

    def step(self, times=1, each_ms=1):
        for _ in range(times):
            self.link.step(self.now_ms)
            self.now_ms += each_ms

    def ask(self, raw, steps=50):
        self.stream.inbox += raw
        self.step(steps)
        return self.stream.answers()


@pytest.fixture
def rig():
    return Rig()


HELLO = ["hello_answer", 9, [0, 1, 0, 7, "fake", 3, 10, 20, "MAX31856", "K"]]


def test_an_answer_has_the_sequence_of_its_request(rig):
    for sequence in (0, 9, 255):
        ((name, got, values),) = rig.ask(request("hello", sequence=sequence))
        assert (name, got, values) == ("hello_answer", sequence, HELLO[2])


def test_several_requests_in_one_chunk_are_answered_in_order(rig):
    chunk = b"".join(request("hello", sequence=sequence) for sequence in range(20))
    assert [sequence for _, sequence, _ in rig.ask(chunk)] == list(range(20))


def test_one_request_in_a_step(rig):
    """So a flood of requests does not keep the loop from its reading."""
    rig.stream.inbox += request("hello") * 10
    for count in range(1, 11):
        rig.step()
        assert len(rig.requests.asked) == count


def test_byte_by_byte(rig):
    for byte in request("hello", sequence=9):
        assert rig.stream.answers() == []
        rig.stream.inbox.append(byte)
        rig.step()
    assert rig.stream.answers() == [tuple(HELLO)]


@pytest.mark.parametrize(
    "junk",
    [
        b"MicroPython v1.28; Raspberry Pi Pico\r\n>>> ",
        b"\x41",
        bytes(range(1, 256)) * 6,
        b"\0\0\0\0",
        request("hello")[:-4],
        b"\x05abc",
        bytes(random.Random(3).randbytes(4000)),
    ],
)
def test_junk_before_the_first_frame(rig, junk):
    assert rig.ask(junk + request("hello", sequence=9), 200)[-1:] == [tuple(HELLO)]


def test_a_damaged_frame_costs_itself_only(rig):
    good = request("hello", sequence=9)
    for index in range(1, len(good) - 1):
        damaged = bytearray(good)
        damaged[index] ^= 0x10
        if damaged[index] == 0:
            continue
        answers = rig.ask(bytes(damaged) + good)
        assert answers == [tuple(HELLO)], index


# --- refusals -------------------------------------------------------------------------


def refusal(answers):
    ((name, _, values),) = answers
    assert name == "error"
    assert values[3] == catalogue.PROTOCOL_VERSION
    return tuple(values[:3])


@pytest.mark.parametrize("version", [0, 1, catalogue.PROTOCOL_VERSION + 1, 255])
def test_another_version_is_told_ours(rig, version):
    assert refusal(rig.ask(raw_frame(1, version=version))) == ("wrong_version", 1, 255)
    assert rig.requests.asked == []


def test_an_unknown_message(rig):
    for number in range(1, 0x7E):
        try:
            catalogue.message_name(number)
        except KeyError:
            assert refusal(rig.ask(raw_frame(number))) == ("unknown_message", number, 255)


@pytest.mark.parametrize("number", [0x81, 0xFE, 0xFF, catalogue.LIVE])
def test_its_own_voice_is_not_answered(rig, number):
    """An echo of what the board said must not start an endless talk."""
    assert rig.ask(raw_frame(number, 1, b"\1\2\3\4")) == []


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (raw_frame(0x01, 1, b"x"), ("bad_length", 0x01, 255)),
        (raw_frame(0x02, 1, bytes(5)), ("bad_length", 0x02, 255)),
        (raw_frame(0x02, 1, bytes(7)), ("bad_length", 0x02, 255)),
        (raw_frame(0x03, 1, bytes(257)), ("bad_length", 0x03, 0)),
        (raw_frame(0x0D, 1, b"\xff"), ("bad_choice", 0x0D, 0)),
        (raw_frame(0x0C, 1, b"\1\0\x63\0\0"), ("bad_choice", 0x0C, 1)),
        (request("live_off") + b"", None),
        (request("reading_get"), ("no_profile", 0x0B, 3)),
    ],
)
def test_what_is_wrong_is_named_with_its_field(rig, raw, expected):
    answers = rig.ask(raw)
    assert (refusal(answers) if expected else answers) == (
        expected or [("live_off_answer", 1, [])]
    )


# --- all bytes ------------------------------------------------------------------------


@pytest.mark.parametrize("value", range(256))
def test_every_byte_value_both_ways(rig, value):
    """0x03, 0x0D, 0x0A, 0x11, 0x13 and 0x1A mean something to terminals; here nothing."""
    data = bytes([value]) * 200 + bytes([value, value ^ 0x55])
    ((_, _, (length,)),) = rig.ask(request("profile_put", data))
    assert length == len(data)
    assert rig.requests.asked[-1] == ("profile_put", data)
    rig.requests.data = data
    ((_, _, (got,)),) = rig.ask(request("profile_get"))
    assert got == data


@pytest.mark.parametrize("length", [0, 1, 239, 240, 253, 254, 255, 508, 509, 1023, 1024])
@pytest.mark.parametrize("fill", [b"\0", b"\xff", bytes(range(256))])
def test_every_length_of_an_answer(rig, length, fill):
    rig.requests.data = (fill * 1024)[:length]
    ((_, _, values),) = rig.ask(request("curve_read", 1, 0, 1024))
    assert values[4] == rig.requests.data


# --- a host that is slow, or gone -----------------------------------------------------


@pytest.mark.parametrize("at_most", [1, 17, 64, 1000])
def test_short_writes(rig, at_most):
    """A full buffer takes 17 of 64 bytes: the rest follows, nothing twice."""
    rig.stream.at_most = at_most
    rig.requests.data = bytes(range(256)) * 4
    ((_, _, values),) = rig.ask(request("curve_read", 1, 0, 1024))
    assert values[4] == rig.requests.data


def test_a_line_that_takes_a_little_now_and_then(rig):
    rig.requests.data = bytes(range(256)) * 4
    rig.stream.room = 0
    rig.stream.inbox += request("curve_read", 1, 0, 1024)
    for _ in range(200):
        rig.step(1, 500)
        rig.stream.room = 17
    ((_, _, values),) = rig.stream.answers()
    assert values[4] == rig.requests.data
    assert rig.link.abandoned == 0


def test_while_an_answer_waits_nothing_more_is_taken(rig):
    rig.stream.room = 10
    rig.stream.inbox += request("hello") * 3
    rig.step(5)
    assert len(rig.requests.asked) == 1
    assert len(rig.stream.inbox) <= 3 * len(request("hello"))
    assert rig.link.due_ms() - rig.now_ms <= 50


def test_a_host_that_stops_reading_costs_its_answer_and_nothing_else(rig):
    rig.stream.room = 10
    rig.stream.inbox += request("hello", sequence=1)
    rig.step(GIVEN_UP_MS)
    assert rig.link.abandoned == 1
    torn = bytes(rig.stream.outbox)
    assert len(torn) == 10
    rig.stream.room = 1 << 20
    rig.stream.inbox += request("hello", sequence=9)
    rig.step(10)
    pieces = [piece for piece in bytes(rig.stream.outbox).split(b"\0") if piece]
    assert pieces[0] == torn.strip(b"\0")  # ended by the next frame's delimiter
    assert list(parse_frame(pieces[1])) == HELLO


def test_one_write_per_step_while_the_line_is_full(rig):
    rig.stream.room = 0
    rig.stream.inbox += request("hello")
    rig.step(1000)
    assert rig.stream.writes <= 1001


# --- live readings --------------------------------------------------------------------


def test_live_readings_come_at_their_interval(rig):
    rig.ask(request("live_on", 200), 1)
    rig.stream.answers()
    rig.step(1000)
    answers = rig.stream.answers()
    assert [name for name, *_ in answers] == ["live"] * 5
    assert tuple(answers[0][2]) == READING
    rig.ask(request("live_off"), 1)
    rig.step(1000)
    assert rig.stream.answers() == []


def test_requests_are_answered_between_live_readings(rig):
    rig.ask(request("live_on", 100), 1)
    names = []
    for _ in range(20):
        names += [name for name, *_ in rig.ask(request("hello"), 50)]
    assert names.count("hello_answer") == 20
    assert 8 <= names.count("live") <= 11


def test_live_readings_never_block(rig):
    """The host asked for them and stopped reading: each step returns, memory stays."""
    rig.ask(request("live_on", 100), 1)
    rig.stream.answers()
    rig.stream.room = 30
    rig.step(20_000)
    assert rig.link.abandoned >= 5
    assert len(rig.stream.outbox) == 30
    rig.stream.outbox.clear()
    rig.stream.room = 1 << 20
    rig.step(GIVEN_UP_MS)
    pieces = [piece for piece in bytes(rig.stream.outbox).split(b"\0") if piece]
    assert parse_frame(pieces[-1])[0] == "live"


CHUNKS = st.lists(
    st.one_of(
        st.binary(max_size=80),
        st.sampled_from(
            [request("hello"), request("live_on", 100), request("live_off"), b"\0", b"\3"]
        ),
        st.builds(
            lambda number, payload, version: raw_frame(number, 3, payload, version),
            st.integers(0, 255),
            st.binary(max_size=40),
            st.sampled_from([1, 1, 1, 0, 9]),
        ),
    ),
    max_size=30,
)


@given(CHUNKS, st.lists(st.integers(0, 90), min_size=1, max_size=10))
def test_whatever_the_host_sends_and_takes(chunks, rooms):
    """No exception; all that comes out is whole frames, but for those given up."""
    rig = Rig()
    for index, chunk in enumerate(chunks):
        rig.stream.inbox += chunk
        rig.stream.room = rooms[index % len(rooms)]
        rig.step(3, 40)
    rig.stream.room = 1 << 30
    rig.step(200, 40)
    good = bad = 0
    for piece in bytes(rig.stream.outbox).split(b"\0"):
        if not piece:
            continue
        try:
            parse_frame(piece)
            good += 1
        except (cobs.DecodeError, AssertionError, IndexError):
            bad += 1
    assert bad <= rig.link.abandoned
    rig.stream.outbox.clear()
    assert tuple(HELLO) in rig.ask(b"\0" + request("hello", sequence=9), 60)
