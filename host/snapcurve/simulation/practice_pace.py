"""How fast the practice bench's time runs: so many times faster than the clock on the wall, or
not at all. The board runs as fast as it can and never past the newest row, so the rows set the
pace."""

import threading
import time
from collections.abc import Callable

from snapcurve.errors import SnapcurveError
from snapcurve.simulation.desk_wiring import Simulator
from snapcurve.simulation.practice import LONGEST_S, STEP_MS, Practice

SLOWEST, FASTEST = 1.0, 60.0
LONGEST_MS = round(LONGEST_S * 1000)  # then time stands still: a bowl left alone
BEHIND_S = 1.0  # a computer that slept this long does not catch up


class Pace(Simulator):
    """``practice`` for the board, in step with ``clock`` (s)."""

    def __init__(
        self,
        practice: Practice,
        speed: float,
        halted: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ):
        self._practice = practice
        self._clock = clock
        self._turn = threading.Condition()
        self._halted = halted
        self._until_ms = STEP_MS if halted else 0  # halted time runs up to there
        self._asking = False  # the board has lived through all it was given
        self._closed = False
        self.speed = checked_speed(speed)
        self._anchor()

    @property
    def halted(self) -> bool:
        """Whether time stands still."""
        return self._halted or self._practice.now_ms >= LONGEST_MS

    def _anchor(self) -> None:
        self._wall_s, self._from_ms = self._clock(), self._practice.now_ms

    def rows(self, now_ms: int) -> list[str] | None:
        with self._turn:
            self._asking = True
            self._turn.notify_all()
            while not self._closed and (wait_s := self._wait_s(now_ms)) != 0:
                self._turn.wait(wait_s)
            self._asking = False
            # Handed out under the lock: who waits for a time to have passed looks at both.
            return None if self._closed else self._practice.rows(now_ms)

    def _wait_s(self, now_ms: int) -> float | None:
        """How long to wait for the next step; None: until something happens, 0: not at all."""
        next_ms = self._practice.now_ms
        if now_ms >= next_ms or next_ms < self._until_ms:
            return 0  # the board was away, or somebody waits for it
        if self.halted:
            return None
        due_s = self._wall_s + (next_ms - self._from_ms) / 1000 / self.speed
        early_s = due_s - self._clock()
        if early_s < -BEHIND_S:
            self._anchor()
        return max(0.0, early_s)

    def heard(self, now_ms: int, words: list[str]) -> None:
        self._practice.heard(now_ms, words)

    def set_speed(self, speed: float) -> None:
        """From now on so fast. SnapcurveError for a speed that is none."""
        speed = checked_speed(speed)
        with self._turn:
            self.speed = speed
            self._anchor()
            self._turn.notify_all()

    def halt(self) -> None:
        """Time stands still."""
        with self._turn:
            self._halted = True

    def go(self) -> None:
        """Time runs on."""
        with self._turn:
            self._halted = False
            self._anchor()
            self._turn.notify_all()

    def wait(self, seconds: float) -> bool:
        """Until so much time has passed; halted time is let pass at once. False if it was
        closed meanwhile."""
        with self._turn:
            until_ms = min(LONGEST_MS, self._practice.now_ms + round(seconds * 1000))
            if self._halted:
                self._until_ms = max(self._until_ms, until_ms)
            self._turn.notify_all()
            while not self._closed and not (self._asking and self._practice.now_ms >= until_ms):
                self._turn.wait()
            self._anchor()
            return not self._closed

    def close(self) -> None:
        """There is no more time."""
        with self._turn:
            self._closed = True
            self._turn.notify_all()


def checked_speed(speed: float) -> float:
    """``speed``; SnapcurveError if it is none."""
    if not SLOWEST <= speed <= FASTEST:
        raise SnapcurveError(
            f"There is no speed {speed:g} for the practice bowl: choose {SLOWEST:g} to "
            f"{FASTEST:g} times as fast as the clock on the wall."
        )
    return float(speed)
