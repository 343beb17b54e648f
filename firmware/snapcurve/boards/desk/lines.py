"""The desk board's lines: the wire, and to the process that started it the bench and the
converter's bus.

The bench says how far time may run, with the button as it is until then, and hears what
sounds. At the other end of the bus is a model of the converter (chip.py), outside of the
board's memory.
"""

import struct
import sys

from snapcurve.wire.const import const

_HOST = "127.0.0.1"  # this computer
_WRITE_ONLY = const(0x80)
_HEAD = "<iB"  # device time in ms; bytes that follow, with _WRITE_ONLY if none come back


def _opened(text: str):
    """File and poll source of the line called ``fd:N`` or ``tcp:PORT``."""
    kind, _, value = text.partition(":")
    if kind == "fd":
        file = open(int(value), "r+b")  # noqa: SIM115
        return file, file
    import socket  # only under CPython

    connection = socket.socket()
    connection.connect((_HOST, int(value)))
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # head and data go apart
    return connection.makefile("rwb", buffering=0), connection


class Stream:
    """The wire, which never blocks: ``stdio``, made so by the starter, ``listen:PORT``, a
    connection whose end is that of the desk board, or ``serve:PORT``, one connection after the
    other."""

    def __init__(self, text: str):
        kind, _, port = text.partition(":")
        self._listener = None
        self._serves = kind == "serve"
        if kind == "stdio":
            self.source = sys.stdin
            self._in = sys.stdin.buffer
            self._out = sys.stdout.buffer
            return
        import socket  # only under CPython

        self._in = self._out = None
        self._listener = socket.socket()
        self._listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._listener.bind((_HOST, int(port)))
        self._listener.listen(1)
        self.source = self._listener
        if not self._serves:
            self._accept()
            self._listener.close()

    def _accept(self) -> None:
        self.source = self._listener.accept()[0]
        self.source.setblocking(False)
        self._in = self._out = self.source.makefile("rwb", buffering=0)

    def read_into(self, buffer) -> int:
        """Bytes read, 0 if there are none now."""
        try:
            if self._in is None:
                self._listener.setblocking(False)
                self._accept()
            count = self._in.readinto(buffer)
        except OSError:
            return 0
        if count == 0 and self._listener is not None:
            if not self._serves:
                sys.exit(0)  # the other end has gone
            self._in.close()
            self.source.close()
            self._in = self._out = None
            self.source = self._listener
        return count or 0

    def write(self, view) -> int:
        """Bytes taken, 0 if there is no room now."""
        if self._out is None:
            return len(view)  # nobody is there to read it
        try:
            return self._out.write(view) or 0
        except OSError:
            return 0


class BenchLine:
    """Lines of text. Board: ``want MS``, ``tone MS HZ``, ``alarm MS NAME PHASE CENTI_C``.
    Bench, to each ``want``: ``MS LEVEL``, time may run so far and the button is down (1) or
    not (0) until then; ``end LEVEL``, nothing more will come.
    """

    def __init__(self, text: str):
        self._file, self.source = _opened(text)
        self._asked_ms = -2
        self.covered_ms = -1
        self.button = False
        self.ended = False

    def answered(self) -> bool:
        """Whether the last ``want`` has been answered."""
        return self._asked_ms < -1

    def want(self, now_ms: int) -> None:
        """Ask how far time may run from ``now_ms`` on, once for each moment."""
        if self._asked_ms != now_ms:
            self._asked_ms = now_ms
            self.report("want %d" % now_ms)

    def report(self, text: str) -> None:
        """Send one line to the bench."""
        self._file.write((text + "\n").encode())

    def take(self) -> None:
        """Read an answer."""
        line = self._file.readline()
        if not line:
            sys.exit(0)  # the bench has gone
        reach, level = line.split()
        if reach == b"end":
            self.ended = True
        else:
            self.covered_ms = int(reach)
        self.button = level == b"1"
        self._asked_ms = -2


class BusLine:
    """As machine.SPI and machine.Pin called. A transfer goes out with its time, ``now_ms()``."""

    def __init__(self, text: str):
        self._file = _opened(text)[0]
        self.now_ms = None

    def cs(self, level: int) -> None:
        """Select line: each transfer goes out whole."""

    def write(self, data) -> None:
        """A write transfer."""
        self._file.write(struct.pack(_HEAD, self.now_ms(), len(data) | _WRITE_ONLY))
        self._file.write(data)

    def write_readinto(self, out, into) -> None:
        """A transfer in both directions."""
        self._file.write(struct.pack(_HEAD, self.now_ms(), len(out)))
        self._file.write(out)
        if self._file.readinto(into) != len(into):
            sys.exit(0)  # the other end has gone
