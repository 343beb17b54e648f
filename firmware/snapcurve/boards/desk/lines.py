"""The desk board's two lines to the process that started it: the bench and the converter's bus.

The bench says how far time may run, with the button as it is until then, and hears what
sounds. At the other end of the bus is a model of the converter (chip.py): it is no part
of the firmware, and a board's memory is not taken up by it.
"""

import struct
import sys

from snapcurve.wire.const import const

_WRITE_ONLY = const(0x80)
_HEAD = "<iB"  # device time in ms; bytes that follow, with _WRITE_ONLY if none are wanted back


def _opened(text: str):
    """File and poll source of the line called ``fd:N`` or ``tcp:PORT``."""
    kind, _, value = text.partition(":")
    if kind == "fd":
        file = open(int(value), "r+b")  # noqa: SIM115
        return file, file
    from .sockets import connected

    return connected(int(value))


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
            sys.exit(0)  # the bench has gone, and the desk with it
        reach, level = line.split()
        if reach == b"end":
            self.ended = True
        else:
            self.covered_ms = int(reach)
        self.button = level == b"1"
        self._asked_ms = -2


class BusLine:
    """As machine.SPI and machine.Pin called. A transfer goes out with its time: ``now_ms``
    tells it, once there is a clock."""

    def __init__(self, text: str):
        self._file = _opened(text)[0]
        self.now_ms = None

    def cs(self, level: int) -> None:
        """Select line: each transfer goes out whole, so there is nothing to begin or end."""

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
