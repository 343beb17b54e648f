"""How far long work has come: one line on a terminal, once it has lasted two seconds."""

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from typing import TextIO, TypeVar

from snapcurve.shown.table import redraw

SHOWN_AFTER_S = 2.0
EACH_S = 0.2

_Item = TypeVar("_Item")


class Progress:
    """``what`` is being done, ``total`` times; nothing is shown where there is no terminal."""

    def __init__(
        self,
        what: str,
        total: int = 0,
        file: TextIO | None = None,
        clock: Callable[[], float] = time.monotonic,
    ):
        self._what, self._total, self._clock = what, total, clock
        self._file = sys.stderr if file is None else file
        self._next_s = clock() + SHOWN_AFTER_S
        self._shown = False

    def at(self, done: int, total: int | None = None) -> None:
        """So many are done, of ``total`` if that is another now."""
        self._total = self._total if total is None else total
        if not self._file.isatty() or self._clock() < self._next_s:
            return
        self._next_s = self._clock() + EACH_S
        self._shown = True
        percent = done * 100 // max(1, self._total)
        redraw(f"  {self._what}: {done} of {self._total} ({percent} %)", self._file)

    def end(self) -> None:
        """Take the line away."""
        if self._shown:
            redraw("", self._file)
            print("\r", end="", file=self._file, flush=True)

    def over(self, items: Iterable[_Item]) -> Iterator[_Item]:
        """Go through ``items``, and show how far."""
        try:
            for done, item in enumerate(items, start=1):
                yield item
                self.at(done)
        finally:
            self.end()
