"""Between how many minutes the next threshold comes: the target, the window, or the way out of it.
Pure; `python -m tests.benchmarks page_range` prints how often the range holds."""

from math import ceil, floor, inf

from snapcurve.analysis.window_left import WindowLeft
from snapcurve.board.client import Reading
from snapcurve.page.standing import Profile

# Of a phase on its way: the drift of a bowl that is seeded is steeper than one that is held.
JUMP_C = 2.0
# A handful cools at first and then no more, a burst warms long after it: the drift of the last two
# minutes foretells from so many times sooner to so many times later than it would take by itself.
ON_ITS_WAY_S = 120.0
WIDEST_MIN = 15  # a wider range helps nobody
DOWN, UP, OUT = (0.8, 2.0), (0.5, 3.0), (1.0, 1.0)
GOING = ("approach", "near", "inside")


class Forecast:
    """Follows the readings of one board."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Another board, or the same one after a silence."""
        self._left = WindowLeft(-inf, inf)
        self._times = OUT
        self._way = ("", "")

    def take(self, profile: Profile | None, reading: Reading) -> None:
        """Take in one reading."""
        way = (reading.phase, "in" if reading.state == "inside" else "to")
        if way != self._way:
            self._way = way
            self._left, self._times = _follower(profile, reading)
        going = reading.place == "chocolate" and reading.state in GOING
        self._left.add(reading.uptime_ms / 1000, reading.estimate_c, going)

    def minutes(self) -> tuple[int, int] | None:
        """From and to how many minutes from the last reading; None while nobody can say. Out of
        the window only the first is to be relied on: many a drift dies out."""
        between = self._left.between_s()
        if between is None:
            return None
        sooner, later = self._times
        low, high = floor(between[0] * sooner / 60), ceil(between[1] * later / 60)
        return None if self._times != OUT and high - low > WIDEST_MIN else (low, high)


def _follower(profile: Profile | None, reading: Reading) -> tuple[WindowLeft, tuple[float, float]]:
    phase = None if profile is None else profile.phase(reading.phase)
    if phase is None:
        return WindowLeft(-inf, inf), OUT
    target_c = phase["target_centi_c"] / 100
    if phase["direction"] == "rise":
        return WindowLeft(-inf, target_c, JUMP_C, ON_ITS_WAY_S), UP
    if phase["direction"] == "fall":
        return WindowLeft(target_c, inf, JUMP_C, ON_ITS_WAY_S), DOWN
    low_c, high_c = phase["low_centi_c"] / 100, phase["high_centi_c"] / 100
    if reading.state == "inside":
        return WindowLeft(low_c, high_c), OUT
    if reading.estimate_c is not None and reading.estimate_c < low_c:
        return WindowLeft(-inf, low_c, JUMP_C, ON_ITS_WAY_S), UP
    return WindowLeft(high_c, inf, JUMP_C, ON_ITS_WAY_S), DOWN
