"""The lagging probe's filter: what it recovers of a known chocolate.

The series are made here: a first-order probe in chocolate whose temperature is known, read
four times a second, quantised to 1/128 °C, with the noise of a class 1 thermocouple input.
"""

import itertools
import math
import random
import struct

import numpy
import pytest
from float32 import Float32, Float32Filter, float32

from snapcurve.probe.tempering import lag_filter as filters
from snapcurve.probe.tempering.estimate import _PATCH_AFTER_LAGS
from snapcurve.probe.tempering.lag_filter import LagFilter

PERIOD_S = 0.25
START_C = 21.0


def readings(truth, seconds, lag_s, noise_c=0.0, seed=1, start_c=START_C, share=0.0):
    """Readings of a probe of ``lag_s`` that starts at ``start_c`` in ``truth(t)``; ``share``
    of the lag lies between sheath and junction.
    """
    rng = random.Random(seed)
    sheath_c = probe_c = start_c
    values = []
    fine = 10
    for index in range(int(seconds / PERIOD_S)):
        for part in range(fine):
            t = (index + part / fine) * PERIOD_S
            outer_s, inner_s = lag_s * (1 - share), lag_s * share
            sheath_c += (truth(t) - sheath_c) * (1 - math.exp(-PERIOD_S / fine / outer_s))
            inner = 1 - math.exp(-PERIOD_S / fine / inner_s) if share else 1.0
            probe_c += (sheath_c - probe_c) * inner
        noisy = probe_c + rng.gauss(0, noise_c) if noise_c else probe_c
        values.append(round(noisy * 128) / 128)
    return values


def run(values, lag_s=4.0, learn=False):
    """``(t, value_c, rate, spread)`` after each reading; t is the time of that reading.

    With ``learn`` as the bank runs it: patches are learnt once the way in is over.
    """
    lag_filter = LagFilter(PERIOD_S, lag_s)
    lag_filter.start(values[0])
    rows = []
    for index, value in enumerate(values):
        settled = learn and index * PERIOD_S > _PATCH_AFTER_LAGS * lag_s
        lag_filter.step(value, settled, settled)
        rows.append(
            (
                (index + 1) * PERIOD_S,
                lag_filter.value_c,
                lag_filter.rate_c_per_s,
                math.sqrt(lag_filter.variance),
            )
        )
    return rows


@pytest.mark.parametrize("rate", [-0.1, -0.02, 0.0, 0.02, 0.1])
@pytest.mark.parametrize("learn", [False, True])
@pytest.mark.parametrize("lag_s", [2.0, 4.0, 8.0])
def test_a_ramp_is_recovered_without_lag(rate, lag_s, learn):
    """Within 0.05 °C and 0.005 °C/s, though the probe itself is rate times lag behind."""

    def truth(t):
        return 32.0 + rate * t

    values = readings(truth, 120, lag_s, start_c=32.0)
    for t, value_c, got_rate, _ in run(values, lag_s, learn)[200:]:
        assert value_c == pytest.approx(truth(t), abs=0.05)
        assert got_rate == pytest.approx(rate, abs=0.005)
    assert abs(values[-1] - truth(120)) == pytest.approx(abs(rate) * lag_s, abs=0.02)


@pytest.mark.parametrize("target_c", [28.0, 31.0, 45.0])
@pytest.mark.parametrize("learn", [False, True])
@pytest.mark.parametrize("lag_s", [2.0, 4.0, 8.0])
def test_a_step_is_foreseen_long_before_the_probe_is_there(target_c, lag_s, learn):
    """Put into still chocolate from the room: within 3 % of the way after one time constant,
    when the probe itself still lacks 37 %; within 1.5 % after a quarter of a minute.
    """
    values = readings(lambda _t: target_c, 60, lag_s)
    rows = run(values, lag_s, learn)
    for t, value_c, _, _ in rows:
        way_c = target_c - START_C
        if t >= max(lag_s, 2.5):
            assert value_c == pytest.approx(target_c, abs=0.03 * way_c + 0.05), t
        if t >= 15:
            assert value_c == pytest.approx(target_c, abs=0.015 * way_c + 0.05), t
    first = next(t for t, value_c, _, _ in rows if abs(value_c - target_c) < 0.3)
    raw = next(i * PERIOD_S for i, value in enumerate(values) if abs(value - target_c) < 0.3)
    assert raw > 2.5 * first


