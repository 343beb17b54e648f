"""The loss of a bench to its room, found in a recorded curve.

Used is the longest stretch in which the molten bowl cooled by itself. Readings that rise were
heated, and readings that fall faster than any bowl had seed stirred in, lay on a slab, or
came from the air.
"""

from dataclasses import dataclass
from statistics import median

from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, Bowl
from snapcurve.heat.constants import MELTING_POINT_FORM_V
from snapcurve.heat.enthalpy import CouvertureThermal
from snapcurve.heat.losses import LossFit, fit_loss
from snapcurve.recording.curve import Curve

# Our own choices: what a bowl does by itself within LOOK_S, and what is long enough.
LOOK_S = 20.0
MOST_FALL_K, MOST_RISE_K = 0.8, 0.1
SHORTEST_S = 150.0


@dataclass(frozen=True)
class BenchLoss:
    """The fit, the room in °C it holds for, and the stretch of the curve in seconds."""

    fit: LossFit
    room_c: float
    start_s: float
    end_s: float


def bench_loss(curve: Curve, thermal: CouvertureThermal, mass_g: float, bowl: Bowl) -> BenchLoss:
    """The loss coefficient in `curve`, if `mass_g` was in `bowl` then.

    SnapcurveError where the board recorded no room, or no such stretch is long enough.
    """
    if not curve.room_c:
        raise SnapcurveError("This batch has no temperature of the room; choose another batch.")
    times, readings = _longest(curve)
    if not times or times[-1] - times[0] < SHORTEST_S:
        raise SnapcurveError(
            f"In this batch the molten bowl never cooled by itself for {SHORTEST_S / 60:g} "
            f"minutes above {MELTING_POINT_FORM_V.value:g} °C: once, rest it five minutes after "
            "melting, stirring, with the probe in."
        )
    room_c = median(value_c for _, value_c in curve.room_c)
    molten = Batch(thermal, mass_g, readings[0], melted_share=1.0, bowl=bowl)
    fit = fit_loss(times, readings, room_c, molten.heat_capacity_j_per_k)
    return BenchLoss(fit, room_c, times[0], times[-1])


def _longest(curve: Curve) -> tuple[list[float], list[float]]:
    """Times and readings of the longest quiet stretch.

    A disturbance shows only some seconds after it began, so the last LOOK_S of a run, in
    which the seed may be in already, are left out.
    """
    times, readings = curve.times_s, curve.temperatures_c
    best_start = best_end = 0
    start = look = end = 0
    for at, reading_c in enumerate(readings):
        if reading_c is None or reading_c <= MELTING_POINT_FORM_V.value:
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
