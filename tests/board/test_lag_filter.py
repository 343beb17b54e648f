"""The lagging probe's filters: what they recover of a known chocolate, and that their tables are
Kalman's.

The series are made here: a first-order probe in chocolate whose temperature is known, read
four times a second, quantised to 1/128 °C, with the noise of a class 1 thermocouple input.
"""

import math
import random
import struct

import numpy
import pytest
from float32 import Float32, Float32Bank, float32

from snapcurve.probe.tempering import lag_filter as filters
from snapcurve.probe.tempering.immersion import HOLD, MELT, SEED
from snapcurve.probe.tempering.lag_filter import LAGS_S, PATCHES_C, LagBank

PERIOD_S = 0.25
START_C = 21.0


def readings(truth, seconds, lag_s, noise_c=0.0, seed=1, start_c=START_C):
    """Readings of a probe of ``lag_s`` that starts at ``start_c`` in ``truth(t)``."""
    rng = random.Random(seed)
    probe_c = start_c
    values = []
    fine = 10
    for index in range(int(seconds / PERIOD_S)):
        for part in range(fine):
            t = (index + part / fine) * PERIOD_S
            probe_c += (truth(t) - probe_c) * (1 - math.exp(-PERIOD_S / fine / lag_s))
        noisy = probe_c + rng.gauss(0, noise_c) if noise_c else probe_c
        values.append(round(noisy * 128) / 128)
    return values


def run(values, lag_s, phase=HOLD, learn=0.0, bank=None):
    """``(t, value_c, rate, spread)`` after each reading; t is the time of that reading."""
    bank = bank or LagBank()
    if lag_s:
        bank.set_lag(lag_s)
    bank.start(values[0])
    rows = []
    for index, value in enumerate(values):
        bank.step(value, phase, learn)
        rows.append(
            ((index + 1) * PERIOD_S, bank.value_c, bank.rate_c_per_s, math.sqrt(bank.variance))
        )
    return rows


def kalman(lag_s, patch_c, steps):
    """Gains of T, r, p, y and the variance of T, by the textbook's matrices (Kalman 1960)."""
    keep = math.exp(-PERIOD_S / filters._PATCH_S)
    follow = 1 - math.exp(-PERIOD_S / lag_s)
    noise_2, patch_2 = filters._NOISE_C**2, patch_c**2
    step = numpy.array(
        [[1, PERIOD_S, 0, 0], [0, 1, 0, 0], [0, 0, keep, 0], [follow, 0, follow, 1 - follow]]
    )
    unrest = numpy.diag([0, filters._RATE_NOISE**2 * PERIOD_S, patch_2 * (1 - keep**2), 0])
    cov = numpy.diag([filters._UNKNOWN_C**2, filters._UNKNOWN_RATE**2, patch_2, noise_2])
    found = []
    wrong_c = filters._WRONG_C * follow
    for _ in range(steps):
        cov = step @ cov @ step.T + unrest
        cov[3, 3] += wrong_c**2
        wrong_c *= 1 - follow
        gain = cov[:, 3] / (cov[3, 3] + noise_2)
        cov = cov - numpy.outer(gain, cov[3])
        found.append([*gain, cov[0, 0]])
    return found


@pytest.mark.parametrize("lag_s", LAGS_S)
@pytest.mark.parametrize("phase", [HOLD, MELT, SEED])
def test_the_tables_are_kalmans(lag_s, phase):
    """In the order T, r, p, y, variance of T; every step at first, then each few seconds."""
    table = LagBank()._tables[phase][LAGS_S.index(lag_s)]
    rows = [table[at : at + 5] for at in range(0, len(table), 5)]
    exact = kalman(lag_s, PATCHES_C[phase], 400)
    places = [*range(20), *range(20, 20 + 12 * 20, 20)]
    assert len(rows) == len(places)
    for row, place in zip(rows, places, strict=True):
        assert list(row) == pytest.approx(exact[place], rel=1e-3, abs=1e-5)


@pytest.mark.parametrize("lag_s", LAGS_S)
@pytest.mark.parametrize("phase", [HOLD, MELT, SEED])
def test_the_last_row_is_nearly_where_the_gains_settle(lag_s, phase):
    """Beyond the table the last row counts for hours: what is stated of the value by then, and
    by how much it follows a reading, is near what it would be for ever."""
    table = LagBank()._tables[phase][LAGS_S.index(lag_s)]
    forever = kalman(lag_s, PATCHES_C[phase], 4000)[-1]
    last = table[len(table) - 5 :]
    assert math.sqrt(last[4]) == pytest.approx(math.sqrt(forever[4]), rel=0.25)
    assert last[0] == pytest.approx(forever[0], rel=0.35)
    assert last[3] == pytest.approx(forever[3], rel=0.1)


