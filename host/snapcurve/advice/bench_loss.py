"""The loss of a bench to its room, found in a recorded curve.

Used is the longest stretch in which the molten bowl cooled by itself. Readings that rise were
heated, and readings that fall faster than any bowl had seed stirred in, lay on a slab, or
came from the air.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

import numpy as np

from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, Bowl
from snapcurve.heat.constants import MELTING_POINT_FORM_V_C
from snapcurve.heat.enthalpy import CouvertureThermal
from snapcurve.recording.curve import Curve
from snapcurve.shown.units import PLAIN, Style

# Chosen here: what a bowl does by itself within LOOK_S, and what is long enough.
LOOK_S = 20.0
MOST_FALL_K, MOST_RISE_K = 0.8, 0.1
SHORTEST_S = 150.0
_FIT_STEPS = 60


class LossFit(NamedTuple):
    """Loss coefficient of a bench, and its standard error."""

    loss_w_per_k: float
    standard_error_w_per_k: float


@dataclass(frozen=True)
class BenchLoss:
    """The fit, the room in °C it holds for, and the stretch of the curve in seconds."""

    fit: LossFit
    room_c: float
    start_s: float
    end_s: float


def bench_loss(
    curve: Curve, thermal: CouvertureThermal, mass_g: float, bowl: Bowl, style: Style = PLAIN
) -> BenchLoss:
    """The loss coefficient in `curve`, if `mass_g` was in `bowl` then.

    SnapcurveError where the board recorded no room, or no such stretch is long enough.
    """
    if not curve.room_c:
        raise SnapcurveError("This batch has no temperature of the room; choose another batch.")
    times, readings = _longest(curve)
    if not times or times[-1] - times[0] < SHORTEST_S:
        raise SnapcurveError(
            "In this batch the molten bowl never cooled by itself for "
            f"{style.quantity(SHORTEST_S / 60)} minutes above "
            f"{style.degrees_words(MELTING_POINT_FORM_V_C)}: once, rest it five minutes "
            "after melting, stirring, with the probe in."
        )
    room_c = median(value_c for _, value_c in curve.room_c)
    molten = Batch(thermal, mass_g, readings[0], melted_share=1.0, bowl=bowl)
    fit = fit_loss(times, readings, room_c, molten.heat_capacity_j_per_k, style)
    return BenchLoss(fit, room_c, times[0], times[-1])


def fit_loss(
    times_s: Sequence[float],
    readings_c: Sequence[float],
    room_c: float,
    heat_capacity_j_per_k: float,
    style: Style = PLAIN,
) -> LossFit:
    """Least-squares loss coefficient of an undisturbed cooling curve of molten chocolate.

    Fits start temperature and rate of Newton's law by Gauss-Newton; the standard error
    assumes independent errors of equal size. The heat capacity is that of chocolate and bowl.
    SnapcurveError for fewer than five readings, a room not cooler than the readings, or a
    curve that does not cool.
    """
    times, excess = np.asarray(times_s) - times_s[0], np.asarray(readings_c) - room_c
    if len(times) < 5:
        raise SnapcurveError(
            f"Only {len(times)} readings of the molten bowl cooling; at least five are needed, "
            "better five minutes of them."
        )
    if excess.min() <= 0:
        raise SnapcurveError(
            f"The chocolate is not warmer than the room at {style.degrees_words(room_c)}, so the "
            "loss cannot be found; check the room temperature."
        )
    slope, log_start = np.polyfit(times, np.log(excess), 1)
    found = np.array([np.exp(log_start), -slope])  # excess at the start, rate in 1/s
    for _ in range(_FIT_STEPS):
        fading = np.exp(-found[1] * times)
        left = excess - found[0] * fading
        slopes = np.column_stack([fading, -found[0] * times * fading])
        step = np.linalg.lstsq(slopes, left, rcond=None)[0]
        found += step
        if np.all(np.abs(step) < 1e-11 * np.abs(found)):
            break
    if found[1] <= 0:
        raise SnapcurveError(
            "This curve does not cool towards the room; use a stretch without heating."
        )
    covariance = np.linalg.inv(slopes.T @ slopes) * (left @ left) / (len(times) - 2)
    return LossFit(
        float(found[1]) * heat_capacity_j_per_k,
        float(covariance[1, 1]) ** 0.5 * heat_capacity_j_per_k,
    )


def _longest(curve: Curve) -> tuple[list[float], list[float]]:
    """Times and readings of the longest quiet stretch.

    A disturbance shows only some seconds after it began, so the last LOOK_S of a run, in
    which the seed may be in already, are left out.
    """
    times, readings = list(curve.times_s), curve.temperatures_c
    best_start = best_end = 0
    start = look = end = 0
    for at, reading_c in enumerate(readings):
        if reading_c is None or reading_c <= MELTING_POINT_FORM_V_C:
            start = look = end = at + 1
            continue
        while look < at and times[at] - times[look + 1] >= LOOK_S:
            look += 1
        before_c = readings[look]
        if before_c is None or not -MOST_FALL_K <= reading_c - before_c <= MOST_RISE_K:
            start = look = end = at + 1
            continue
        while end <= at and times[at] - times[end] >= LOOK_S:
            end += 1
        if end - start > 1 and times[end - 1] - times[start] > _span(times, best_start, best_end):
            best_start, best_end = start, end
    used = [value_c for value_c in readings[best_start:best_end] if value_c is not None]
    return times[best_start:best_end], used


def _span(times: list[float], start: int, end: int) -> float:
    return times[end - 1] - times[start] if end > start else 0.0
