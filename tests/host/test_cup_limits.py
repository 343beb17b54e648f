"""Naming a cup's temper by limits that the bench has learned."""

import random

import pytest

from snapcurve.analysis.cooling_curve import Inflection
from snapcurve.analysis.cup_temper import ENOUGH, limits_of, name_temper
from snapcurve.shown.units import PLAIN

GOOD = [-0.3, -0.1, 0.0, 0.1, 0.2, 0.25, 0.3, 0.35, 0.4]


def inflection(slope, doubt=0.05):
    return Inflection(140.0, 23.0, slope, doubt, 25.0, 0.03, 18.0, 340.0)


def test_no_limits_until_there_are_enough():
    assert limits_of(GOOD[: ENOUGH - 1]) is None
    verdict = name_temper(inflection(5.0), GOOD[: ENOUGH - 1], PLAIN)
    assert verdict.temper is None
    assert "No limits yet: 8 of 9 cups" in verdict.sentence


@pytest.mark.parametrize(
    ("slope", "temper"),
    [
        (0.1, "well tempered"),
        (-0.3, "well tempered"),
        (0.46, "under-tempered"),
        (-0.36, "over-tempered"),
        (0.43, None),  # beyond, but by less than its uncertainty
        (-0.34, None),
    ],
)
def test_the_temper_by_the_limits(slope, temper):
    verdict = name_temper(inflection(slope), GOOD, PLAIN)
    assert verdict.temper == temper
    assert "°C/min" in verdict.sentence
    assert (temper or "too close to a limit") in verdict.sentence


def test_the_share_of_further_good_cups_is_as_said():
    """Order statistics: (n - 1)/(n + 1), here against draws from a skew distribution."""
    chance = random.Random(1)
    inside = 0
    for _ in range(4000):
        limits = limits_of([chance.expovariate(1.0) for _ in range(ENOUGH)])
        assert limits is not None
        inside += limits.low_c_per_min <= chance.expovariate(1.0) <= limits.high_c_per_min
    assert limits.share == pytest.approx(0.8)
    assert inside / 4000 == pytest.approx(0.8, abs=0.02)
