"""The inflection of a cooling curve: where crystallisation holds the cooling up most.

A small sample cools fast, then slower while its crystals form, then fast again. In between the
curve bends the other way. Its slope at that point shows the temper: nearly level is good, rising
means too few crystals, falling too many (from memory; how steep depends on cup, coolant and
sample).

The slope comes from local cubics (local_polynomial.py). How wide they are is chosen for each
record: from a narrow window on, wider ones are taken as long as what they say agrees within
its uncertainty with everything the narrower ones said (intersection of confidence intervals,
Goldenshluger and Nemirovski, Math. Methods Stat. 6 (1997) 135). So noise is averaged as far
as the curve's own bends allow.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from snapcurve.analysis.local_polynomial import Array, Smoothed, smooth
from snapcurve.errors import UnusableValueError
from snapcurve.shown.units import PLAIN, Style

LEAST_FALL_C = 5.0
# No crystal of cocoa butter forms above the melting point of form VI (36.3 °C, Wille and
# Lutton, JAOCS 43 (1966) 491, as commonly quoted): what bends a curve there is something else.
BELOW_C = 36.0
# Half-widths of the windows, in seconds.
WINDOWS_S = (5.0, 7.0, 10.0, 12.0, 14.5, 17.0, 20.5, 25.0, 30.0, 36.0, 43.0, 51.0, 61.0)
# An inflection stands out of noise by so many standard deviations of the slope, and by so
# much, and by such a part of the steepest fall, at least: nothing cools quite evenly.
STANDS_OUT_SDS = 6.0
STANDS_OUT_C_PER_MIN = 0.5
STANDS_OUT_PART = 0.1
AGREES_SDS = 3.0
BEGINS_SD_C_PER_MIN = 0.1  # a window so narrow that its slope is all noise says nothing
NARROWER = 0.7  # of the widest that agrees: there the bend's own part is a quarter (fourth power)
TOO_SHORT = "This record has too few readings for a cooling curve: record a cup for longer."
COOLS_S = 7.0  # half-width of the window for the fall after the inflection
COOLS_ABOVE_C = 10.0  # below, it hangs too much on how cold the ice water is, 0 to 1 °C
ICE_WATER_C = 0.5
CALM_S = 2.0  # neighbouring readings are not independent; means over so long nearly are


@dataclass(frozen=True)
class Inflection:
    """Where and how steep; ``slope_uncertainty_c_per_min`` is expanded, k = 2.

    ``half_window_s`` is the half-width of the local cubics that were used, ``noise_c`` the
    standard deviation of a reading about them. ``start_s`` and ``end_s`` bound the part of
    the record that is a cooling curve.

    ``cools_per_min`` is the steepest fall after the inflection as a share of what is left down to
    ice water: it belongs to cup, sample and water, hardly to probe or temper. 0 if there is none.
    """

    at_s: float
    temperature_c: float
    slope_c_per_min: float
    slope_uncertainty_c_per_min: float
    half_window_s: float
    noise_c: float
    start_s: float
    end_s: float
    cools_per_min: float


@dataclass(frozen=True)
class _Peak:
    index: int
    slope: float  # °C/s
    sd: float
    half_width: int
    value_c: float


def find_inflection(
    times_s: Sequence[float],
    values_c: Sequence[float | None],
    below_c: float = BELOW_C,
    style: Style = PLAIN,
) -> Inflection:
    """The inflection of the cooling curve in a record; ``None`` where nothing was read.

    Times in s, ascending and on an even grid but for what is missing; only what is cooler
    than ``below_c`` counts. UnusableValueError, with what to do in words of ``style``, if the
    record holds no cooling curve or shows no inflection.
    """
    start_s, step_s, grid = _on_grid(times_s, values_c)
    first, last = _cooling_part(grid, step_s, below_c, style)
    part = grid[first : last + 1]
    noise_c, correlation = _noise(part, step_s)
    sd_c = noise_c * correlation
    widths = sorted({max(3, round(window / step_s)) for window in WINDOWS_S})
    found = _best(part, widths, sd_c, step_s)
    if found is None:
        raise UnusableValueError(
            "This record shows no inflection: leave the cup in the ice water until it has fallen "
            f"to about {style.temperature(12, 0)}, the probe in the middle, and record anew if it "
            "never slowed down."
        )
    best, spread = found
    uncertainty = 2 * float(np.hypot(best.sd, spread))
    at = start_s + first * step_s
    return Inflection(
        at_s=at + best.index * step_s,
        temperature_c=best.value_c,
        slope_c_per_min=best.slope * 60,
        slope_uncertainty_c_per_min=uncertainty * 60,
        half_window_s=best.half_width * step_s,
        noise_c=noise_c,
        start_s=at,
        end_s=start_s + last * step_s,
        cools_per_min=_cools_per_min(part[best.index :], step_s),
    )


def _cools_per_min(after: Array, step_s: float) -> float:
    smoothed = smooth(after, max(3, round(COOLS_S / step_s)))
    warm = np.where(smoothed.values > COOLS_ABOVE_C, smoothed.values - ICE_WATER_C, np.nan)
    shares = -smoothed.slopes / step_s * 60 / warm
    return 0.0 if np.isnan(shares).all() else max(0.0, float(np.nanmax(shares)))


def slopes_c_per_min(values_c: Sequence[float], step_s: float, half_window_s: float) -> Array:
    """Slope of an even series at each of its points, NaN near its ends; for drawing."""
    width = max(3, round(half_window_s / step_s))
    return smooth(np.asarray(values_c, float), width).slopes / step_s * 60


def _on_grid(
    times_s: Sequence[float], values_c: Sequence[float | None]
) -> tuple[float, float, Array]:
    times = np.asarray(times_s, float)
    if len(times) < 10 or len(times) != len(values_c):
        raise UnusableValueError(TOO_SHORT)
    steps = np.diff(times)
    if not (steps > 0).all():
        raise UnusableValueError("The times of this record do not go forward: record a cup anew.")
    step_s = float(np.median(steps))
    steps_in = np.rint((times - times[0]) / step_s).astype(int)
    grid = np.full(int(steps_in[-1]) + 1, np.nan)
    grid[steps_in] = [np.nan if value is None else value for value in values_c]
    return float(times[0]), step_s, grid


def _cooling_part(grid: Array, step_s: float, below_c: float, style: Style) -> tuple[int, int]:
    """From the warmest to the coldest: what comes before and after is the probe's way."""
    width = max(3, round(3.0 / step_s))
    level = smooth(grid, width).values
    if np.isnan(level).all():
        raise UnusableValueError(TOO_SHORT)
    first = int(np.nanargmax(level))
    last = first + int(np.nanargmin(level[first:]))
    warm = np.flatnonzero(level[first : last + 1] > below_c)
    first += int(warm[-1]) if len(warm) else 0
    if not level[first] - level[last] >= LEAST_FALL_C:
        raise UnusableValueError(
            "This record holds no cooling curve, since below "
            f"{style.temperature(below_c, 0)} it falls by less than "
            f"{style.difference(LEAST_FALL_C, 0, sign=False)}: record a cup in ice water."
        )
    return first, last


