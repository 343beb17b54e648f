"""One run of the desk board: start it, shake hands, load a profile, let time pass, collect."""

import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from snapcurve.board.client import Board, CurveRow
from snapcurve.board.download import download
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.desk_wiring import Simulator


class Gate(Simulator):
    """A simulator whose time stands still after the first row until ``open`` is called, however
    many rows it hands over at once.

    ``finished`` is set when it has no more rows.
    """

    def __init__(self, simulator: Simulator):
        self._simulator = simulator
        self._opened = threading.Event()
        self._first = True
        self._waiting: list[str] = []  # rows behind the first one
        self.finished = threading.Event()

    def open(self) -> None:
        """Let time run."""
        self._opened.set()

    def rows(self, now_ms: int) -> list[str] | None:
        if not self._first:
            self._opened.wait()
        if self._waiting:
            rows, self._waiting = self._waiting, []
            return rows
        found = self._simulator.rows(now_ms)
        if found is None:
            self.finished.set()
        elif self._first:
            found, self._waiting = found[:1], found[1:]
        self._first = False
        return found

    def heard(self, now_ms: int, words: list[str]) -> None:
        self._simulator.heard(now_ms, words)


class DeskRun:
    """A desk board with a profile on it, before time has begun to run."""

    def __init__(self, desk: DeskBoard, gate: Gate, board: Board):
        self.desk = desk
        self.gate = gate
        self.board = board

    def run(self, tick: Callable[[], None] | None = None) -> None:
        """Let time run until the simulator has no more rows; ``tick`` is called now and then."""
        self.gate.open()
        while not self.gate.finished.wait(0.05):
            self.desk.check()
            if tick is not None:
                tick()

    def collect(self) -> list[tuple[CurveRow, bytes]]:
        """All closed curves, whole and verified."""
        return [
            (row, download(self.board, row))
            for row in self.board.curves()
            if row.state == "closed"
        ]


@contextmanager
def desk_run(
    simulator: Simulator,
    profile: bytes | None,
    speed: str,
    flash: Path | None = None,
    board_name: str = "1",
) -> Iterator[DeskRun]:
    """A run of the desk board; its flash stays at ``flash``, or is forgotten afterwards.

    ``board_name`` makes the desk board's number; curves of two boards never mix.
    """
    with tempfile.TemporaryDirectory(prefix="snapcurve-") as folder:
        gate = Gate(simulator)
        at = flash or Path(folder) / "flash"
        with DeskBoard(at, gate, speed, board=board_name) as desk, desk.answering() as board:
            board.set_clock(time.time())
            if profile is not None:
                board.put_profile(profile)
            yield DeskRun(desk, gate, board)
