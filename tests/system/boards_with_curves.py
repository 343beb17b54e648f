"""Desk boards that hold curves, for tests of bringing them home."""

import os
import pty
import select
import shutil
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from snapcurve.board.client import Board
from snapcurve.board.ports import SerialPort
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.desk_run import desk_run

ROOM_C = 21.0


class Still:
    """A probe that lies on the bench: nothing new is recorded."""

    def rows(self, now_ms: int) -> list[str]:
        """See Simulator."""
        second = now_ms // 1000
        return [f"{second + ahead},{ROOM_C},{ROOM_C},0,0" for ahead in range(second > 0, 3)]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


class ShortBatch:
    """A few minutes in the bowl, which a long press ends."""

    START_S, END_S, LAST_S = 4, 240, 250

    def __init__(self, number: int):
        self._bowl_c = 30 + number / 4  # no two curves alike

    def rows(self, now_ms: int) -> list[str] | None:
        """See Simulator."""
        second = now_ms // 1000
        if second >= self.LAST_S:
            return None
        return [self._row(second + ahead) for ahead in range(second > 0, 30)]

    def _row(self, second: int) -> str:
        probe_c = self._bowl_c + second % 7 / 20 if second > self.START_S else ROOM_C
        button = int(self.END_S <= second < self.END_S + 4)
        return f"{second},{probe_c},{ROOM_C},0,{button}"

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


def record(flash: Path, count: int, board: str = "1") -> dict[int, bytes]:
    """Record ``count`` curves onto the flash image, one at each start; their bytes."""
    for number in range(count):
        with desk_run(ShortBatch(number), None, "max", flash, board) as running:
            running.run()
            curves = {row.curve: raw for row, raw in running.collect()}
    return curves


@contextmanager
def standing(flash: Path, board: str = "1") -> Iterator[DeskBoard]:
    """A board with this flash, in real time."""
    with DeskBoard(flash, Still(), "real", board=board) as desk:
        desk.wait_until_up()
        yield desk


@contextmanager
def talking_to(desk: DeskBoard) -> Iterator[Board]:
    """A conversation with it."""
    desk.wait_until_up()
    board = Board(SerialPort(desk.port))
    try:
        board.hello()
        yield board
    finally:
        board.port.close()


def copied(flash: Path, folder: Path) -> Path:
    """A copy of a flash image that may be spoilt."""
    folder.mkdir(parents=True, exist_ok=True)
    return Path(shutil.copy(flash, folder / "flash"))


class Cable:
    """A pseudo-terminal between host and board that can be pulled out.

    After ``longest`` bytes from the board (None: never) it is gone, as a port is whose
    board was unplugged. ``port`` is its name.
    """

    def __init__(self, desk: DeskBoard, longest: int | None = None):
        self._board = os.open(desk.port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        self._ours, theirs = pty.openpty()
        tty.setraw(self._ours)
        tty.setraw(theirs)
        self.port = os.ttyname(theirs)
        os.close(theirs)
        # While nobody has the other end open, reading gives an error: the host comes later.
        self._longest = longest
        self.carried = 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    def _carry(self) -> None:
        while not self._stop.is_set():
            ready, _, _ = select.select([self._ours, self._board], [], [], 0.01)
            for source, target in ((self._ours, self._board), (self._board, self._ours)):
                if source not in ready:
                    continue
                try:
                    data = os.read(source, 256)
                    if source == self._board and self._longest is not None:
                        data = data[: self._longest - self.carried]
                        self.carried += len(data)
                    while data:
                        with suppress(BlockingIOError):
                            data = data[os.write(target, data) :]
                except OSError:
                    time.sleep(0.005)
                if self._longest is not None and self.carried >= self._longest:
                    self._stop.set()
        os.close(self._ours)
        os.close(self._board)

    def pull(self) -> None:
        """Take it away."""
        self._stop.set()
        self._thread.join()

    def __enter__(self) -> "Cable":
        return self

    def __exit__(self, *_: object) -> None:
        self.pull()
