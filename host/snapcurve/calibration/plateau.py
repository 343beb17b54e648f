"""When a reading in a bath is stable, or why not yet.

Pure: readings come in, judgements and the words for them come out.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median

from snapcurve.shown.units import PLAIN, Style

_LONGEST_GAP_S = 3.0


@dataclass(frozen=True)
class PlateauRules:
    """What counts as stable.

    window_s         for how long the reading has to stand
    drift_c_per_min  by how much it may still move, from start to end of the window
    noise_c          standard deviation around its own trend
    """

    window_s: float
    drift_c_per_min: float
    noise_c: float


# Common practice, no source; boiling water jostles, a melting cell does not.
_RULES = {
    "ice": PlateauRules(60.0, 0.05, 0.10),
    "boil": PlateauRules(45.0, 0.20, 0.20),
    "point": PlateauRules(45.0, 0.05, 0.10),
    "gallium": PlateauRules(60.0, 0.05, 0.05),
}


def plateau_rules(step: str, resolution_c: float) -> PlateauRules:
    """Rules for one of baths.STEPS; a converter with coarse steps may hop between two."""
    rules = _RULES[step]
    return PlateauRules(
        rules.window_s, rules.drift_c_per_min, max(rules.noise_c, 0.6 * resolution_c)
    )


@dataclass(frozen=True)
class Plateau:
    """The judgement of the moment: `reason` says why not yet, or that it is stable.

    `mean_c`, `std_c` (°C) and `drift_c_per_min` are of the window so far, 0 without
    readings.
    """

    stable: bool
    reason: str
    mean_c: float = 0.0
    std_c: float = 0.0
    drift_c_per_min: float = 0.0
    readings: int = 0


class PlateauDetector:
    """Watches a reading and says when it stands still.

    A fault or a gap starts the window anew; a single wild reading is left out.
    """

    def __init__(self, rules: PlateauRules, style: Style = PLAIN) -> None:
        """`style` is how its reasons give temperatures."""
        self._rules = rules
        self._style = style
        self._window: deque[tuple[float, float]] = deque()
        self._fault = False

    def add(self, time_s: float, reading_c: float | None) -> None:
        """Take in one reading (°C), None for a fault; `time_s` on any rising clock."""
        self._fault = reading_c is None
        if reading_c is None:
            self._window.clear()
            return
        if self._window and not 0 < time_s - self._window[-1][0] <= _LONGEST_GAP_S:
            self._window.clear()
        self._window.append((time_s, reading_c))
        while self._window[-1][0] - self._window[1 if len(self._window) > 1 else 0][0] >= (
            self._rules.window_s
        ):
            self._window.popleft()

    def judge(self) -> Plateau:
        """Is the reading stable now?"""
        if self._fault:
            return Plateau(False, "no reading: check that the probe is plugged in and whole")
        if not self._window:
            return Plateau(False, "waiting for the first reading")
        good = _without_wild(self._window)
        mean_c, std_c, drift, drift_error = _trend(good)
        covered_s = self._window[-1][0] - self._window[0][0]
        missing_s = max(0.0, self._rules.window_s - covered_s)
        reason = self._why_not(std_c, drift, drift_error, missing_s)
        return Plateau(
            stable=not reason,
            reason=reason or "stable",
            mean_c=mean_c,
            std_c=std_c,
            drift_c_per_min=drift,
            readings=len(good),
        )

    def _why_not(self, std_c: float, drift: float, drift_error: float, missing_s: float) -> str:
        # A clear trend is worth telling even before the window is full.
        if abs(drift) - 2 * drift_error > self._rules.drift_c_per_min:
            moving = "rising" if drift > 0 else "falling"
            return f"still {moving} by {self._style.significant(abs(drift))} a minute"
        if missing_s > 0:
            return f"steady so far, {missing_s:.0f} s more"
        if std_c > self._rules.noise_c:
            return (
                f"unsteady by {self._style.difference(std_c, 2, sign=False)}: stir, hold the "
                "probe still and clear of the vessel"
            )
        return ""


def _without_wild(window: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The window without single readings far from the rest."""
    rows = list(window)
    middle = median(reading for _, reading in rows)
    spread = median(abs(reading - middle) for _, reading in rows)
    good = [row for row in rows if abs(row[1] - middle) <= max(0.5, 8 * spread)]
    # More than a few of them are no accident but what the reading does.
    return good if len(good) >= 0.95 * len(rows) else rows


def _trend(rows: Sequence[tuple[float, float]]) -> tuple[float, float, float, float]:
    """Mean (°C), standard deviation about the trend (°C), trend and its error (°C/min)."""
    mean_s, mean_c = fmean(row[0] for row in rows), fmean(row[1] for row in rows)
    spread = sum((time_s - mean_s) ** 2 for time_s, _ in rows)
    if len(rows) < 3 or spread == 0:
        return mean_c, 0.0, 0.0, float("inf")
    slope = sum((time_s - mean_s) * (reading - mean_c) for time_s, reading in rows) / spread
    left = sum((reading - mean_c - slope * (time_s - mean_s)) ** 2 for time_s, reading in rows)
    variance = left / (len(rows) - 2)
    return mean_c, sqrt(variance), 60 * slope, 60 * sqrt(variance / spread)
