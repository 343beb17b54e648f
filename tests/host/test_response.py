"""The fit of the probe's lag, on records made by stepping the heat flow through time."""

from math import exp

import numpy as np
import pytest

from snapcurve.calibration.response import ResponseFit, fit_response


def step_record(
    *lags_s,
    noise_c=0.05,
    period_s=0.25,
    before_s=6.13,
    after_s=None,
    room_c=21.0,
    water_c=45.0,
    cooling_c_per_min=0.0,
    seed=0,
):
    """Times and readings: each stage follows the one before it, step by small step."""
    small_s = 0.01
    after_s = after_s or max(40.0, 8 * sum(lags_s))
    gains = [1 - exp(-small_s / lag_s) for lag_s in lags_s]
    stages = [room_c] * len(lags_s)
    times, readings = [], []
    every = round(period_s / small_s)
    for tick in range(int((before_s + after_s) / small_s)):
        now_s = tick * small_s
        ahead = room_c
        if now_s >= before_s:
            ahead = water_c - cooling_c_per_min / 60 * (now_s - before_s)
        for stage, gain in enumerate(gains):
            stages[stage] += (ahead - stages[stage]) * gain
            ahead = stages[stage]
        if tick % every == 0:
            times.append(now_s)
            readings.append(ahead)
    noise = np.random.default_rng(seed).normal(0, noise_c, len(times))
    return np.array(times), np.array(readings) + noise


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("cooling", [0.0, 0.5])
@pytest.mark.parametrize("lag_s", [2.0, 5.0, 10.0])
def test_one_time_constant_is_recovered(lag_s, cooling, seed):
    fit = fit_response(*step_record(lag_s, cooling_c_per_min=cooling, noise_c=0.1, seed=seed))
    assert len(fit.time_constants_s) == 1
    assert fit.lag_s == pytest.approx(lag_s, rel=0.03)
    assert fit.start_s == pytest.approx(6.13, abs=0.1)
    assert fit.before_c == pytest.approx(21.0, abs=0.1)
    assert fit.after_c == pytest.approx(45.0, abs=0.15)
    assert fit.noise_c == pytest.approx(0.1, rel=0.2)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("cooling", [0.0, 0.5])
@pytest.mark.parametrize("lags_s", [(2.0, 0.6), (5.0, 1.5), (10.0, 3.0)])
def test_two_time_constants_are_recovered(lags_s, cooling, seed):
    fit = fit_response(*step_record(*lags_s, cooling_c_per_min=cooling, noise_c=0.1, seed=seed))
    assert len(fit.time_constants_s) == 2
    assert fit.lag_s == pytest.approx(sum(lags_s), rel=0.03)
    assert fit.time_constants_s == pytest.approx(lags_s, rel=0.10)


def test_the_order_of_the_two_stages_does_not_matter():
    one = fit_response(*step_record(5.0, 1.5, noise_c=0.02))
    other = fit_response(*step_record(1.5, 5.0, noise_c=0.02))
    assert one.time_constants_s == pytest.approx(other.time_constants_s, rel=0.02)


def test_two_equal_stages_keep_their_summed_lag():
    fit = fit_response(*step_record(5.0, 5.0))
    assert len(fit.time_constants_s) == 2
    assert fit.lag_s == pytest.approx(10.0, rel=0.02)


@pytest.mark.parametrize("lags_s", [(2.0,), (5.0,), (10.0,), (5.0, 1.5)])
def test_a_chip_with_steps_of_a_quarter_degree_will_do(lags_s):
    times, readings = step_record(*lags_s)
    fit = fit_response(times, np.round(readings * 4) / 4)
    assert fit.lag_s == pytest.approx(sum(lags_s), rel=0.10)


def test_a_slow_converter_will_do():
    fit = fit_response(*step_record(5.0, period_s=0.8))
    assert fit.lag_s == pytest.approx(5.0, rel=0.05)


def test_wild_readings_move_nothing():
    times, readings = step_record(5.0, noise_c=0.05)
    clean = fit_response(times, readings)
    for place, wild_c in ((3, 900.0), (40, -200.0), (77, 0.0), (len(times) - 2, 1372.0)):
        readings[place] = wild_c
    fit = fit_response(times, readings)
    # A neighbour on the steep part may go with it.
    assert 4 <= fit.left_out <= 8
    assert fit.lag_s == pytest.approx(clean.lag_s, rel=0.01)


def test_a_step_down_into_ice_water_is_as_good():
    fit = fit_response(*step_record(5.0, room_c=22.0, water_c=0.5))
    assert fit.lag_s == pytest.approx(5.0, rel=0.03)
    assert fit.after_c < fit.before_c


def test_cooling_water_is_told_from_a_slow_probe():
    fit = fit_response(*step_record(10.0, cooling_c_per_min=1.0))
    assert fit.cooling_c_per_min == pytest.approx(1.0, abs=0.1)
    assert len(fit.time_constants_s) == 1
    assert fit_response(*step_record(10.0)).cooling_c_per_min == 0


def test_stated_uncertainty_covers_the_scatter_of_repeated_records():
    fits = [fit_response(*step_record(5.0, noise_c=0.2, seed=seed)) for seed in range(25)]
    scatter = float(np.std([fit.lag_s for fit in fits], ddof=1))
    stated = float(np.mean([fit.lag_uncertainty_s for fit in fits]))
    assert 0.6 < scatter / stated < 1.6


def fitted(*time_constants_s) -> ResponseFit:
    return ResponseFit(time_constants_s, 0.0, 0.0, 20.0, 45.0, 0.0, 0.05, 300)


@pytest.mark.parametrize(
    ("share", "per_lag"),
    # First order: ln 2, 1 at 1 - 1/e, ln 10, ln 20, ln 100 (0.693 and 2.303 also printed by
    # makers of sheathed thermocouples)
    [(0.5, 0.693147), (0.632121, 1.0), (0.9, 2.302585), (0.95, 2.995732), (0.99, 4.605170)],
)
def test_first_order_times(share, per_lag):
    assert fitted(5.0).time_to_s(share) == pytest.approx(5 * per_lag, rel=1e-5)


def test_second_order_times_are_closer_together_than_3_32():
    # t90/t50 is 3.3219 for one time constant; sheathed probes on sale show 2.2 and more.
    fit = fitted(5.0, 4.0)
    assert 2.0 < fit.time_to_s(0.9) / fit.time_to_s(0.5) < 3.0
    assert fitted(5.0).time_to_s(0.9) / fitted(5.0).time_to_s(0.5) == pytest.approx(
        3.3219, abs=1e-4
    )


def never_settled():
    return step_record(20.0, after_s=40.0)


def swaying():
    times, readings = step_record(5.0)
    return times, readings + 2 * np.sin(times / 3)


def too_early():
    times, readings = step_record(5.0)
    return times[24:], readings[24:]


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (lambda: step_record(5.0, water_c=26.0), "moved by only 5.* warmer than the room"),
        (never_settled, "keep the probe in the water"),
        (swaying, "stir all the time"),
        (too_early, "hold it in room air"),
        (lambda: ([1.0] * 40, [20.0] * 40), "clock went backwards"),
        (lambda: (range(10), range(10)), "record 30 or more"),
    ],
)
def test_a_record_that_tells_no_lag_is_refused_with_advice(record, says):
    with pytest.raises(ValueError, match=says):
        fit_response(*record())