def _noise(part: Array, step_s: float) -> tuple[float, float]:
    """Standard deviation of a reading, and by how much more means scatter than they would
    if neighbours were independent."""
    width = max(3, round(4.0 / step_s))
    left = part - smooth(part, width).values
    left = left[~np.isnan(left)]
    if len(left) < 20:
        raise UnusableValueError(TOO_SHORT)
    # The cubic has taken part of the scatter with it: DEGREE + 1 of each window.
    taken = np.sqrt(1 - 4 / (2 * width + 1))
    noise = 1.4826 * float(np.median(np.abs(left - np.median(left)))) / taken
    noise = max(noise, 1 / 128 / np.sqrt(12))  # readings come in steps of 1/128 °C
    # Means over CALM_S, compared by third differences, which no slow bend of the curve moves
    # (1, -3, 3, -1: their variance is 20 times that of a mean).
    count = max(1, round(CALM_S / step_s))
    means = part[: len(part) // count * count].reshape(-1, count).mean(axis=1)
    thirds = np.diff(means, 3)
    thirds = thirds[~np.isnan(thirds)]
    if len(thirds) < 10:
        return noise, 1.0
    of_means = 1.4826 * float(np.median(np.abs(thirds))) / np.sqrt(20)
    return noise, max(1.0, of_means * float(np.sqrt(count)) / noise)


def _peak(part: Array, half_width: int, sd_c: float, step_s: float) -> _Peak | None:
    """The slope's highest point between two steeper falls, if it stands out."""
    smoothed = smooth(part, half_width)
    known = np.flatnonzero(~np.isnan(smoothed.slopes))
    if len(known) < 3:
        return None
    series = smoothed.slopes[known]
    before = np.minimum.accumulate(series)
    after = np.minimum.accumulate(series[::-1])[::-1]
    stands_out = series - np.maximum(before, after)
    at = int(np.argmax(stands_out))
    sd = float(smoothed.gain[known[at]]) * sd_c / step_s
    out = float(stands_out[at]) / step_s
    part_of_fall = -STANDS_OUT_PART * float(series.min()) / step_s
    if out < max(STANDS_OUT_SDS * sd, STANDS_OUT_C_PER_MIN / 60, part_of_fall):
        return None
    return _at(smoothed, int(known[at]), half_width, sd_c, step_s)


def _at(smoothed: Smoothed, index: int, half_width: int, sd_c: float, step_s: float) -> _Peak:
    return _Peak(
        index,
        float(smoothed.slopes[index]) / step_s,
        float(smoothed.gain[index]) * sd_c / step_s,
        half_width,
        float(smoothed.values[index]),
    )


def _best(
    part: Array, widths: list[int], sd_c: float, step_s: float
) -> tuple[_Peak, float] | None:
    """The inflection, and half of what the widest window that still agrees with all narrower
    ones would change of it."""
    found = [peak for width in widths if (peak := _peak(part, width, sd_c, step_s))]
    # A crest of noise stands out in one window or two, a plateau in most.
    if len(found) * 2 < len(widths):
        return None
    # Narrow windows put the highest point on a crest of noise, wide ones beside a sharp
    # bend: the place is the median of all. There they are compared, not each at its own.
    middle = int(np.median([peak.index for peak in found]))
    chosen: list[_Peak] = []
    low, high = -np.inf, np.inf
    for width in widths:
        smoothed = smooth(part, width)
        if np.isnan(smoothed.slopes[middle]):
            break
        here = _at(smoothed, middle, width, sd_c, step_s)
        if here.sd * 60 > BEGINS_SD_C_PER_MIN and not chosen and width != widths[-1]:
            continue
        low = max(low, here.slope - AGREES_SDS * here.sd)
        high = min(high, here.slope + AGREES_SDS * here.sd)
        if low > high:
            break
        near = slice(max(0, middle - width), middle + width + 1)
        series = smoothed.slopes[near]
        if np.isnan(series).all():
            break
        top = near.start + int(np.nanargmax(series))
        chosen.append(_at(smoothed, top, width, sd_c, step_s))
    if not chosen:
        return None
    widest = chosen[-1]
    narrower = [peak for peak in chosen if peak.half_width <= NARROWER * widest.half_width]
    best = narrower[-1] if narrower else chosen[0]
    return best, abs(best.slope - widest.slope) / 2
