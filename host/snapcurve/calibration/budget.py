"""How far a reading of the probe can be trusted: its uncertainty budget after JCGM 100:2008.

Components of independent origin, each a half-width, a standard or an expanded uncertainty with
its divisor and sensitivity coefficient, are combined to first order (GUM 5.1). The limits and
their sources stand in limits.py; a Monte Carlo after JCGM 101 judges the sum
(``python -m tests.benchmarks budget``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt

from snapcurve.calibration import limits
from snapcurve.calibration.limits import Converter
from snapcurve.calibration.stored import Calibration, Point
from snapcurve.shown.units import PLAIN, Style

# What turns the stated value into a standard uncertainty (GUM 4.3).
DIVISORS = {"normal": 1.0, "rectangular": sqrt(3)}
NOISE_C = 0.02  # standard deviation of the reading in still conditions
# Half-width of what a calibrated probe may drift by in a year. Our own assumption, no source for
# a probe that only sees chocolate and boiling water; SNAPCURVE_DRIFT_C_PER_YEAR says another.
DRIFT_C_PER_YEAR = 0.1
YEAR_S, OLDEST_S = 365.25 * 86400, 3660 * 86400


@dataclass(frozen=True)
class Component:
    """One line of a budget.

    `value` is in the unit of the input quantity and not negative: the half-width of a
    rectangular distribution, or the standard deviation of a normal one, to be divided by
    `divisor`. `sensitivity` turns that unit into the result's.
    """

    name: str
    value: float
    distribution: str = "normal"
    divisor: float | None = None
    sensitivity: float = 1.0

    @property
    def standard_uncertainty(self) -> float:
        """u(x), in the input quantity's unit."""
        divisor = DIVISORS[self.distribution] if self.divisor is None else self.divisor
        return self.value / divisor

    @property
    def contribution(self) -> float:
        """|c| u(x), in the result's unit."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True)
class Budget:
    """Components of one result; all independent of each other."""

    components: tuple[Component, ...]

    @property
    def combined(self) -> float:
        """Combined standard uncertainty, the root of the summed squares."""
        return hypot(*(component.contribution for component in self.components))

    def expanded(self, k: float = 2.0) -> float:
        """Expanded uncertainty U = k u_c."""
        return k * self.combined

    def share(self, component: Component) -> float:
        """A component's part of the combined variance, 0 to 1."""
        return (component.contribution / self.combined) ** 2 if self.combined else 0.0


@dataclass(frozen=True)
class Conditions:
    """Of a reading: the board's own temperature and that around the stem, when, how deep in
    sheath diameters, and whether the bowl is stirred. The drift is an assumed half-width."""

    room_c: float
    unix_s: float
    diameters: float = 10.0
    stirred: bool = True
    drift_c_per_year: float = DRIFT_C_PER_YEAR


def probe_budget(
    temperature_c: float,
    converter: Converter,
    kind: str,
    calibration: Calibration,
    now: Conditions,
    style: Style = PLAIN,
) -> Budget:
    """The budget of one reading at `temperature_c` (°C), result in °C.

    Without calibration points class and chip stand as they are. With them there remain, at the
    weights of the correction curve, the references, and what has changed since then: tip and cold
    junction moved apart, by which the coefficient's error counts; the cold junction's own
    temperature; time. Between two points the coefficient's error cancels, but for its curvature.
    UnusableValueError as `tolerance_c`.
    """
    made = _calibrated if calibration.points else _uncalibrated
    stem_c = limits.immersion_limit_c(temperature_c, now.room_c, now.diameters, now.stirred)
    return Budget(
        (
            *made(temperature_c, converter, kind, calibration, now, style),
            Component("steadiness of the reading", NOISE_C),
            _limit(f"immersion, {'stirred' if now.stirred else 'resting'} bowl", stem_c),
        )
    )


