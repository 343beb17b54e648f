"""Between how many minutes the chocolate leaves its window, from the readings while one watches.

A straight line through the last minutes of the board's estimates, in means over a quarter of a
minute since neighbouring estimates err together. How far line and slope can be trusted follows
from how the means scatter; the range is to hold for eight of ten forecasts (`python -m
tests.benchmarks left`). Nothing is said before the drift stands out of that scatter.
"""

from collections import deque
from math import ceil, floor, inf, sqrt

from snapcurve.board.client import Board
from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError, Refused
from snapcurve.shown.units import Style

MEAN_S, LOOK_BACK_S = 15.0, 240.0
FROM_MEANS = 5
WITHIN_SDS = 1.2  # about 80 % of a slope's errors lie within so many standard deviations
NOISE_LEAST_C = 0.02
DRIFT_STAYS = 0.1  # a drift changes by such a share until the end: own assumption
STANDS_OUT = 1.5  # a drift that is not so many times its doubt foretells nothing
JUMP_C = 0.35  # somebody has warmed or seeded: begin anew
LONGEST_S = 2 * 3600.0


class WindowLeft:
    """Follows the estimates of a bowl in its window from ``low_c`` to ``high_c`` (°C). Means in a
    row that differ by more than ``jump_c`` begin anew; those of ``look_back_s`` count."""

    def __init__(
        self,
        low_c: float,
        high_c: float,
        jump_c: float = JUMP_C,
        look_back_s: float = LOOK_BACK_S,
    ):
        self._low_c, self._high_c, self._jump_c = low_c, high_c, jump_c
        self._look_back_s = look_back_s
        self._means: deque[tuple[float, float]] = deque()
        self._now: list[tuple[float, float]] = []

    def add(self, at_s: float, estimate_c: float | None, inside: bool) -> None:
        """Take one in, of a clock that rises (s); None if there is none, and whether the chocolate
        is in its window."""
        if estimate_c is None or not inside:
            self._means.clear()
            self._now.clear()
            return
        if self._now and at_s - self._now[0][0] >= MEAN_S:
            count = len(self._now)
            mean = (sum(s for s, _ in self._now) / count, sum(c for _, c in self._now) / count)
            if self._means and abs(mean[1] - self._means[-1][1]) > self._jump_c:
                self._means.clear()
            self._means.append(mean)
            self._now.clear()
        self._now.append((at_s, estimate_c))
        while self._means and at_s - self._means[0][0] > self._look_back_s:
            self._means.popleft()

    def between_s(self) -> tuple[float, float] | None:
        """From and to how many seconds from the last reading; None while nobody can say."""
        count = len(self._means)
        if count < FROM_MEANS or not self._now:
            return None
        middle_s = sum(s for s, _ in self._means) / count
        middle_c = sum(c for _, c in self._means) / count
        square = sum((s - middle_s) ** 2 for s, _ in self._means)
        slope = sum((s - middle_s) * (c - middle_c) for s, c in self._means) / square
        left = [c - middle_c - slope * (s - middle_s) for s, c in self._means]
        noise = max(NOISE_LEAST_C, sqrt(sum(one * one for one in left) / (count - 2)))
        doubt = WITHIN_SDS * noise / sqrt(square)
        if abs(slope) < STANDS_OUT * doubt:
            return None
        since_s = self._now[-1][0] - middle_s
        here_c = middle_c + slope * since_s
        here_doubt_c = WITHIN_SDS * noise * sqrt(1 / count + since_s * since_s / square) / 2
        away_c = here_c - self._low_c if slope < 0 else self._high_c - here_c
        fast = (abs(slope) + doubt) * (1 + DRIFT_STAYS)
        slow = (abs(slope) - doubt) * (1 - DRIFT_STAYS)
        soonest_s = max(0.0, away_c - here_doubt_c) / fast
        latest_s = max(0.0, away_c + here_doubt_c) / slow
        return None if not soonest_s <= LONGEST_S else (soonest_s, latest_s)

    def between_min(self) -> tuple[int, int] | None:
        """The same in whole minutes, outwards."""
        between = self.between_s()
        return None if between is None else (floor(between[0] / 60), ceil(between[1] / 60))

    def words(self, style: Style) -> str:
        """The same in words, empty while nobody can say."""
        between = self.between_min()
        if between is None:
            return ""
        low, high = between
        if high <= 1:
            return style.about_minutes_words(0)
        return f"up to {high} min" if low == 0 else f"{low} to {high} min"


def of_board(board: Board) -> WindowLeft:
    """For the window of the profile on the board; without one nothing is foretold."""
    try:
        phases = read_profile(board.profile())[1]
    except (RecordError, Refused):  # none, or of another firmware: readings are shown
        phases = []
    for phase in phases:
        if phase["kind"] == "work":
            return WindowLeft(phase["low_centi_c"] / 100, phase["high_centi_c"] / 100)
    return WindowLeft(-inf, inf)