@pytest.mark.parametrize("rate", [-0.1, -0.02, 0.0, 0.02, 0.1])
@pytest.mark.parametrize("lag_s", LAGS_S)
def test_a_ramp_is_recovered_without_lag(rate, lag_s):
    """After two minutes within 0.1 °C and 0.006 °C/s, though the probe itself is rate times lag
    behind."""

    def truth(t):
        return 32.0 + rate * t

    values = readings(truth, 150, lag_s, start_c=32.0)
    for t, value_c, got_rate, _ in run(values, lag_s)[480:]:
        assert value_c == pytest.approx(truth(t), abs=0.1 + 0.03 * lag_s * abs(rate) * 10)
        assert got_rate == pytest.approx(rate, abs=0.006)
    assert abs(values[-1] - truth(150)) == pytest.approx(abs(rate) * lag_s, abs=0.02)


@pytest.mark.parametrize("target_c", [28.0, 31.0, 45.0])
@pytest.mark.parametrize("lag_s", LAGS_S)
def test_a_step_is_foreseen_long_before_the_probe_is_there(target_c, lag_s):
    """Put into still chocolate from the room: within 4 % of the way after one time constant,
    when the probe itself still lacks 37 %; within 2.5 % after three.
    """
    values = readings(lambda _t: target_c, 80, lag_s)
    rows = run(values, lag_s)
    way_c = target_c - START_C
    for t, value_c, _, _ in rows:
        if t >= max(lag_s, 2.5):
            assert value_c == pytest.approx(target_c, abs=0.04 * way_c + 0.1), t
        if t >= max(3 * lag_s, 8):
            assert value_c == pytest.approx(target_c, abs=0.025 * way_c + 0.1), t


@pytest.mark.parametrize("phase", [HOLD, MELT, SEED])
@pytest.mark.parametrize("patch_s", [12.0])
def test_its_own_spread_covers_patches_as_they_are_modelled(phase, patch_s):
    """Chocolate with patches of the size and the length of the model: within one of its spreads
    in half to nine tenths, within three nearly always."""
    rng = random.Random(phase)
    keep = math.exp(-PERIOD_S / patch_s)
    within = beyond = total = 0
    for seed in range(8):
        patch, course = 0.0, []
        for _ in range(900):
            course.append(31.0 + patch)
            patch = keep * patch + PATCHES_C[phase] * math.sqrt(1 - keep * keep) * rng.gauss(0, 1)
        values = readings(lambda t, c=course: c[int(t / PERIOD_S)], 220, 2.6, 0.05, seed, 31.0)
        for _, value_c, _, spread_c in run(values, 2.6, phase)[80:]:
            total += 1
            within += abs(value_c - 31.0) <= spread_c
            beyond += abs(value_c - 31.0) > 3 * spread_c
    assert 0.5 < within / total < 0.9
    assert beyond / total < 0.03


@pytest.mark.parametrize("true_s", LAGS_S)
def test_the_right_lag_explains_the_way_in_best(true_s):
    """Unknown at first; four times in, it goes by the true one."""
    bank = LagBank()
    for seed in range(4):
        run(readings(lambda _t: 45.0, 14, true_s, 0.05, seed), None, MELT, 0.2, bank)
    assert bank.lag_s == pytest.approx(true_s, rel=0.25)


@pytest.mark.parametrize("lag_s", [1.0, 2.0, 4.0, 7.0, 15.0])
def test_told_its_lag_it_goes_by_the_nearest(lag_s):
    bank = LagBank()
    bank.set_lag(lag_s)
    told_s = min(max(LAGS_S), max(min(LAGS_S), lag_s))
    assert bank.lag_s == pytest.approx(told_s, rel=0.3)


def test_one_odd_reading_unlearns_no_lag():
    bank = LagBank()
    for seed in range(4):
        run(readings(lambda _t: 45.0, 14, 2.6, 0.05, seed), None, MELT, 0.2, bank)
    before_s = bank.lag_s
    bank.step(60.0, MELT, 0.2)
    assert bank.lag_s == pytest.approx(before_s, rel=0.1)


# --- as on a board, with 32-bit floats ------------------------------------------------


def test_the_rounding_is_real():
    assert float(float32(0.1) + float32(0.2)) != 0.1 + 0.2
    assert float(1.0 - float32(0.1)) == struct.unpack("f", struct.pack("f", 0.9))[0]
    assert type(2.0 * float32(0.5) * 0.3) is Float32


@pytest.mark.parametrize("seed", range(3))
def test_a_32_bit_run_stays_close_to_a_64_bit_one(seed):
    """A quarter of an hour with insertions: never 0.01 °C apart."""

    def truth(t):
        return 40.0 + 8.0 * math.sin(t / 90)

    values = readings(truth, 900, 4.0, 0.05, seed)
    wide, narrow = LagBank(), Float32Bank()
    for index, value in enumerate(values):
        if index % 1200 == 0:
            wide.start(value)
            narrow.start(float32(value))
        learn = 0.2 if index % 1200 < 56 else 0.0
        wide.step(value, HOLD, learn)
        narrow.step(value, HOLD, learn)
        assert type(narrow.value_c) is Float32
        assert narrow.value_c == pytest.approx(wide.value_c, abs=0.01)
        assert narrow.rate_c_per_s == pytest.approx(wide.rate_c_per_s, abs=0.002)
        assert narrow.variance == pytest.approx(wide.variance, rel=0.01, abs=1e-3)
        assert narrow.lag_s == pytest.approx(wide.lag_s, rel=0.01)
