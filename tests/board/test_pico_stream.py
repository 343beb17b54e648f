"""The boards' USB stream on a host that reads, stalls or has gone.

The fake behaves as the RP2 port of MicroPython does by its source: a write waits for room,
gives up after half a second without any, and returns how much was taken; the poll says
whether a first byte would be taken at once. Not yet seen on hardware.
"""

import errno
import importlib
import select
import sys
import types

import pytest

FIFO = 256
GIVES_UP_MS = 500


class Usb:
    """Both directions of the board's serial port, and the time that is lost in it."""

    def __init__(self):
        self.inbox = bytearray()
        self.fifo = 0  # bytes the host has not fetched
        self.host = bytearray()
        self.reading = True
        self.waited_ms = 0
        self.writes = 0

    def fetch(self):
        if self.reading:
            self.fifo = 0

    def write(self, data):
        data = bytes(data)
        self.writes += 1
        count = 0
        while count < len(data):
            self.fetch()
            room = FIFO - self.fifo
            if not room:
                self.waited_ms += GIVES_UP_MS
                break
            piece = data[count : count + room]
            self.host += piece
            self.fifo += len(piece)
            count += len(piece)
        return count

    def readinto(self, buffer):
        if len(self.inbox) < len(buffer):
            raise OSError(errno.EDEADLK, "would wait for ever")
        buffer[:] = self.inbox[: len(buffer)]
        del self.inbox[: len(buffer)]
        return len(buffer)


class Poll:
    def __init__(self, usb):
        self._usb = usb
        self._flags = 0

    def register(self, _stream, flags):
        self._flags = flags

    def ipoll(self, timeout_ms):
        assert timeout_ms == 0
        if self._flags == select.POLLIN:
            return [1] if self._usb.inbox else []
        self._usb.fetch()
        return [1] if self._usb.fifo < FIFO else []


@pytest.fixture
def usb(monkeypatch):
    """The stream of boards/peripherals.py on the fake port; both."""
    port = Usb()
    machine = types.ModuleType("machine")
    monkeypatch.setitem(sys.modules, "machine", machine)
    sys.modules.pop("snapcurve.boards.peripherals", None)
    board = importlib.import_module("snapcurve.boards.peripherals")
    text = types.SimpleNamespace(buffer=port)
    monkeypatch.setattr(board.sys, "stdin", text)
    monkeypatch.setattr(board.sys, "stdout", text)
    monkeypatch.setattr(board.select, "poll", lambda: Poll(port))
    port.stream = board.UsbStream()
    monkeypatch.undo()
    yield port
    sys.modules.pop("snapcurve.boards.peripherals", None)


def test_all_bytes_both_ways(usb):
    every = bytes(range(256)) * 4
    usb.inbox += every
    buffer = bytearray(64)
    got = b""
    while count := usb.stream.read_into(buffer):
        got += bytes(buffer[:count])
    assert got == every
    view = memoryview(every)
    while view:
        view = view[usb.stream.write(view) :]
    assert bytes(usb.host) == every
    assert usb.waited_ms == 0


def test_an_answer_goes_out_in_blocks(usb):
    assert usb.stream.write(memoryview(bytes(1054))) == 1054
    assert usb.writes == 17  # 64 bytes each


@pytest.mark.parametrize("room", range(0, FIFO, 5))
def test_a_host_that_stops_reading_costs_one_wait(usb, room):
    """As long as the interpreter waits for it, however full the buffer is; then none."""
    usb.reading = False
    usb.fifo = FIFO - room
    frame = memoryview(bytes(1054))
    assert sum(usb.stream.write(frame) for _ in range(100)) == room
    assert usb.waited_ms <= GIVES_UP_MS
    if room:
        usb.fifo -= 1  # it fetches a byte now and then
        assert usb.stream.write(frame) == 1
        assert usb.waited_ms <= GIVES_UP_MS


def test_when_the_host_reads_again_blocks_go_again(usb):
    usb.reading = False
    usb.fifo = FIFO - 70
    frame = memoryview(bytes(1054))
    assert usb.stream.write(frame) == 70
    usb.reading = True
    usb.writes = 0
    assert usb.stream.write(frame) == 1054
    assert usb.writes < 320 + 20
    usb.writes = 0
    assert usb.stream.write(frame) == 1054
    assert usb.writes == 17


def test_a_host_that_reads_a_little_and_stops_costs_one_wait_for_each_buffer(usb):
    usb.reading = False
    usb.fifo = FIFO - 70
    frame = memoryview(bytes(1054))
    read = 0
    for _ in range(40):
        usb.stream.write(frame)
        read += min(40, usb.fifo)
        usb.fifo = max(0, usb.fifo - 40)
    assert usb.waited_ms <= GIVES_UP_MS * (1 + read // 320 + 1)


def test_that_the_fake_would_show_a_careless_write(usb):
    usb.reading = False
    assert usb.write(bytes(1054)) == FIFO
    assert usb.waited_ms == GIVES_UP_MS
