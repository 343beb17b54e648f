"""Under-, well or over-tempered, by the slope of a cooling curve and this bench's own limits.

How steep a good batch cools at its inflection depends on cup, ice water, sample and probe, so
no limit is shipped. They are learned for each such setup apart: the lowest and the highest slope
among cups whose batch turned out well. A further good batch then lies within them with
probability (n - 1)/(n + 1), whatever the distribution (order statistics; Wilks, Ann. Math. Stat.
12 (1941) 91).

A second cup of the same batch never has quite the same slope: sample, place of the probe and way
into the water differ. How much so is learned from batches with several cups; until then it is an
assumption.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, sqrt
from statistics import fmean
from typing import Literal

from snapcurve.analysis.cooling_curve import Inflection
from snapcurve.shown.units import Style

ENOUGH = 9  # then 8 in 10 further good batches lie within the limits
Temper = Literal["under-tempered", "well tempered", "over-tempered"]
# Standard deviation of the slope among cups of a batch, °C/min, and how many repeats it is worth.
# Our own assumption; simulated cups (simulation/cup_simulator.py) have 0.07 to 0.14.
USUAL_SPREAD_C_PER_MIN, WORTH = 0.18, 4
# Cups are of one setup if the fall after the inflection and the probe's lag agree so well. A tenth
# more chocolate in the cup changes that fall by 7 % (arithmetic for 8 g in a cup of 5 J/K).
FALL_AGREES, LAG_AGREES, LAG_AGREES_S = 0.12, 0.2, 0.5
SURE, RATHER = 0.95, 0.8
ONLY_COCOA_BUTTER = (
    "This holds for chocolate with cocoa butter; a coating of other fats crystallises otherwise."
)


@dataclass(frozen=True)
class Setup:
    """What a slope depends on beside the temper: the board with its probe, that probe's lag (0:
    not measured), and how fast cup, sample and water cool (`Inflection.cools_per_min`)."""

    board_id: int
    lag_s: float
    cools_per_min: float

    def like(self, other: "Setup") -> bool:
        """Whether slopes of both can be compared."""
        near_s = max(LAG_AGREES_S, LAG_AGREES * max(self.lag_s, other.lag_s))
        fastest = max(self.cools_per_min, other.cools_per_min)
        return (
            self.board_id == other.board_id
            and bool(self.lag_s) == bool(other.lag_s)
            and abs(self.lag_s - other.lag_s) <= near_s
            and abs(self.cools_per_min - other.cools_per_min) <= FALL_AGREES * fastest
        )


@dataclass(frozen=True)
class Spread:
    """How far cups of one batch differ: standard deviation in °C/min, and the repeats (cups beyond
    the first of their batch) it is learned from."""

    sd_c_per_min: float
    repeats: int


def spread_of(batches: Sequence[Sequence[float]]) -> Spread:
    """Of the slopes (°C/min) of each batch's cups, pooled; the assumption is worth WORTH."""
    squares = sum((slope - fmean(slopes)) ** 2 for slopes in batches for slope in slopes)
    repeats = sum(len(slopes) - 1 for slopes in batches if slopes)
    pooled = (WORTH * USUAL_SPREAD_C_PER_MIN**2 + squares) / (WORTH + repeats)
    return Spread(sqrt(pooled), repeats)


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
    """``temper`` None if it cannot be named; ``sentence`` says all of it.

    ``uncertainty_c_per_min`` is that of the slope as the batch's, k = 2.
    """

    temper: Temper | None
    sentence: str
    limits: Limits | None
    uncertainty_c_per_min: float


def limits_of(good_slopes: Sequence[float]) -> Limits | None:
    """Limits from the slopes (°C/min) of good batches; None while they are too few."""
    if len(good_slopes) < ENOUGH:
        return None
    return Limits(min(good_slopes), max(good_slopes), len(good_slopes))


def slope_words(slope_c_per_min: float, doubt_c_per_min: float, style: Style) -> str:
    """The slope with its uncertainty and their unit."""
    slope = style.number(style.interval(slope_c_per_min), 2, sign=True)
    doubt = style.number(style.interval(doubt_c_per_min), 2)
    return f"{slope} ± {doubt} {style.degree}/min"


def name_temper(
    inflection: Inflection, good_slopes: Sequence[float], spread: Spread, style: Style
) -> CupVerdict:
    """Name the temper of a cup, ``good_slopes`` (°C/min) being those of this couverture's good
    cups of the same setup."""
    slope = inflection.slope_c_per_min
    sd = sqrt((inflection.slope_uncertainty_c_per_min / 2) ** 2 + spread.sd_c_per_min**2)
    doubt = 2 * sd
    learned = "assumed, from no second cup of a batch yet"
    if spread.repeats:
        cups = "1 second cup" if spread.repeats == 1 else f"{spread.repeats} further cups"
        learned = f"learned from {cups} of a batch"
    alone = style.number(style.interval(inflection.slope_uncertainty_c_per_min), 2)
    measured = (
        f"Slope at the inflection {slope_words(slope, doubt, style)} (k = 2; the curve alone "
        f"± {alone}, the rest is how cups of one batch differ, {learned})"
    )
    limits = limits_of(good_slopes)
    if limits is None:
        count = f"{len(good_slopes)} of {ENOUGH} good cups with this probe and cup"
        return CupVerdict(
            None,
            f"{_direction(slope, sd)} {measured}. How much is still good only your own cups can "
            f"say: {count} so far.",
            None,
            doubt,
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
        f"{(temper or 'too close to a limit to tell').capitalize()}. {measured}; this bench's "
        f"{limits.good} good cups with this probe and cup lay between {low} and "
        f"{style.rate(limits.high_c_per_min, 2)}, where {limits.share:.0%} of further good ones "
        "are expected.",
        limits,
        doubt,
    )


def _direction(slope: float, sd: float) -> str:
    """What the sign alone says: a rise means few crystals, a fall many, level is good (from
    memory: how steep depends on the setup)."""
    sure = (1 + erf(abs(slope) / sd / sqrt(2))) / 2  # that a mean of many cups has this sign
    if sure < RATHER:
        return "About level, as a well-tempered batch is; one cup tells no direction."
    way, meaning = (
        ("rose", "few crystals: rather under-tempered")
        if slope > 0
        else ("went on falling", "many crystals: rather over-tempered")
    )
    certain = "sure" if sure >= SURE else "likely"
    chance = f"{min(99.0, 100 * sure):.0f} in 100"
    return f"It {way} there, which means {meaning}; the direction is {certain} ({chance})."


def place_words(inflection: Inflection, style: Style) -> str:
    """Where on the curve the inflection lies, as a sentence."""
    return (
        f"It lies at {style.temperature(inflection.temperature_c)}, "
        f"{inflection.at_s - inflection.start_s:.0f} s after the fall began (local cubics of "
        f"±{inflection.half_window_s:.0f} s)."
    )
