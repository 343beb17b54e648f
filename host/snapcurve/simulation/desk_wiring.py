"""What the desk board is connected to: the bench, and the bus with a converter on it.

Each is one end of a line; the board's ends are in boards/desk/lines.py. The bus is served apart
from the bench, which may wait for a person or for the wire.
"""

import struct
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import IO, Any

from snapcurve.boards.desk.chip import ChipModel
from snapcurve.boards.desk.tape import Tape

_HEAD = struct.Struct("<iB")
_WRITE_ONLY = 0x80


class Simulator:
    """What the desk board's probe is in, and who hears its sounds."""

    def rows(self, now_ms: int) -> list[str] | None:
        """Tape rows from ``now_ms`` on; None if there are no more. May wait."""
        raise NotImplementedError

    def heard(self, now_ms: int, words: list[str]) -> None:
        """A report of the board: ``["tone", HZ]`` or ``["alarm", NAME, PHASE, CENTI_C]``."""


@contextmanager
def _closing(file: IO[bytes]) -> Iterator[None]:
    try:
        yield
    finally:
        with suppress(OSError, ValueError):  # what could not be sent is lost with the board
            file.close()


class DeskWiring:
    """One board's bench and bus, from its first start on.

    A board counts its time from its last start, the simulator from the first: ``started_ms`` is
    the difference. ``now_ms`` is the simulator's time by what the board asked last. ``asked`` is
    set when the board has asked its converter for the first time: its loop goes round.
    """

    def __init__(self, simulator: Simulator, converter: str = "MAX31856", kind: str = "K"):
        self._simulator = simulator
        self._converter = converter
        self._kind = kind
        self._tape = Tape()
        self._lock = threading.Lock()  # the tape is written for the bench and read for the bus
        self.started_ms = 0
        self.now_ms = 0
        self.asked = threading.Event()

    def serve_bench(self, file: IO[bytes]) -> None:
        """Answer the board over ``file`` until it goes, then close it. What the simulator raises
        is raised."""
        with _closing(file):
            self._serve_bench(file)

    def _serve_bench(self, file: IO[bytes]) -> None:
        lines = iter(file.readline, b"")
        while True:
            try:
                line = next(lines, b"")
            except (OSError, ValueError):
                return  # the board or this end was closed
            if not line.endswith(b"\n"):
                return
            kind, text, *words = line.decode().split()
            self.now_ms = self.started_ms + int(text)
            if kind != "want":
                self._simulator.heard(self.now_ms, [kind, *words])
                continue
            answer = self._answer(self.now_ms)
            with suppress(OSError, ValueError):
                file.write(answer.encode() + b"\n")
                file.flush()

    def _answer(self, now_ms: int) -> str:
        """How far time may run from ``now_ms``, and the button from there on."""
        tape = self._tape
        if (tape.empty() or tape.covered_ms <= now_ms) and not tape.ended:
            rows = self._simulator.rows(max(0, now_ms))
            with self._lock:
                for row in ["end"] if rows is None else rows:
                    tape.add(row)
        # The board has lived through now_ms: what follows decides.
        down, until_ms = tape.button(now_ms + 1)
        if tape.ended and tape.covered_ms <= now_ms:
            return f"end {int(down)}"
        return f"{max(until_ms, now_ms) - self.started_ms} {int(down)}"

    def serve_bus(self, file: IO[bytes]) -> None:
        """Be the converter at the other end of ``file`` until the board goes, then close it."""
        board_ms = 0
        chip = self._chip(lambda: board_ms)
        with _closing(file), suppress(OSError, ValueError):
            while len(head := file.read(_HEAD.size)) == _HEAD.size:
                self.asked.set()
                board_ms, count = _HEAD.unpack(head)
                length = count & ~_WRITE_ONLY
                data = file.read(length)
                if not data or len(data) < length:
                    return  # the board was killed in the middle of it
                if count & _WRITE_ONLY:
                    chip.write(data)
                    continue
                into = bytearray(len(data))
                chip.cs(0)
                chip.write_readinto(data, into)
                chip.cs(1)
                file.write(into)
                file.flush()

    def _chip(self, now: Callable[[], int]) -> Any:
        if self._converter == "MAX31855":
            from snapcurve.boards.desk.chip_31855 import Max31855Model

            return Max31855Model(now, self, self._kind)
        return ChipModel(now, self, kind=self._kind)

    def at(self, board_ms: int) -> tuple[float, float, int]:
        """``(probe_c, ambient_c, fault bits)`` for the converter at ``board_ms``."""
        with self._lock:
            found: tuple[float, float, int] = self._tape.at(board_ms + self.started_ms)
        return found
