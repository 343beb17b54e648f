"""Under-, well or over-tempered, by the slope of a cooling curve and this bench's own limits.

How steep a good batch cools at its inflection depends on cup, ice water, sample and probe, so
no limit is shipped. They are learned: the lowest and the highest slope among cups whose batch
turned out well. A further good batch then lies within them with probability (n - 1)/(n + 1),
whatever the distribution (order statistics; Wilks, Ann. Math. Stat. 12 (1941) 91).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from snapcurve.analysis.cooling_curve import Inflection
from snapcurve.shown.units import Style

ENOUGH = 9  # then 8 in 10 further good batches lie within the limits
Temper = Literal["under-tempered", "well tempered", "over-tempered"]


@dataclass(frozen=True)
class Limits:
    """Slopes in °C/min between which good batches lay, and how many there were."""

    low_c_per_min: float
    high_c_per_min: float
    good: int

    @property
    def share(self) -> float:
        """Of further good batches, the part expected within the limits."""
        return (self.good - 1) / (self.good + 1)


@dataclass(frozen=True)
class CupVerdict:
    """``temper`` None if it cannot be named; ``sentence`` says all of it."""

    temper: Temper | None
    sentence: str
    limits: Limits | None


def limits_of(good_slopes: Sequence[float]) -> Limits | None:
    """Limits from the slopes (°C/min) of good batches; None while they are too few."""
    if len(good_slopes) < ENOUGH:
        return None
    return Limits(min(good_slopes), max(good_slopes), len(good_slopes))


def slope_words(inflection: Inflection, style: Style) -> str:
    """The slope with its uncertainty and unit."""
    slope = style.number(style.interval(inflection.slope_c_per_min), 2, sign=True)
    doubt = style.number(style.interval(inflection.slope_uncertainty_c_per_min), 2)
    return f"{slope} ± {doubt} {style.degree}/min"


def name_temper(inflection: Inflection, good_slopes: Sequence[float], style: Style) -> CupVerdict:
    """Name the temper of a cup, ``good_slopes`` being those of this couverture's good cups."""
    slope, doubt = inflection.slope_c_per_min, inflection.slope_uncertainty_c_per_min
    measured = f"Slope at the inflection {slope_words(inflection, style)} (k = 2)"
    limits = limits_of(good_slopes)
    if limits is None:
        return CupVerdict(
            None,
            f"{measured}. No limits yet: {len(good_slopes)} of {ENOUGH} cups from batches that "
            "are known to have turned out well.",
            None,
        )
    temper: Temper | None = None
    if slope - doubt > limits.high_c_per_min:
        temper = "under-tempered"
    elif slope + doubt < limits.low_c_per_min:
        temper = "over-tempered"
    elif limits.low_c_per_min <= slope <= limits.high_c_per_min:
        temper = "well tempered"
    low = style.number(style.interval(limits.low_c_per_min), 2, sign=True)
    return CupVerdict(
        temper,
        f"{measured}: {temper or 'too close to a limit to tell'}; this bench's {limits.good} good "
        f"cups lay between {low} and {style.rate(limits.high_c_per_min, 2)}, where "
        f"{limits.share:.0%} of further good ones are expected.",
        limits,
    )


def place_words(inflection: Inflection, style: Style) -> str:
    """Where on the curve the inflection lies, as a sentence."""
    return (
        f"It lies at {style.temperature(inflection.temperature_c)}, "
        f"{inflection.at_s - inflection.start_s:.0f} s after the fall began (local cubics of "
        f"±{inflection.half_window_s:.0f} s)."
    )
