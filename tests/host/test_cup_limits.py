"""Naming a cup's temper by limits that the bench has learned, and what one cup alone says."""

import random
from statistics import stdev

import pytest
from cup_curves import made

from snapcurve.analysis import cup_reading, filed_outcomes
from snapcurve.analysis.cooling_curve import Inflection, find_inflection
from snapcurve.analysis.cup_temper import (
    ENOUGH,
    USUAL_SPREAD_C_PER_MIN,
    Setup,
    Spread,
    limits_of,
    name_temper,
    spread_of,
)
from snapcurve.recording.curve import Curve
from snapcurve.report import batch_texts
from snapcurve.shown.units import PLAIN, Style
from snapcurve.simulation.cup_simulator import SPREAD, TEMPERS, CupConditions

GOOD = [-0.3, -0.1, 0.0, 0.1, 0.2, 0.25, 0.3, 0.35, 0.4]
USUAL = Spread(USUAL_SPREAD_C_PER_MIN, 0)


def inflection(slope, doubt=0.05):
    return Inflection(140.0, 23.0, slope, doubt, 25.0, 0.03, 18.0, 340.0, 0.27)


@pytest.mark.parametrize(
    ("slope", "words"),
    [
        (1.6, "It rose there, which means few crystals: rather under-tempered; the direction is "
              "sure (99 in 100)."),
        (0.2, "rather under-tempered; the direction is likely (86 in 100)."),
        (0.05, "About level, as a well-tempered batch is; one cup tells no direction."),
        (-0.4, "It went on falling there, which means many crystals: rather over-tempered; the "
               "direction is sure (99 in 100)."),
    ],
)  # fmt: skip
def test_the_first_cup_already_gets_a_direction_and_how_sure_it_is(slope, words):
    verdict = name_temper(inflection(slope), [], USUAL, PLAIN)
    assert words in verdict.sentence
    assert verdict.temper is None
    assert "0 of 9 good cups with this probe and cup so far" in verdict.sentence
    # The curve's own uncertainty is the small part of it.
    assert f"{slope:+.2f} ± 0.36 °C/min (k = 2; the curve alone ± 0.05" in verdict.sentence
    assert "assumed, from no second cup of a batch yet" in verdict.sentence


def test_no_limits_until_there_are_enough():
    assert limits_of(GOOD[: ENOUGH - 1]) is None
    verdict = name_temper(inflection(5.0), GOOD[: ENOUGH - 1], USUAL, PLAIN)
    assert verdict.temper is None
    assert "8 of 9 good cups" in verdict.sentence


@pytest.mark.parametrize(
    ("slope", "temper"),
    [
        (0.1, "well tempered"),
        (-0.3, "well tempered"),
        (0.77, "under-tempered"),
        (-0.67, "over-tempered"),
        (0.75, None),  # beyond, but by less than its uncertainty
        (-0.65, None),
    ],
)
def test_the_temper_by_the_limits(slope, temper):
    verdict = name_temper(inflection(slope), GOOD, USUAL, PLAIN)
    assert verdict.temper == temper
    assert "°C/min" in verdict.sentence
    said = (temper or "too close to a limit").capitalize()
    assert verdict.sentence.startswith(said)
    assert "°C" not in name_temper(inflection(slope), GOOD, USUAL, Style(True)).sentence


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


# --- how cups of one batch differ ---------------------------------------------------------


def test_the_spread_is_assumed_first_and_then_learned():
    assert spread_of([]) == USUAL
    assert spread_of([[0.1], [0.9]]) == USUAL  # of two batches, which may differ
    # By hand: squares 2 x 0.05^2 about 0.2, four repeats of 0.18^2 beside one learned.
    found = spread_of([[0.15, 0.25], [1.0]])
    assert found.repeats == 1
    assert found.sd_c_per_min == pytest.approx(((4 * 0.18**2 + 0.005) / 5) ** 0.5)
    chance = random.Random(2)
    many = [[chance.gauss(0.3 * batch, 0.4) for _ in range(3)] for batch in range(60)]
    assert spread_of(many).sd_c_per_min == pytest.approx(0.4, abs=0.04)
    learned = name_temper(inflection(0.2), [], spread_of(many), PLAIN)
    assert "learned from 120 further cups of a batch" in learned.sentence
    assert "no direction" in learned.sentence


