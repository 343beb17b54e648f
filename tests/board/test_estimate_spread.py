"""What the estimate says of its own error is about what that error is, seen from the bowl.

Of a normal distribution 68 of 100 are within one standard deviation and 95 within two. A spread
that is too small makes false alarms, one that is too large makes the board deaf: both count.
"""

import math
import random

import pytest
from ear import Ear

from snapcurve.probe.tempering.immersion import HOLD, MELT, SEED

STEP_S = 0.25
NOISE_C = 0.05
# Patches in a stirred bowl: their usual size, and how long one stays at the tip.
BOWLS = {
    "in its window": (HOLD, 30.5, 0.0, 0.1, 15),
    "while it melts": (MELT, 42.0, 0.01, 0.15, 10),
    "while seed goes in": (SEED, 36.0, -0.01, 0.2, 10),
}


def heard_of(bowl, seconds, lag_s=3.0, seed=1, ways_in=1):
    """``(seconds since the way in, error, spread)`` of what is judged."""
    phase, start_c, rate, patch_c, patch_s = BOWLS[bowl]
    chance = random.Random(seed)
    ear = Ear(21.0)
    ear.phase = phase
    now_ms, probe_c, patch, found = 0, 21.0, 0.0, []
    keep = math.exp(-STEP_S / patch_s)
    for _ in range(ways_in):
        for place, length_s in (("out", 25), ("in", seconds)):
            for step in range(int(length_s / STEP_S)):
                bowl_c = start_c + rate * step * STEP_S
                patch = keep * patch + patch_c * math.sqrt(1 - keep * keep) * chance.gauss(0, 1)
                goal_c, tau_s = (bowl_c + patch, lag_s) if place == "in" else (21.0, 40.0)
                probe_c += (goal_c - probe_c) * (1 - math.exp(-STEP_S / tau_s))
                ear.hears(now_ms, probe_c + chance.gauss(0, NOISE_C))
                now_ms += 250
                estimate = ear.estimate
                if place == "in" and estimate.trusted:
                    error_c = estimate.chocolate_c - bowl_c
                    found.append((step * STEP_S, error_c, estimate.spread_c))
    return found


def within(found, times):
    return sum(abs(error) <= times * spread for _, error, spread in found) / len(found)


@pytest.mark.parametrize("lag_s", [2.0, 5.0])
@pytest.mark.parametrize("bowl", BOWLS)
def test_settled_its_spread_is_about_its_error(bowl, lag_s):
    found = [row for row in heard_of(bowl, 400, lag_s) if row[0] > 30]
    assert len(found) > 1200
    assert 0.5 <= within(found, 1) <= 0.93
    assert within(found, 2) >= 0.88
    assert within(found, 0.5) <= 0.62


@pytest.mark.parametrize("bowl", BOWLS)
def test_on_the_way_in_its_spread_is_about_its_error(bowl):
    found = heard_of(bowl, 12, 3.0, ways_in=20)
    assert 0.5 <= within(found, 1) <= 0.95
    assert within(found, 2) >= 0.88
    assert within(found, 0.5) <= 0.8


@pytest.mark.parametrize("lag_s", [1.5, 3.0, 6.0])
def test_it_is_judged_soon_and_not_by_guess(lag_s):
    """Nobody holds a probe still for more than a dozen seconds; and what is a degree off would be
    told as an alarm."""
    for seed in range(5):
        at_s, error_c, _ = heard_of("in its window", 30, lag_s, seed)[0]
        assert at_s <= 12
        assert abs(error_c) < 1.0


def test_a_jump_to_another_bowl_is_judged_again():
    """Out of the window straight into a bowl that melts, within two seconds."""
    ear = Ear(21.0)
    chance = random.Random(3)
    probe_c, judged = 21.0, []
    for step in range(4 * 140):
        bowl_c = 21.0 if step < 40 else 30.5 if step < 320 else 44.0
        probe_c += (bowl_c - probe_c) * (1 - math.exp(-STEP_S / 2.0))
        ear.hears(250 * step, probe_c + chance.gauss(0, NOISE_C))
        judged.append(ear.estimate.trusted)
    assert all(judged[200:318])
    assert all(judged[320 + 4 * 12 :]), "12 s later"
    assert abs(ear.estimate.chocolate_c - 44.0) < 0.3


def test_a_steady_rise_is_no_unevenness():
    """A hot-air gun warms the bowl evenly by 2 °C/min."""
    ear = Ear(21.0)
    chance = random.Random(5)
    probe_c, seen = 21.0, []
    for step in range(4 * 200):
        second = step * STEP_S
        goal_c = 21.0 if second < 10 else 30.0 + 0.033 * (second - 10)
        probe_c += (goal_c - probe_c) * (1 - math.exp(-STEP_S / 3.0))
        ear.hears(250 * step, probe_c + chance.gauss(0, NOISE_C))
        seen.append(ear.estimate.patch_c)
    assert max(seen[4 * 90 :]) < 0.1


def test_pulled_out_what_falls_due_waits_from_the_first_half_second():
    """A bare wire falls by a degree in a second: faster than any bowl."""
    ear = Ear(21.0)
    now_ms = 0
    for c in [21.0] * 40 + [30.5] * 240:
        ear.hears(now_ms, c)
        now_ms += 250
    assert not ear.estimate.doubtful
    for c in (30.2, 29.9, 29.6, 29.3):
        ear.hears(now_ms, c)
        now_ms += 250
    assert ear.estimate.doubtful


@pytest.mark.parametrize("room_c", [8.0, 21.0, 33.0])
def test_what_the_room_is_at(room_c):
    """In 1/64 °C, as converters say it."""
    ear = Ear(room_c)
    for step in range(80):
        ear.hears(250 * step, room_c)
    assert ear.estimate.room_c() == pytest.approx(room_c, abs=1 / 64)