@pytest.mark.parametrize("learn", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_with_noise(seed, learn):
    """0.05 °C of noise: the settled value within 0.15 °C, the rate within 0.015 °C/s."""

    def truth(t):
        return 45.0 - 0.03 * t

    rows = run(readings(truth, 300, 4.0, 0.05, seed, 45.0), 4.0, learn)
    for t, value_c, rate, _ in rows[240:]:
        assert value_c == pytest.approx(truth(t), abs=0.15)
        assert rate == pytest.approx(-0.03, abs=0.015)


@pytest.mark.parametrize("learn", [False, True])
@pytest.mark.parametrize("noise_c", [0.02, 0.05, 0.07])
def test_its_own_spread_is_honest(noise_c, learn):
    """Ten runs: the true error is within three of its standard deviations nearly always."""
    beyond = total = 0
    for seed in range(10):
        values = readings(lambda _t: 31.0, 120, 4.0, noise_c, seed)
        for _, value_c, _, spread in run(values, 4.0, learn)[8:]:
            total += 1
            beyond += abs(value_c - 31.0) > 3 * spread
    assert beyond / total < 0.02


def test_the_spread_shrinks_as_the_probe_settles():
    """Below what a patch is supposed to be; and below 0.1 °C once an even bowl is known so."""
    values = readings(lambda _t: 31.0, 60, 4.0)
    spreads = [row[3] for row in run(values)]
    assert spreads[0] > 1.0
    assert spreads[-1] < filters._PATCH_FIRST_C
    assert run(values, learn=True)[-1][3] < 0.1
    assert all(b <= a + 1e-4 for a, b in itertools.pairwise(spreads))


def test_a_wrong_lag_costs_something_but_does_not_diverge():
    """Told 4 s, the probe has 2 or 8: in a slow ramp the error is rate times difference."""
    for lag_s in (2.0, 8.0):
        values = readings(lambda t: 31.0 + 0.02 * t, 300, lag_s, start_c=31.0)
        t, value_c, _, _ = run(values, 4.0)[-1]
        assert value_c == pytest.approx(31.0 + 0.02 * (t - lag_s + 4.0), abs=0.05)


@pytest.mark.parametrize("lag_s", [2.0, 4.0, 8.0])
@pytest.mark.parametrize("share", [0.0, 0.22, 0.4])
def test_the_written_out_equations_are_kalmans(lag_s, share, monkeypatch):
    """Against the textbook's matrices (Kalman 1960): state, spread and log likelihood, the
    innovation in it counted up to _LIKELY_LIMIT variances.
    """
    monkeypatch.setattr(filters, "_BIAS_LIMIT", math.inf)
    lag_filter = LagFilter(PERIOD_S, lag_s, share)
    lag_filter.start(START_C)
    keep = math.exp(-PERIOD_S / filters._PATCH_S)
    follow = 1 - math.exp(-PERIOD_S / (lag_s * (1 - share)))
    inner = 1 - math.exp(-PERIOD_S / (lag_s * share)) if share else 1.0
    patch_2, noise_2 = filters._PATCH_FIRST_C**2, filters._NOISE_C**2
    sheath = numpy.array([follow, 0, follow, 1 - follow, 0])
    step = numpy.array(
        [
            [1, PERIOD_S, 0, 0, 0],
            [0, 1, 0, 0, 0],
            [0, 0, keep, 0, 0],
            sheath,
            inner * sheath + [0, 0, 0, 0, 1 - inner],  # from the sheath as it is by then
        ]
    )
    unrest = numpy.diag([0, filters._RATE_NOISE**2 * PERIOD_S, patch_2 * (1 - keep**2), 0, 0])
    state = numpy.array([START_C, 0, 0, START_C, START_C])
    sheath_2 = noise_2 + (filters._UNKNOWN_SHEATH_C**2 if share else 0)
    cov = numpy.diag([filters._UNKNOWN_C**2, filters._UNKNOWN_RATE**2, patch_2, sheath_2, noise_2])
    cov[3, 4] = cov[4, 3] = noise_2
    seen, ratios = numpy.array([0, 0, 0, 0, 1]), []
    for value in readings(lambda t: 40 + 3 * math.sin(t / 20), 60, lag_s, 0.05, share=share):
        state, cov = step @ state, step @ cov @ step.T + unrest
        spread_2, innovation = cov[4, 4] + noise_2, value - state[4]
        gain = cov @ seen / spread_2
        state, cov = state + gain * innovation, cov - numpy.outer(gain, seen @ cov)
        ratios.append(innovation**2 / spread_2)
        likely = lag_filter.step(value, False)
        assert lag_filter.innovation_c == pytest.approx(innovation, abs=1e-6)
        assert lag_filter.value_c == pytest.approx(state[0], abs=1e-6)
        assert lag_filter.rate_c_per_s == pytest.approx(state[1], abs=1e-6)
        assert lag_filter.variance == pytest.approx(cov[0, 0], rel=1e-5, abs=1e-9)
        counted = min(ratios[-1], filters._LIKELY_LIMIT)
        assert likely == pytest.approx(-(counted + math.log(spread_2)) / 2, abs=1e-6)
    assert min(ratios) < filters._LIKELY_LIMIT < max(ratios)


def test_what_is_unlikely_is_called_so():
    """Settled: a reading off to either side is the less likely the farther it is off, but
    never by more than _LIKELY_LIMIT variances.
    """
    likely = []
    for off_c in (-5.0, -1.0, -0.1, -0.05, 0.0, 0.05, 0.1, 1.0, 5.0):
        lag_filter = LagFilter(PERIOD_S, 4.0)
        lag_filter.start(31.0)
        for _ in range(400):
            lag_filter.step(31.0, False)
        likely.append(lag_filter.step(31.0 + off_c, False))
    assert likely[0] == likely[1] < likely[2] < likely[3] < likely[4]
    assert likely == pytest.approx(likely[::-1])
    assert likely[4] - likely[0] == pytest.approx(filters._LIKELY_LIMIT / 2)


def test_the_right_lag_explains_the_way_in_best():
    lags_s = (2.0, 3.0, 4.0, 6.0, 8.0)
    for true_s in lags_s:
        values = readings(lambda _t: 45.0, 20, true_s, 0.05)
        total = {}
        for lag_s in lags_s:
            lag_filter = LagFilter(PERIOD_S, lag_s)
            lag_filter.start(values[0])
            total[lag_s] = sum(lag_filter.step(value, False) for value in values)
        assert max(total, key=total.get) == true_s


@pytest.mark.parametrize("lag_s", [4.8, 6.1, 7.6])
@pytest.mark.parametrize("seed", range(3))
def test_the_right_share_explains_the_way_in_best_and_foresees_less(lag_s, seed):
    """A sheath that warms before the junction does: taken for a probe without one, it is
    foreseen too high for a while, by more than half a degree with the slow ones.
    """
    values = readings(lambda _t: 45.0, 12, lag_s, 0.05, seed, share=0.22)
    total, over_c = {}, {}
    for share in (0.0, 0.22):
        lag_filter = LagFilter(PERIOD_S, lag_s, share)
        lag_filter.start(values[2])  # the way in is noticed half a second late
        total[share] = sum(lag_filter.step(value, False) for value in values[3:24])
        over_c[share] = lag_filter.value_c - 45.0
    assert total[0.22] > total[0.0] + 2
    assert over_c[0.0] > 0.5
    assert abs(over_c[0.22]) < 0.5


# --- leaning --------------------------------------------------------------------------


def both_ways(values, monkeypatch, settled=False):
    """Filters after ``values``: as it is, and one that never notices it leans. ``settled``:
    the way in is over after 10 s, as the bank says it.
    """
    pair = []
    for limit in (filters._BIAS_LIMIT, math.inf):
        monkeypatch.setattr(filters, "_BIAS_LIMIT", limit)
        lag_filter = LagFilter(PERIOD_S, 4.0)
        lag_filter.start(values[0])
        for index, value in enumerate(values):
            calm = settled and index * PERIOD_S > 10
            lag_filter.step(value, calm, calm)
        pair.append(lag_filter)
    return pair


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("settled", "rate", "after_s"), [(False, 0.5, 6), (True, 0.2, 20)])
def test_always_wrong_to_one_side_it_follows_a_new_movement_sooner(
    sign, settled, rate, after_s, monkeypatch
):
    """Soon after it went in half as wrong 6 s later. Once settled a patch is likelier, and it
    waits: but a movement that goes on for 20 s is followed at half the error all the same.
    """

    def truth(t):
        return 31.0 + max(0.0, t - 60) * rate * sign

    end_s = 60 + after_s
    values = readings(truth, end_s, 4.0, start_c=31.0)
    leaning, plain = both_ways(values, monkeypatch, settled)
    assert abs(leaning.value_c - truth(end_s)) < 0.5 * abs(plain.value_c - truth(end_s))