def test_the_stated_uncertainty_covers_cups_of_a_simulated_batch():
    """Against the batch itself: 8 g in the cup, crystals varying from sample to sample."""
    chance = random.Random(4)
    for temper, crystals in TEMPERS.items():
        of_batch = made(CupConditions(crystals_share=crystals), 0).slope_c_per_min
        inside, slopes = 0, []
        for seed in range(25):
            taken = crystals * chance.lognormvariate(0.0, SPREAD)
            cup = made(CupConditions(crystals_share=taken), seed)
            found = find_inflection(cup.times_s, cup.values_c)
            verdict = name_temper(found, [], USUAL, PLAIN)
            inside += abs(found.slope_c_per_min - of_batch) <= verdict.uncertainty_c_per_min
            slopes.append(found.slope_c_per_min)
        assert inside >= 23, temper
        assert 0.05 < stdev(slopes) < USUAL_SPREAD_C_PER_MIN


# --- which cups may be compared -----------------------------------------------------------


def test_the_fall_after_the_inflection_knows_cup_and_sample_but_not_the_temper():
    def fall(**changed):
        cup = made(CupConditions(**changed), 5)
        return find_inflection(cup.times_s, cup.values_c).cools_per_min

    falls = [fall(crystals_share=crystals) for crystals in TEMPERS.values()]
    assert max(falls) / min(falls) < 1.05
    usual = Setup(7, 0.0, falls[1])
    for same in falls:
        assert usual.like(Setup(7, 0.0, same))
    for other in ({"mass_g": 6.0}, {"mass_g": 10.5}, {"water_w_per_k": 0.06}):
        assert not usual.like(Setup(7, 0.0, fall(**other)))


@pytest.mark.parametrize(
    ("board_id", "lag_s", "like"),
    [(7, 4.5, True), (7, 4.0, True), (7, 2.5, False), (7, 0.0, False), (8, 4.5, False)],
)
def test_only_cups_with_the_same_probe_are_compared(board_id, lag_s, like):
    own = Setup(7, 4.5, 0.27)
    assert own.like(Setup(board_id, lag_s, 0.27)) is like
    assert Setup(board_id, lag_s, 0.27).like(own) is like


def test_a_filed_cup_is_read_by_the_cups_of_its_own_setup(monkeypatch):
    """Cups of another setup set no limits and teach no spread, but are named."""
    own, other = Setup(7, 0.0, 0.27), Setup(7, 0.0, 0.40)

    def filed(number, slope, setup, batch, good):
        return filed_outcomes.FiledCup(f"{number}", inflection(slope), setup, batch, good)

    cups = [filed(n, slope, own, f"batch {n}", True) for n, slope in enumerate(GOOD)]
    cups += [filed(n, 9.0, other, "batch 0", True) for n in (20, 21)]
    cups += [filed(30, -0.2, own, "batch 0", False)]  # a second cup of a batch
    monkeypatch.setattr(filed_outcomes, "filed_outcomes", lambda _: {})
    monkeypatch.setattr(filed_outcomes, "batch_of_cup", lambda *_: None)
    monkeypatch.setattr(filed_outcomes, "other_cups", lambda *_: cups)

    class Book:
        """As much of a notebook as is asked."""

        def batches(self):
            return []

    class Cup:
        """As much of a filed cup as is asked."""

        code, calibration = "2026-11-28-09", None

    made_here = made(CupConditions(), 5)
    curve = Curve(board_id=7, times_s=made_here.times_s, temperatures_c=made_here.values_c)
    found = find_inflection(curve.times_s, curve.temperatures_c)
    cups[:] = [
        filed_outcomes.FiledCup(
            one.code,
            one.inflection,
            Setup(7, 0.0, found.cools_per_min) if one.setup == own else other,
            one.batch,
            one.good,
        )
        for one in cups
    ]
    reading = cup_reading.read_cup(Book(), Cup(), curve, {}, PLAIN)
    assert reading.good == tuple(str(n) for n in range(9))
    assert reading.other == 2
    assert reading.verdict.limits == limits_of(GOOD)
    assert reading.verdict.temper == "well tempered"
    assert "learned from 1 second cup of a batch" in reading.verdict.sentence
    lines = " ".join(batch_texts.cup_lines(reading, PLAIN))
    assert "2 good cups with another probe, cup, sample or water do not count" in lines
    assert "cocoa butter" in lines
