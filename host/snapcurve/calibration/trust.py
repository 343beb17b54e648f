"""How far a temperature of this probe can be trusted, in one figure and one remark.

Every place that shows a temperature takes both from here, so that they agree.
"""

import math
import os
from dataclasses import dataclass, replace

from snapcurve.calibration.budget import DRIFT_C_PER_YEAR, Budget, Conditions, probe_budget
from snapcurve.calibration.limits import CONVERTERS
from snapcurve.calibration.stored import Calibration, day
from snapcurve.errors import SnapcurveError, UnusableValueError
from snapcurve.shown.units import PLAIN, Style

INTERVAL = "SNAPCURVE_CALIBRATION_DAYS"
INTERVAL_DAYS = 180  # common practice, no source: twice a year, and when in doubt
DRIFT = "SNAPCURVE_DRIFT_C_PER_YEAR"
COVERAGE = 2.0
WORKING_C = 31.0  # where nothing says which temperature matters
USUAL_ROOM_C = 21.0  # where a board gives none
# Of a converter's own sensor: MAX31855 and MAX31856 data sheets, -55 to 125 °C, with some room.
COLD_LOWEST_C, COLD_HIGHEST_C = -60.0, 130.0
DAY_S = 86400


@dataclass(frozen=True)
class Trust:
    """``budget`` at ``at_c``; ``remark`` is empty, or says what the calibration lacks."""

    at_c: float
    budget: Budget
    remark: str
    stirred: bool = True

    @property
    def expanded_c(self) -> float:
        """Expanded uncertainty, k = 2, in °C."""
        return self.budget.expanded(COVERAGE)

    def figure(self, style: Style = PLAIN) -> str:
        """The expanded uncertainty rounded up to a tenth of a degree."""
        return style.uncertainty(self.expanded_c)

    def words(self, style: Style = PLAIN) -> str:
        """Figure, temperature, kind of bowl and coverage factor."""
        bowl = "stirred" if self.stirred else "resting"
        at = style.temperature(self.at_c, 0)
        return f"{self.figure(style)} at {at} in a {bowl} bowl (k = 2)"


def interval_days() -> float:
    """The chosen calibration interval in days; SnapcurveError if what is set is none."""
    return _chosen(INTERVAL, INTERVAL_DAYS, (1, 3660), "a number of days")


def drift_c_per_year() -> float:
    """The drift to assume, half-width in °C a year; SnapcurveError if what is set is none."""
    return _chosen(DRIFT, DRIFT_C_PER_YEAR, (0, 5), "a number of °C")


def _chosen(name: str, usual: float, bounds: tuple[float, float], what: str) -> float:
    text = os.environ.get(name, str(usual))
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    low, high = bounds
    if not low <= value <= high:
        raise SnapcurveError(f"{name} is {text!r}: set it to {what}, {low} to {high}.")
    return value


def trust(
    converter: str,
    tc_type: str,
    calibration: Calibration,
    at_c: float,
    now_unix_s: float,
    *,
    room_c: float | None,
    tolerance_class: int | None = None,
    diameters: float = 10.0,
    stirred: bool = True,
    style: Style = PLAIN,
) -> Trust:
    """How far this probe can be trusted at ``at_c``. UnusableValueError if nothing can be said.

    ``room_c`` is the board's own temperature, None if it gives none; ``tolerance_class`` None
    takes the calibration's; ``diameters`` is the immersion depth in sheath diameters.
    """
    room_c = USUAL_ROOM_C if room_c is None else room_c
    at_calibration_c = calibration.cold_junction_c if calibration.points else room_c
    for board_c in (room_c, at_calibration_c):
        if not COLD_LOWEST_C <= board_c <= COLD_HIGHEST_C:
            raise UnusableValueError(
                f"The board gives {style.temperature(board_c, 0)} as its own temperature, which "
                "is out of its converter's range: look at the converter, and calibrate again."
            )
    grade = tolerance_class or calibration.tolerance_class
    budget = probe_budget(
        at_c,
        CONVERTERS[converter],
        tc_type,
        replace(calibration, tolerance_class=grade),
        Conditions(room_c, now_unix_s, diameters, stirred, drift_c_per_year()),
        style,
    )
    return Trust(at_c, budget, _remark(calibration, now_unix_s), stirred)


def _remark(calibration: Calibration, now_unix_s: float) -> str:
    if not calibration.points:
        return "this probe has not been calibrated: 'snapcurve calibrate ice' does it"
    limit_days = interval_days()
    # The oldest point is the one that may have drifted away.
    oldest_s = min(point.unix_s for point in calibration.points)
    if now_unix_s - oldest_s > limit_days * DAY_S:
        return f"the calibration of {day(oldest_s)} is older than {limit_days:.0f} days"
    return ""