def _uncalibrated(
    at_c: float,
    converter: Converter,
    kind: str,
    calibration: Calibration,
    now: Conditions,
    style: Style,
) -> list[Component]:
    grade = calibration.tolerance_class
    by_cold = limits.cold_junction_sensitivity(kind, at_c, now.room_c)
    connector_c = hypot(limits.CONNECTOR_LIMIT_C, limits.CONNECTOR_MOVES_C)
    return [
        _limit(
            f"probe, type {kind} class {grade} (IEC 60584-1)",
            limits.tolerance_c(kind, grade, at_c, style),
        ),
        _limit(f"{converter.name}, offset", converter.offset_c(kind, at_c)),
        _limit(f"{converter.name}, gain", converter.gain_share * abs(at_c - now.room_c)),
        _limit("cold junction sensor", converter.cold_junction_limit_c, by_cold),
        _limit("resolution", converter.resolution_c / 2),
        _limit("connector against that sensor", connector_c, by_cold),
    ]


def _calibrated(
    at_c: float,
    converter: Converter,
    kind: str,
    calibration: Calibration,
    now: Conditions,
    style: Style,
) -> list[Component]:
    grade, weighed = calibration.tolerance_class, _weights(at_c, calibration.points)
    # What the correction curve stands for: a tip so warm, a board so warm, at such a time.
    tip_c = sum(weight * point.true_c for point, weight in weighed)
    cold_c = sum(weight * point.cold_junction_centi_c / 100 for point, weight in weighed)
    age_s = sum(
        weight * min(max(0.0, now.unix_s - point.unix_s), OLDEST_S) for point, weight in weighed
    )
    apart_c = abs((at_c - now.room_c) - (tip_c - cold_c))
    back = min(1.0, abs(now.room_c - cold_c) / limits.COLD_JUNCTION_WHOLE_C)
    by_cold = limits.cold_junction_sensitivity(kind, at_c, now.room_c)
    each_time = hypot(1.0, *(weight for _, weight in weighed))
    share = limits.coefficient_share(kind, grade)
    percent, drift = style.number(100 * share, 1), style.difference(now.drift_c_per_year, 2)
    parts = [
        _limit(f"Seebeck coefficient, class {grade}: {percent} %", share * apart_c),
        _limit(f"{converter.name}, gain", converter.gain_share * apart_c),
        _limit(f"{converter.name}, offset moved", back * converter.offset_c(kind, at_c)),
        _limit("cold junction moved", back * converter.cold_junction_limit_c, by_cold),
        _limit("resolution, then and now", converter.resolution_c / 2 * each_time),
        _limit("connector moved", limits.CONNECTOR_MOVES_C * each_time, by_cold),
        _limit(
            f"drift in {age_s / 86400:.0f} days, assumed {drift.lstrip('+')} a year",
            now.drift_c_per_year * age_s / YEAR_S,
        ),
    ]
    below_c = abs(at_c - weighed[0][0].true_c)
    # The coefficient is known as a mean over 100 °C; beyond the points it may be off by more.
    above_c = abs(weighed[1][0].true_c - at_c) if len(weighed) == 2 else abs(100.0 - below_c)
    bend_c = limits.curvature_limit_c(kind, grade, below_c, above_c)
    parts.append(_limit("curvature, assumed", bend_c))
    for point, weight in weighed:
        at = style.temperature(point.true_c)
        parts.append(_limit(f"reference at {at}", point.reference_limit_c, weight))
        if point.spread_c > 0:
            divisor = max(1, point.readings) ** 0.5
            parts.append(Component(f"plateau at {at}", point.spread_c, "normal", divisor, weight))
    return parts


def _limit(name: str, half_width: float, sensitivity: float = 1.0) -> Component:
    return Component(name, half_width, "rectangular", sensitivity=sensitivity)


def _weights(temperature_c: float, calibration: Sequence[Point]) -> list[tuple[Point, float]]:
    """Points and their weights, as the piecewise straight correction curve uses them."""
    points = sorted(calibration, key=lambda point: point.true_c)
    if temperature_c <= points[0].true_c:
        return [(points[0], 1.0)]
    for lower, upper in pairwise(points):
        if temperature_c < upper.true_c:
            weight = (temperature_c - lower.true_c) / (upper.true_c - lower.true_c)
            return [(lower, 1 - weight), (upper, weight)]
    return [(points[-1], 1.0)]
