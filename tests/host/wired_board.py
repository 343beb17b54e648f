"""A board on a wire in virtual time, for the commands that talk to one."""

import sys
from contextlib import contextmanager
from pathlib import Path

from snapcurve.board.client import Board
from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from damaging_wire import Wire

ROOM_128THS = 128 * 21


class WiredBoard:
    """A board that keeps its flash in `folder` and records batches that began at given times."""

    def __init__(self, folder):
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self._store().start()

    def _store(self):
        return Store(str(self._folder))

    @property
    def profile(self):
        """What was loaded last."""
        store = self._store()
        store.start()
        return store.load("profile")

    def record(self, began_unix_s, seconds=120):
        """A batch with the profile that is loaded, on a clock that says so; 0: not set."""
        store = self._store()
        store.start()
        recorder = Recorder(store, (0, 1, 0), 7)
        recorder.start(0, (int(began_unix_s), 0), 0, store.load("profile"), False)
        for second in range(seconds):
            recorder.reading(128 * 31)
            recorder.step(second * 1000, 2100)
        recorder.end(seconds * 1000, "button")

    @contextmanager
    def open(self, _port=None, *_):
        """In place of opening.shaking_hands."""
        wire = Wire(self._folder)
        board = Board(wire, wire.clock)
        board.hello()
        yield board
