"""A serial port over USB with its own habits, and a flash that stops everything: through a
whole batch sampling and beeping go on, and every request gets its answer."""

import binascii

import pytest
from app_rig import BATCH, BATCH_ALARMS, AppRig
from board_fakes import parse_frame, raw_frame, request, samples_of
from cobs import cobs

from snapcurve.wire import catalogue

BANNER = b"MPY: soft reboot\r\nMicroPython v1.28.0; Raspberry Pi Pico with RP2040\r\n>>> "
JUNK = bytes(range(1, 256)) * 3
END_MS = 390_000


class Pieces:
    """Lets the board read at most ``size`` bytes at once."""

    def __init__(self, stream, size):
        self._read_into = stream.read_into
        self._size = size

    def __call__(self, buffer):
        return self._read_into(memoryview(buffer)[: self._size])


def batch(rig, each_ms=None, **wanted):
    """Run the batch to its end; what every one of them must have, whatever the wire did."""
    rig.run(END_MS, each_ms)
    assert [name for name in rig.names() if name in BATCH_ALARMS] == BATCH_ALARMS
    rig.end()
    samples = samples_of(rig.curve())
    assert list(samples) == [1000 * index for index in range(len(samples))]
    assert len(samples) >= END_MS // 1000 - 16
    gaps = sum(value is None for value in samples.values())
    assert gaps <= wanted.get("gaps", 1), gaps
    assert len(rig.sounded()) > 20


def asking(rig, size, at_most):
    rig.parts.stream.read_into = Pieces(rig.parts.stream, size)
    rig.parts.stream.at_most = at_most
    answers = 0
    for second in range(5, 380, 5):
        rig.run(second * 1000)
        rig.parts.stream.inbox += request("reading_get", sequence=second & 0xFF)
        rig.parts.stream.inbox += request("hello", sequence=second & 0xFF)
        rig.run(second * 1000 + 1900)
        names = [name for name, sequence, _ in rig.parts.stream.answers()]
        answers += names == ["reading_get_answer", "hello_answer"]
    return answers


@pytest.mark.parametrize("size", [1, 63, 64, 65])
@pytest.mark.parametrize("at_most", [1, 17, 64])
def test_pieces_and_short_writes(tmp_path, size, at_most):
    rig = AppRig(tmp_path, BATCH)
    assert asking(rig, size, at_most) == 75
    batch(rig)


def every_position(byte):
    """Frames with ``byte`` at each place of a profile, and as sequence number: the place of
    the message's number and of the version is the protocol's own."""
    for place in range(120):
        body = bytearray(b"\x41" * 120)
        body[place] = byte
        yield raw_frame(0x03, 7, bytes(body))
    yield raw_frame(0x01, byte)


@pytest.mark.parametrize("byte", [0x03, 0x0D, 0x0A, 0x11, 0x13, 0x1A, 0x04])
def test_bytes_that_mean_something_elsewhere(tmp_path, byte):
    """In every position: each gets the very answer it gets with any other byte there."""
    rig = AppRig(tmp_path, BATCH)
    frames = list(every_position(byte))
    assert all(byte in frame for frame in frames)
    for index, frame in enumerate(frames):
        rig.run(4000 + 1000 * index)
        rig.parts.stream.inbox += frame
        rig.run(4500 + 1000 * index)
        ((name, sequence, _),) = rig.parts.stream.answers()
        assert (name, sequence) == (
            ("error", 7) if index < len(frames) - 1 else ("hello_answer", byte)
        )
    batch(rig)


def test_every_byte_in_what_the_board_sends(tmp_path):
    """A curve holds all of them; whatever is sent comes back byte for byte."""
    rig = AppRig(tmp_path, BATCH)
    raw = bytes(range(256))
    (tmp_path / "profile").write_bytes(raw)
    rig.parts.stream.inbox += request("profile_get", sequence=3)
    rig.run(1000)
    assert rig.parts.stream.answers() == [("profile_get_answer", 3, [raw])]


@pytest.mark.parametrize("at_s", [20, 60, 150, 200])
def test_a_host_that_stops_reading_for_a_minute(tmp_path, at_s):
    rig = AppRig(tmp_path, BATCH)
    stream = rig.parts.stream
    stream.inbox += request("live_on", 250, sequence=1)
    rig.run(at_s * 1000)
    stream.answers()
    stream.room = 100  # what the line still takes
    for second in range(60):
        stream.inbox += request("reading_get", sequence=second)
        rig.run((at_s + second) * 1000)
        assert rig.app.thermometer.age_ms(rig.parts.clock.ms) <= 600
    stream.room = 1 << 30
    rig.run((at_s + 63) * 1000)
    stream.outbox.clear()
    stream.inbox += b"\0" + request("hello", sequence=99)
    rig.run((at_s + 66) * 1000)
    frames = [piece for piece in bytes(stream.outbox).split(b"\0") if piece]
    good = []
    for piece in frames:
        body = cobs.decode(piece)
        if binascii.crc32(body[:-4]).to_bytes(4, "little") == body[-4:]:
            good.append(parse_frame(piece)[:2])
    assert ("hello_answer", 99) in good
    assert ("live", 0) in good, "live readings are on again by themselves"
    batch(rig)


@pytest.mark.parametrize("before", [BANNER, JUNK, BANNER + JUNK, JUNK[:1], b"\0" * 50])
def test_whatever_stood_on_the_line_before(tmp_path, before):
    """The first frame counts: it begins with a delimiter of its own."""
    rig = AppRig(tmp_path, BATCH)
    rig.parts.stream.inbox += before + request("hello", sequence=9)
    rig.run(3000)
    assert [row[:2] for row in rig.parts.stream.answers()] == [("hello_answer", 9)]
    batch(rig)


@pytest.mark.parametrize("erase_ms", [45, 400, 1200])
def test_a_flash_that_stops_everything(tmp_path, monkeypatch, erase_ms):
    """Each block and each small file costs two erases. The samples of a stop are missing if
    it is longer than a sample's second, and none besides."""
    rig = AppRig(tmp_path, BATCH)
    stops = []

    def slowed(real):
        def slow(*words):
            rig.parts.clock.ms += 2 * erase_ms
            stops.append(rig.parts.clock.ms)
            return real(*words)

        return slow

    for name in ("append", "save"):
        monkeypatch.setattr(rig.app.store, name, slowed(getattr(rig.app.store, name)))
    rig.parts.stream.inbox += request("live_on", 1000, sequence=1)
    rig.run(END_MS - 1000)
    missed = len(stops) * (1 + 2 * erase_ms // 1000) if erase_ms > 300 else len(stops)
    assert len(stops) >= 6
    assert len(rig.parts.stream.answers()) >= END_MS // 1000 - len(stops) * 4
    batch(rig, gaps=missed)


def test_a_line_that_spoils_now_and_then_stops_nothing(tmp_path):
    rig = AppRig(tmp_path, BATCH)
    for second in range(5, 300):
        frame = bytearray(request("reading_get", sequence=second & 0xFF))
        frame[second % len(frame)] ^= 1 << second % 8
        rig.parts.stream.inbox += frame
        rig.run(second * 1000)
    answered = rig.parts.stream.answers()
    assert len(answered) < 100, "it spoils little"
    rig.parts.stream.inbox += b"\0" + request("hello", sequence=1)
    rig.run(302_000)
    assert ("hello_answer", 1) in [row[:2] for row in rig.parts.stream.answers()]
    assert catalogue.REQUEST_BODY_MAX < catalogue.BODY_MAX
    batch(rig)