def test_once_settled_a_lean_loosens_the_patch_and_not_the_value():
    """Five readings a degree too high, told as on the way in and as settled: there the value
    runs twice as far as the reading, here hardly past it.
    """
    moved_c, patch_c = {}, {}
    for settled in (False, True):
        lag_filter = LagFilter(PERIOD_S, 4.0)
        lag_filter.start(31.0)
        for _ in range(240):
            lag_filter.step(31.0, False, settled)
        before_c = lag_filter.patch_c
        for _ in range(5):
            lag_filter.step(32.0, False, settled)
        moved_c[settled] = lag_filter.value_c - 31.0
        patch_c[settled] = lag_filter.patch_c - before_c
    assert patch_c[False] == 0.0
    assert patch_c[True] >= filters._LOOSEN_PATCH_C - 1e-9
    assert moved_c[True] < 1.1
    assert moved_c[False] > 2.0


@pytest.mark.parametrize("settled", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_noise_alone_is_no_lean(seed, settled, monkeypatch):
    values = readings(lambda _t: 31.0, 120, 4.0, filters._NOISE_C, seed, 31.0)
    leaning, plain = both_ways(values, monkeypatch, settled)
    assert (leaning.value_c, leaning.variance) == (plain.value_c, plain.variance)


# --- patches --------------------------------------------------------------------------


def patchy(seed, seconds=180, patch_c=0.35):
    """Still chocolate whose temperature at the tip wanders: Ornstein-Uhlenbeck, 3 s."""
    rng = random.Random(seed)
    fine_s, keep = PERIOD_S / 10, math.exp(-PERIOD_S / 10 / 3.0)
    course, p = [], 0.0
    for _ in range(int(seconds / fine_s) + 1):
        p = keep * p + patch_c * math.sqrt(1 - keep * keep) * rng.gauss(0, 1)
        course.append(31.0 + p)
    return readings(lambda t: course[round(t / fine_s)], seconds, 4.0, 0.05, seed, 31.0)


def learnt(values, learn):
    lag_filter = LagFilter(PERIOD_S, 4.0)
    lag_filter.start(values[0])
    course = []
    for value in values:
        lag_filter.step(value, learn)
        course.append(lag_filter.patch_c)
        assert filters._PATCH_MIN_C <= lag_filter.patch_c <= filters._PATCH_MAX_C
    return course


@pytest.mark.parametrize("seed", range(3))
def test_patches_are_learnt_from_innovations_and_only_when_asked(seed):
    """What was supposed shrinks near to nothing in an even bowl; in one with patches of 0.35 °C
    it stays six times as large, over a third of what they are: the probe smooths them.
    """
    even = readings(lambda _t: 31.0, 180, 4.0, 0.05, seed, 31.0)
    rough = patchy(seed)
    assert set(learnt(rough, False)) == {filters._PATCH_FIRST_C}
    calm, rocky = learnt(even, True)[120:], learnt(rough, True)[120:]
    assert filters._PATCH_MIN_C <= sum(calm) / len(calm) < 0.025
    assert 0.35 / 3 < sum(rocky) / len(rocky) < 0.35
    assert max(calm) < filters._PATCH_FIRST_C < max(rocky)


def test_learnt_patches_do_not_outlast_an_absence():
    """Pieces thrown in meanwhile, or stirred away: it supposes as much as at first."""
    lag_filter = LagFilter(PERIOD_S, 4.0)
    lag_filter.start(31.0)
    for value in patchy(1):
        lag_filter.step(value, True)
    assert lag_filter.patch_c != filters._PATCH_FIRST_C
    lag_filter.start(21.0)
    assert lag_filter.patch_c == filters._PATCH_FIRST_C


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
    wide, narrow = LagFilter(PERIOD_S, 4.0), Float32Filter(PERIOD_S, 4.0)
    for index, value in enumerate(values):
        if index % 1200 == 0:
            wide.start(value)
            narrow.start(float32(value))
        learn = index % 1200 > 80
        likely = wide.step(value, learn)
        assert narrow.step(float32(value), learn) == pytest.approx(likely, abs=0.02, rel=0.01)
        assert type(narrow.value_c) is Float32
        assert narrow.value_c == pytest.approx(wide.value_c, abs=0.01)
        assert narrow.rate_c_per_s == pytest.approx(wide.rate_c_per_s, abs=0.002)
        assert narrow.patch_c == pytest.approx(wide.patch_c, abs=0.002)
        assert narrow.variance >= 0
