"""Where the board under test stands: a port with anything on it, or a desk board of our own."""

import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from snapcurve.board.client import Board, CurveRow
from snapcurve.board.download import download
from snapcurve.board.ports import SerialPort
from snapcurve.board.prompt import leave_for_prompt, prompt_at
from snapcurve.errors import LinkError
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.desk_run import desk_run
from tests.rig.course import ROOM_C, Course

Fetched = tuple[CurveRow, bytes, float]
RESTART_WAIT_S = 60.0  # then it is given up; how long it may take is for the acceptance to say
LOOK_EACH_S = 0.05


def answering(port: str, wait_s: float = RESTART_WAIT_S) -> Board:
    """A conversation with the board on ``port``, as soon as it answers."""
    deadline_s = time.monotonic() + wait_s
    while True:
        board = None
        try:
            board = Board(SerialPort(port))
            board.hello()
            return board
        except LinkError:
            if board is not None:
                with suppress(LinkError):
                    board.port.close()
            if time.monotonic() > deadline_s:
                raise
        time.sleep(LOOK_EACH_S)


class PortBench:
    """A board on a port. ``restarts``: it may be sent to its prompt and started from there."""

    has_tape = False

    def __init__(self, port: str, restarts: bool | None):
        self.port = port
        self.board = answering(port, 0.0)
        self.desk = self.board.greeting.board == "desk"
        self.restarts = not self.desk if restarts is None else restarts

    def restart(self) -> None:
        """Through the interpreter's prompt, as an installation does."""
        leave_for_prompt(self.board.port)
        self.board.port.close()
        time.sleep(0.3)
        with prompt_at(self.port) as prompt:
            prompt.restart()
        self.board = answering(self.port)

    def close(self) -> None:
        """Give the port back."""
        self.board.port.close()


class Resting:
    """A probe that lies on the bench."""

    def rows(self, now_ms: int) -> list[str]:
        """See Simulator."""
        second = now_ms // 1000
        return [f"{second + ahead},{ROOM_C},{ROOM_C},0,0" for ahead in range(second > 0, 3)]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


class DeskBench:
    """A desk board that the rig starts itself, and therefore can feed."""

    has_tape = True
    desk = True
    restarts = True

    def __init__(self, folder: Path):
        self._flash = folder / "flash"
        self._start()

    def _start(self) -> None:
        self._running = DeskBoard(self._flash, Resting(), "real")
        self.board = answering(self._running.port)

    def restart(self) -> None:
        """Plug out, plug in."""
        self.close()
        self._start()

    def close(self) -> None:
        """Plug out."""
        self.board.port.close()
        self._running.close()

    @contextmanager
    def batch(self, course: Course, profile: bytes) -> Iterator[list[Fetched]]:
        """The board after ``course``, as fast as it can: its curves with their bytes and the
        seconds each took."""
        self.close()
        with desk_run(course, profile, "max", self._flash) as running:
            running.run()
            self.board = running.board
            yield [fetched(running.board, row) for row in running.board.curves()]
        self._start()


def fetched(board: Board, row: CurveRow) -> Fetched:
    """A curve, its bytes (compared by CRC-32), and how long it took in s."""
    start_s = time.monotonic()
    raw = download(board, row)
    return row, raw, time.monotonic() - start_s
