"""Between how many minutes the next threshold comes: the target, the window, or the way out of it.
Pure; `python -m tests.benchmarks page_range` prints how often the range holds."""

from math import inf

from snapcurve.analysis.window_left import WindowLeft
from snapcurve.board.client import Reading
from snapcurve.page.standing import Profile

# Of a phase on its way: the drift of a bowl that is seeded is steeper than one that is held.
JUMP_C = 2.0
GOING = ("approach", "near", "inside")


class Forecast:
    """Follows the readings of one board."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Another board, or the same one after a silence."""
        self._left = WindowLeft(-inf, inf)
        self._way = ("", "")

    def take(self, profile: Profile | None, reading: Reading) -> None:
        """Take in one reading."""
        way = (reading.phase, "in" if reading.state == "inside" else "to")
        if way != self._way:
            self._way = way
            self._left = _follower(profile, reading)
        going = reading.place == "chocolate" and reading.state in GOING
        self._left.add(reading.uptime_ms / 1000, reading.estimate_c, going)

    def minutes(self) -> tuple[int, int] | None:
        """From and to how many minutes from the last reading; None while nobody can say."""
        return self._left.between_min()


def _follower(profile: Profile | None, reading: Reading) -> WindowLeft:
    phase = None if profile is None else profile.phase(reading.phase)
    if phase is None:
        return WindowLeft(-inf, inf)
    target_c = phase["target_centi_c"] / 100
    if phase["direction"] == "rise":
        return WindowLeft(-inf, target_c, JUMP_C)
    if phase["direction"] == "fall":
        return WindowLeft(target_c, inf, JUMP_C)
    low_c, high_c = phase["low_centi_c"] / 100, phase["high_centi_c"] / 100
    if reading.state == "inside":
        return WindowLeft(low_c, high_c)
    if reading.estimate_c is not None and reading.estimate_c < low_c:
        return WindowLeft(-inf, low_c, JUMP_C)
    return WindowLeft(high_c, inf, JUMP_C)
