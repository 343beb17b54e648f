"""The clock of the dip test: a blade dipped into the chocolate and put aside to set.

Set before ``test_early_s``: too many crystals. By ``test_due_s`` it should be set and take
no finger mark. At ``test_late_s`` a reminder, in case the second sound was missed.
(Common practice, no source; the times come with the profile.)
"""


class DipTest:
    """Runs from a mark until its last sound, a new mark, or ``stop``."""

    def __init__(self):
        self._started_ms = -1
        self._next = 0

    def start(self, now_ms: int) -> None:
        """A blade was dipped now; an earlier test is forgotten."""
        self._started_ms = now_ms
        self._next = 0

    def stop(self) -> None:
        """No test is running."""
        self._started_ms = -1

    def acknowledge(self) -> None:
        """The person has heard the second sound: the reminder is not needed."""
        if self._next == 2:
            self.stop()

    def step(self, now_ms: int, profile):
        """The name of the alarm that is due now, or None."""
        if self._started_ms < 0:
            return None
        names = ("test_early", "test_due", "test_late")
        times = (profile.test_early_s, profile.test_due_s, profile.test_late_s)
        if now_ms - self._started_ms < times[self._next] * 1000:
            return None
        name = names[self._next]
        self._next += 1
        if self._next == len(names):
            self.stop()
        return name
