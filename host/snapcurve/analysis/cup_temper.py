"""Under-, well or over-tempered, by the slope of a cooling curve and this bench's own limits.

How steep a good batch cools at its inflection depends on cup, ice water, sample and probe, so
no limit is shipped. They are learned: the lowest and the highest slope among cups whose batch
turned out well. A further good batch then lies within them with probability (n - 1)/(n + 1),
whatever the distribution (order statistics; Wilks, Ann. Math. Stat. 12 (1941) 91).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from snapcurve.analysis.cooling_curve import Inflection

ENOUGH = 9  # then 8 in 10 further good batches lie within the limits
TEMPERS = ("under-tempered", "well tempered", "over-tempered")


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
    """``temper`` one of TEMPERS, None if it cannot be named; ``sentence`` says all of it."""

    temper: str | None
    sentence: str
    limits: Limits | None


def limits_of(good_slopes: Sequence[float]) -> Limits | None:
    """Limits from the slopes (°C/min) of good batches; None while they are too few."""
    if len(good_slopes) < ENOUGH:
        return None
    return Limits(min(good_slopes), max(good_slopes), len(good_slopes))


def name_temper(inflection: Inflection, good_slopes: Sequence[float]) -> CupVerdict:
    """Name the temper of a cup, ``good_slopes`` being those of this couverture's good cups."""
    slope, doubt = inflection.slope_c_per_min, inflection.slope_uncertainty_c_per_min
    said = f"Slope at the inflection {slope:+.2f} ± {doubt:.2f} °C/min (k = 2)"
    limits = limits_of(good_slopes)
    if limits is None:
        return CupVerdict(
            None,
            f"{said}. No limits yet: {len(good_slopes)} of {ENOUGH} cups from batches that are "
            "known to have turned out well.",
            None,
        )
    between = (
        f"this bench's {limits.good} good cups lay between {limits.low_c_per_min:+.2f} and "
        f"{limits.high_c_per_min:+.2f} °C/min, where {limits.share:.0%} of further good ones "
        "are expected"
    )
    if slope - doubt > limits.high_c_per_min:
        temper: str | None = TEMPERS[0]
    elif slope + doubt < limits.low_c_per_min:
        temper = TEMPERS[2]
    elif limits.low_c_per_min <= slope <= limits.high_c_per_min:
        temper = TEMPERS[1]
    else:
        return CupVerdict(None, f"{said}: too close to a limit to tell; {between}.", limits)
    return CupVerdict(temper, f"{said}: {temper}; {between}.", limits)
