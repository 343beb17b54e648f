"""The probe's lag from one step: held in room air, then put into stirred warm water.

The reading is taken to follow the water through one thermal resistance, or through two in
a row where the record asks for it (a sheath around an insulated junction), and the water
to stand still or to cool steadily. The fit separates what enters linearly (the two
temperatures and the cooling) from the moment of dipping and the time constants, which are
found by Levenberg-Marquardt on what the linear part leaves over (variable projection,
Golub and Pereyra 1973). Which of the four models stands is decided by AICc.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

from snapcurve.errors import UnusableValueError
from snapcurve.shown.units import PLAIN, Style

Array = NDArray[np.float64]

SMALLEST_STEP_C = 10.0
SHORTEST_BEFORE_S = 2.0
# The last readings must show where it settles: after four lags 2 % of the step are left.
SETTLED_AFTER_LAGS = 4.0
# What a fit may leave over, as a share of the step, before the record is no step at all.
_WORST_RESIDUAL = 0.02
# Neighbouring readings of an averaging converter are not quite independent, and a chip
# with coarse steps even less: each further parameter has to earn this much beyond AICc's
# own price.
_EXTRA_PRICE = 6.0
_LARGEST_RATIO = 0.98  # of two time constants; beyond, the formula divides by nearly zero


@dataclass(frozen=True)
class ResponseFit:
    """The fitted lag; times in s, temperatures in °C.

    time_constants_s   one, or two with the longer first
    lag_uncertainty_s  standard uncertainty of the lag, from the fit alone
    start_s            when the probe went in, on the record's own clock
    cooling_c_per_min  of the water, positive when it cools; 0 if the record shows none
    noise_c            what the fit leaves over, root mean square
    readings, left_out how many readings were used, how many wild ones were not
    """

    time_constants_s: tuple[float, ...]
    lag_uncertainty_s: float
    start_s: float
    before_c: float
    after_c: float
    cooling_c_per_min: float
    noise_c: float
    readings: int
    left_out: int = 0

    @property
    def lag_s(self) -> float:
        """Sum of the time constants: how far the reading trails a steady ramp, s."""
        return sum(self.time_constants_s)

    def time_to_s(self, share: float) -> float:
        """Time (s) after a step until `share` (0 to 1, ends excluded) of it is shown."""
        low, high = 0.0, -log(1 - share) * self.lag_s * 2 + self.lag_s
        for _ in range(60):
            middle = (low + high) / 2
            shown = _step_shown(np.array([middle]), self.time_constants_s)[0]
            low, high = (middle, high) if shown < share else (low, middle)
        return high


def fit_response(
    times_s: Sequence[float], readings_c: Sequence[float], style: Style = PLAIN
) -> ResponseFit:
    """Fit the probe's lag to a record of a step.

    `times_s` ascending, `readings_c` indicated temperatures. The record starts a few
    seconds before the dip and lasts until the reading has settled. UnusableValueError
    with advice if the record cannot tell the lag.
    """
    times, readings = np.asarray(times_s, float), np.asarray(readings_c, float)
    if len(times) < 30:
        raise UnusableValueError(
            f"Only {len(times)} readings came: record 30 or more, and begin again."
        )
    if np.any(np.diff(times) <= 0):
        raise UnusableValueError("The board's clock went backwards: begin again.")
    good = _not_wild(readings)
    times, readings = times[good], readings[good]
    rough = _rough(times, readings, style)
    fits = [
        _fit_model(times, readings, order, cooling, rough)
        for order in (1, 2)
        for cooling in (False, True)
    ]
    _, best = min(fits, key=lambda one: one[0])
    _check_fit(best, times, style)
    return replace(best, left_out=int(np.count_nonzero(~good)))


# --- the models -----------------------------------------------------------------------


def _step_shown(since_s: Array, time_constants_s: tuple[float, ...]) -> Array:
    """Share of a unit step shown at times since it (s); nothing before it."""
    since = np.maximum(since_s, 0.0)
    first, second = (*time_constants_s, 0.0)[:2]
    fading = first * np.exp(-since / first)
    if second:
        fading -= second * np.exp(-since / second)
    return 1 - fading / (first - second)


def _ramp_shown(since_s: Array, time_constants_s: tuple[float, ...]) -> Array:
    """What is shown of a ramp of one unit a second that starts at 0."""
    since = np.maximum(since_s, 0.0)
    first, second = (*time_constants_s, 0.0)[:2]
    fading = first**2 * np.exp(-since / first)
    if second:
        fading -= second**2 * np.exp(-since / second)
    return since - first - second + fading / (first - second)


def _time_constants(parameters: Array) -> tuple[float, ...]:
    """Time constants for (start, log of the longer[, logit of their ratio])."""
    longer = float(np.exp(np.clip(parameters[1], -7, 7)))
    if len(parameters) == 2:
        return (longer,)
    ratio = _LARGEST_RATIO / (1 + float(np.exp(np.clip(-parameters[2], -40, 40))))
    return (longer, max(longer * ratio, 1e-6))


def _fit_model(
    times: Array, readings: Array, order: int, cooling: bool, rough: tuple[float, float]
) -> tuple[float, ResponseFit]:
    """The model's price, to be compared with the others', and its fit."""
    start_s, lag_s = rough

    def columns(parameters: Array) -> Array:
        since, constants = times - parameters[0], _time_constants(parameters)
        parts = [np.ones_like(times), _step_shown(since, constants)]
        if cooling:
            parts.append(_ramp_shown(since, constants))
        return np.column_stack(parts)

    def left_over(parameters: Array) -> Array:
        matrix = columns(parameters)
        linear = np.linalg.lstsq(matrix, readings, rcond=None)[0]
        return readings - matrix @ linear

    starts = [np.array([start_s, log(lag_s)])]
    if order == 2:
        # A short and a long second constant, as shares of the lag seen.
        starts = [
            np.array([start_s, log(lag_s * share), logit])
            for share, logit in ((0.85, -1.5), (0.6, 1.0))
        ]
    candidates = [_levenberg_marquardt(left_over, start) for start in starts]
    parameters = min(candidates, key=lambda found: float(np.sum(left_over(found) ** 2)))

    residual = left_over(parameters)
    linear = np.linalg.lstsq(columns(parameters), readings, rcond=None)[0]
    count, free = len(times), len(parameters) + len(linear)
    squares = max(float(residual @ residual), 1e-12 * count)
    price = free + 1  # the noise is a parameter too
    aicc = count * log(squares / count) + 2 * price * count / (count - price - 1)
    before_c, step_c, *drift_c_per_s = (float(part) for part in linear)
    return aicc + _EXTRA_PRICE * free, ResponseFit(
        time_constants_s=_time_constants(parameters),
        lag_uncertainty_s=_lag_uncertainty(left_over, parameters, squares / (count - free)),
        start_s=float(parameters[0]),
        before_c=before_c,
        after_c=before_c + step_c,
        cooling_c_per_min=-60 * sum(drift_c_per_s),
        noise_c=sqrt(squares / count),
        readings=count,
    )


def _lag_uncertainty(
    left_over: Callable[[Array], Array], parameters: Array, variance: float
) -> float:
    """Standard uncertainty of the summed time constants by propagation."""
    jacobian = _jacobian(left_over, parameters, left_over(parameters))
    covariance = variance * np.linalg.pinv(jacobian.T @ jacobian)

    def lag(values: Array) -> Array:
        return np.array([sum(_time_constants(values))])

    slope = _jacobian(lag, parameters, lag(parameters))[0]
    return sqrt(max(float(slope @ covariance @ slope), 0.0))


# --- least squares --------------------------------------------------------------------


def _jacobian(function: Callable[[Array], Array], at: Array, value: Array) -> Array:
    step = 1e-5
    slopes = []
    for position in range(len(at)):
        moved = at.copy()
        moved[position] += step
        slopes.append((function(moved) - value) / step)
    return np.column_stack(slopes)


def _levenberg_marquardt(left_over: Callable[[Array], Array], start: Array) -> Array:
    """Parameters with the least sum of squares near `start`."""
    at, value = start, left_over(start)
    squares, damping = float(value @ value), 1e-3
    for _ in range(60):
        jacobian = _jacobian(left_over, at, value)
        normal = jacobian.T @ jacobian
        scale = np.diag(normal) + 1e-12
        before = squares
        while damping < 1e9:
            move = np.linalg.solve(normal + damping * np.diag(scale), -jacobian.T @ value)
            tried = at + np.clip(move, -1.0, 1.0)
            tried_value = left_over(tried)
            tried_squares = float(tried_value @ tried_value)
            if tried_squares < squares:
                at, value, squares = tried, tried_value, tried_squares
                damping = max(damping / 5, 1e-9)
                break
            damping *= 4
        if before - squares < 1e-9 * before:
            break
        damping = min(damping, 1e6)
    return at


# --- the record -----------------------------------------------------------------------


def _not_wild(readings: Array) -> NDArray[np.bool_]:
    """False for single wild readings.

    Each is held against the median of itself and two neighbours on either side, which a
    rising or falling record passes unchanged.
    """
    padded = np.pad(readings, 2, mode="edge")
    window = np.lib.stride_tricks.sliding_window_view(padded, 5)
    off = np.abs(readings - np.median(window, axis=1))
    # A coarse chip shows no scatter at all between its steps: half a degree is never wild.
    return np.asarray(off <= max(0.5, 8 * float(np.median(off))))


def _rough(times: Array, readings: Array, style: Style) -> tuple[float, float]:
    """First guess of the moment of the dip and of the lag; checks that there is a step."""
    tail = max(5, len(readings) // 20)
    before, after = float(np.median(readings[:5])), float(np.median(readings[-tail:]))
    step = after - before
    if abs(step) < SMALLEST_STEP_C:
        raise UnusableValueError(
            f"The reading moved by only {style.difference_words(abs(step))}: take water at least "
            f"{style.difference(SMALLEST_STEP_C + 5, 0, sign=False)} warmer than the room, and "
            f"stay below {style.degrees_words(60)}: hotter water scalds."
        )
    shown = (readings - before) / step
    first = int(np.argmax(shown > 0.05))
    start_s = float(times[max(first - 1, 0)])
    if start_s - float(times[0]) < SHORTEST_BEFORE_S:
        raise UnusableValueError(
            "The probe was already on its way when the record began: hold it in room air "
            "for five seconds, then put it in."
        )
    missing = np.clip(1 - shown[first:], 0.0, 1.0)
    widths = np.diff(times[first - 1 :])
    lag_s = float(np.sum(missing * widths))
    return start_s, max(lag_s, 0.05)


def _check_fit(fit: ResponseFit, times: Array, style: Style) -> None:
    if fit.noise_c > _WORST_RESIDUAL * abs(fit.after_c - fit.before_c):
        raise UnusableValueError(
            "The record does not look like a step (it strays by "
            f"{style.difference_words(fit.noise_c)}): put the probe in at once, keep it in one "
            "place and stir all the time."
        )
    if float(times[-1]) - fit.start_s < SETTLED_AFTER_LAGS * fit.lag_s:
        raise UnusableValueError(
            f"The record ended before the reading had settled: keep the probe in the water "
            f"for {max(30.0, 8 * fit.lag_s):.0f} s."
        )
