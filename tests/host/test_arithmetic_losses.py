"""Losses to the room, their fit, and the water test of a microwave oven."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from melting_oracle import slope_per_k
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from snapcurve.advice.bench_loss import fit_loss
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, bowl_of
from snapcurve.heat.enthalpy import couverture_thermal
from snapcurve.heat.transfer import (
    power_into_chocolate_w,
    usual_loss_w_per_k,
    water_test_power_w,
)

DARK = couverture_thermal("dark")


def cooled_c(start_c, room_c, tau_s, seconds):
    """Newton's law."""
    return room_c + (start_c - room_c) * math.exp(-seconds / tau_s)


def test_standing_agrees_with_the_differential_equation():
    batch = Batch(DARK, 900.0, 45.0, bowl=bowl_of("glass", 600.0))
    capacity = batch.heat_capacity_j_per_k
    solved = solve_ivp(
        lambda _, t: -1.2 * (t - 19.0) / capacity, (0, 1500), [45.0], rtol=1e-10, atol=1e-10
    )
    batch.stand(1500.0, 19.0, 1.2)
    assert batch.temperature_c == pytest.approx(solved.y[0][-1], abs=1e-6)


def test_a_warm_room_melts_along_the_curve():
    batch = Batch(DARK, 200.0, 22.0)

    def rate(_, t):
        share, slope = DARK.melting.melted_share(t[0]), slope_per_k(DARK.melting, t[0])
        capacity = 1.59 + 0.08 * share + slope * (46.0 + 0.08 * (t[0] - 36.0))
        return [0.5 * (33.0 - t[0]) / (200.0 * capacity)]

    solved = solve_ivp(rate, (0, 3600), [22.0], rtol=1e-9, atol=1e-9, max_step=10)
    batch.stand(3600.0, 33.0, 0.5)
    assert batch.temperature_c == pytest.approx(solved.y[0][-1], abs=0.02)


@given(st.floats(34.0, 60.0), st.floats(5.0, 25.0), st.floats(0.5, 4.0))
def test_seconds_to_cool_is_the_inverse_of_cooling(start_c, room_c, loss):
    batch = Batch(DARK, 900.0, start_c, melted_share=1.0)
    seconds = batch.seconds_to_cool_to(31.0, room_c, loss)
    tau_s = batch.heat_capacity_j_per_k / loss
    assert cooled_c(start_c, room_c, tau_s, seconds) == pytest.approx(31.0, abs=1e-9)


@given(st.floats(200.0, 6000.0), st.floats(15.0, 25.0), st.floats(40.0, 55.0))
def test_fit_finds_the_loss_of_a_clean_curve(tau, room_c, start_c):
    times = [10.0 * i for i in range(60)]
    readings = [cooled_c(start_c, room_c, tau, t) for t in times]
    fit = fit_loss(times, readings, room_c, 2000.0)
    assert fit.loss_w_per_k == pytest.approx(2000.0 / tau, rel=1e-8)
    assert fit.standard_error_w_per_k < 1e-6


def test_noisy_fit_agrees_with_scipy_in_value_and_error():
    noise = random.Random(4)
    times = [5.0 * i for i in range(120)]
    readings = [cooled_c(46.0, 21.0, 1900.0, t) + noise.gauss(0, 0.05) for t in times]
    fit = fit_loss(times, readings, 21.0, 2100.0)
    best, covariance = curve_fit(
        lambda t, a, k: 21.0 + a * np.exp(-k * t), times, readings, p0=(20.0, 1e-3)
    )
    assert fit.loss_w_per_k == pytest.approx(best[1] * 2100.0, rel=1e-5)
    assert fit.standard_error_w_per_k == pytest.approx(
        math.sqrt(covariance[1][1]) * 2100.0, rel=1e-3
    )
    assert abs(fit.loss_w_per_k - 2100 / 1900) < 4 * fit.standard_error_w_per_k


def test_loss_grows_with_the_surface():
    assert usual_loss_w_per_k(8000.0) == pytest.approx(4 * usual_loss_w_per_k(1000.0))


# Heating times for 10 K in 1000 g by the water test as ovens' service sheets tabulate them
# for their rated watts: 70 s 600 W, 60 s 700, 52 s 800, 47 s 900, 42 s 1000.
@pytest.mark.parametrize(
    ("seconds", "rated_w"), [(70, 600), (60, 700), (52, 800), (47, 900), (42, 1000)]
)
def test_water_test_gives_the_tabulated_power(seconds, rated_w):
    assert water_test_power_w(1000.0, 10.0, 20.0, seconds) == pytest.approx(rated_w, rel=0.012)


def test_the_vessel_counts():
    bare = water_test_power_w(1000.0, 10.0, 20.0, 52.0)
    # A vessel at the room's 20 °C takes nothing when the water ends there.
    same = water_test_power_w(1000.0, 10.0, 20.0, 52.0, vessel_g=400.0, vessel_start_c=20.0)
    more = water_test_power_w(1000.0, 10.0, 20.0, 52.0, vessel_g=400.0, vessel_start_c=10.0)
    assert same == pytest.approx(bare)
    assert (more - bare) * 52.0 == pytest.approx(0.55 * 400 * 10)


@given(st.floats(50.0, 3000.0))
def test_chocolate_never_takes_more_than_the_oven_gives(power):
    assert 0 < power_into_chocolate_w(power) <= power


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: water_test_power_w(1000.0, 20.0, 10.0, 60.0), "did not get warmer"),
        (lambda: water_test_power_w(-1.0, 10.0, 20.0, 60.0), "water"),
        (lambda: water_test_power_w(1000.0, 10.0, 20.0, 0.0), "above zero"),
        (lambda: power_into_chocolate_w(0.0), "0 W"),
        (lambda: fit_loss([0, 1, 2], [45, 44, 43], 20.0, 2000.0), "Only 3 readings"),
        (lambda: fit_loss(range(9), [45.0] * 9, 50.0, 2000.0), "not warmer"),
        (lambda: fit_loss(range(9), [40.0 + i for i in range(9)], 20.0, 2000.0), "not cool"),
    ],
)
def test_silly_input_gets_one_sentence(ask, says):
    with pytest.raises(SnapcurveError, match=says) as e:
        ask()
    assert str(e.value).endswith(".")
