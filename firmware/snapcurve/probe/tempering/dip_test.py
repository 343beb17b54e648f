"""The clock of the dip test: a blade dipped into the chocolate and put aside to set.

Set before it is early: too many crystals. When it is due it should be set and take no finger
mark. When it is late a reminder, in case the second sound was missed.
(Common practice, no source; the times come with the profile.)
"""

from snapcurve.wire.const import const

_NAMES = ("test_early", "test_due", "test_late")
_ANSWER_MS = const(180000)  # so long after it was due a press answers; later it is a new dip


class DipTest:
    """Runs from a dip until its result, a new dip, or ``stop``. ``number`` counts the dips of
    a curve from 1 on, those by button and by host alike."""

    def __init__(self):
        self.begin()

    def begin(self) -> None:
        """A curve begins: no dip yet."""
        self.number = 0
        self.start(-1)

    def start(self, now_ms: int) -> None:
        """A blade was dipped now; an earlier test is forgotten."""
        self._started_ms = now_ms
        self._next = 0
        self._due_ms = -1

    def stop(self) -> None:
        """No test is running."""
        self._started_ms = -1

    def acknowledge(self) -> None:
        """The person has heard the second sound: the reminder is not needed."""
        if self._next == 2:
            self._next = 3

    def answer(self, now_ms: int, presses: int):
        """What one or two presses say of the blade now (a word of MARKS), None if nothing."""
        if self._started_ms < 0:
            return None
        if self._due_ms < 0:
            return "set_early" if presses == 2 and self._next == 1 else None
        if now_ms - self._due_ms > _ANSWER_MS:
            return None
        return "passed" if presses == 1 else "failed"

    def step(self, now_ms: int, profile):
        """The name of the alarm that is due now, or None."""
        if self._started_ms < 0 or self._next == len(_NAMES):
            return None
        if now_ms - self._started_ms < profile.test_times_s[self._next] * 1000:
            return None
        self._next += 1
        if self._next == 2:
            self._due_ms = now_ms
        return _NAMES[self._next - 1]
