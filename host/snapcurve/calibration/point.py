"""From live readings to a calibration point: is it stable, is it credible, where does it go.

Pure: readings come in, judgements and sentences come out.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median

from snapcurve.calibration.budget import Converter, largest_credible_error_c
from snapcurve.errors import UnusableValueError
from snapcurve.probe.thermometer import its90
from snapcurve.probe.thermometer.calibration import check_points
from snapcurve.shown.quantities import PLAIN, Style

STEPS = ("ice", "boil", "point", "gallium")
ICE_C = 0.0  # air-saturated water and ice
GALLIUM_C = 29.7646  # melting point, a fixed point of the ITS-90

# A new point replaces an older one this near: the same bath, done again.
SAME_BATH_C = 3.0
_LONGEST_GAP_S = 3.0


# --- stable, or why not yet ------------------------------------------------------------


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
    """Rules for a step of STEPS; a converter with coarse steps may hop between two of them."""
    rules = _RULES[step]
    return PlateauRules(
        rules.window_s, rules.drift_c_per_min, max(rules.noise_c, 0.6 * resolution_c)
    )


@dataclass(frozen=True)
class Plateau:
    """The judgement of the moment: `reason` says why not yet, or that it is stable.

    `mean_c`, `std_c` (°C) and `drift_c_per_min` are of the window so far, 0 without
    readings; `missing_s` is how much longer the window has to be.
    """

    stable: bool
    reason: str
    mean_c: float = 0.0
    std_c: float = 0.0
    drift_c_per_min: float = 0.0
    readings: int = 0
    missing_s: float = 0.0


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
            return Plateau(False, "waiting for the first reading", missing_s=self._rules.window_s)
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
            missing_s=missing_s,
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


# --- credible, or what it usually means -------------------------------------------------

_USUAL_CAUSES = {
    ("ice", "above"): "too little ice, no stirring, or the tip touching the vessel: fill it with "
    "crushed ice, add just enough water to fill the gaps and stir",
    ("ice", "below"): "salt in the ice, or ice straight from the freezer with too little water",
    ("boil", "above"): "the probe touching the pan: hold it in the middle of the water",
    ("boil", "below"): "no rolling boil, the probe not deep enough, or a pressure or altitude "
    "that is not this place's (weather reports give the pressure at sea level)",
    ("point", "above"): "the two thermometers not side by side, or the bath not stirred",
    ("point", "below"): "the two thermometers not side by side, or the bath not stirred",
    ("gallium", "above"): "the cell already melted through: freeze it and begin again",
    ("gallium", "below"): "the cell not melting yet, or the probe not at the bottom of its well",
}


def why_not_credible(
    step: str,
    true_c: float,
    indicated_c: float,
    *,
    converter: Converter,
    kind: str,
    tolerance_class: int,
    cold_junction_c: float,
    reference_limit_c: float = 0.0,
    style: Style = PLAIN,
) -> str | None:
    """None if a healthy probe can be wrong by this much, else what it usually means.

    `step` is one of STEPS, `indicated_c` the plateau's uncorrected mean, `kind` the
    thermocouple type that is set, `reference_limit_c` the half-width of the true value.
    UnusableValueError where IEC 60584-1 states no tolerance.
    """
    off_c = indicated_c - true_c
    limit_c = reference_limit_c + largest_credible_error_c(
        true_c, converter, kind, tolerance_class, cold_junction_c
    )
    if abs(off_c) <= limit_c:
        return None
    side = "above" if off_c > 0 else "below"
    causes = _wiring_causes(true_c, indicated_c, kind, cold_junction_c)
    causes.append(_USUAL_CAUSES[step, side])
    return (
        f"The probe reads {style.difference(abs(off_c), sign=False)} {side} "
        f"{style.temperature(true_c)}; a healthy type {kind} probe of class {tolerance_class} "
        f"with this converter is off by {style.difference(limit_c, sign=False)} at most, so this "
        f"is not corrected away. Usually it means: {'; or '.join(causes)}."
    )


def _wiring_causes(
    true_c: float, indicated_c: float, kind: str, cold_junction_c: float
) -> list[str]:
    """Faults of wiring or setting that would give just this reading."""
    cold_mv = its90.emf_mv(kind, cold_junction_c)
    # A healthy probe's own error comes on top, so near is near enough.
    near_c = max(1.0, 0.15 * abs(indicated_c - true_c))

    def explains(voltage_mv: float) -> bool:
        try:
            shown_c = its90.temperature_c(kind, cold_mv + voltage_mv)
        except ValueError:
            return False
        return abs(shown_c - indicated_c) <= near_c

    causes = []
    if explains(cold_mv - its90.emf_mv(kind, true_c)):
        causes.append("the two leads swapped at the converter, so that it moves the wrong way")
    if explains(0.0):
        causes.append(
            "the leads touching before the tip, so that it shows the board's temperature"
        )
    others = [
        other
        for other in its90.TYPES
        if other != kind
        and explains(its90.emf_mv(other, true_c) - its90.emf_mv(other, cold_junction_c))
    ]
    if others:
        causes.append(
            f"type {kind} set for a type {' or '.join(others)} probe (look at its plug and label)"
        )
    return causes


# --- where the point goes ---------------------------------------------------------------


def calibration_point(indicated_c: float, true_c: float) -> tuple[int, int]:
    """The point (indicated, correction) in 0.01 °C, as the board stores it."""
    indicated_centi_c = round(indicated_c * 100)
    return indicated_centi_c, round(true_c * 100) - indicated_centi_c


def with_point(
    points_centi_c: Iterable[tuple[int, int]], new_centi_c: tuple[int, int]
) -> list[tuple[int, int]]:
    """The points with a new one, which takes the place of any within SAME_BATH_C of it.

    UnusableValueError if they make no correction curve together.
    """
    kept = [
        point
        for point in points_centi_c
        if abs(point[0] - new_centi_c[0]) > round(SAME_BATH_C * 100)
    ]
    together = sorted([*kept, new_centi_c])
    try:
        check_points(together)
    except ValueError as error:
        raise UnusableValueError(
            f"The new point does not fit the earlier ones: {error}. Clear the calibration and "
            "begin again if the probe was changed."
        ) from error
    return together
