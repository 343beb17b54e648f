"""ITS-90 functions against the package thermocouple-its90 (NIST SRD 60 coefficients)."""

import numpy as np
import pytest
import thermocouple_its90

from snapcurve.probe.thermometer import its90


def grid_c(kind: str, step_c: float):
    lowest_c, highest_c = its90.RANGE_C[kind]
    return np.arange(lowest_c, highest_c + step_c / 2, step_c)


@pytest.mark.parametrize("kind", its90.TYPES)
def test_forward_agrees_with_the_nist_functions_over_the_whole_range(kind):
    reference = thermocouple_its90.get(kind)
    # The highest and lowest temperatures included. At exactly 0 °C type K's upper half gives
    # 2e-9 mV where the lower gives 0.
    for celsius in map(float, grid_c(kind, 0.5)):
        allowed = 1e-11 if celsius else 1e-8
        assert its90.emf_mv(kind, celsius) == pytest.approx(reference.emf(celsius), abs=allowed)


@pytest.mark.parametrize("kind", its90.TYPES)
def test_forward_agrees_finely_where_chocolate_is_worked(kind):
    reference = thermocouple_its90.get(kind)
    for hundredths in range(-1000, 15001, 3):
        celsius = hundredths / 100
        assert abs(its90.emf_mv(kind, celsius) - reference.emf(celsius)) < 0.001


@pytest.mark.parametrize("kind", its90.TYPES)
def test_inverse_undoes_the_independent_forward_function(kind):
    reference = thermocouple_its90.get(kind)
    for celsius in map(float, grid_c(kind, 0.5)):
        assert abs(its90.temperature_c(kind, reference.emf(celsius)) - celsius) < 1e-4


@pytest.mark.parametrize("kind", its90.TYPES)
def test_round_trip_with_every_operation_rounded_to_32_bits(kind, monkeypatch):
    # numpy keeps float32 through every operation with a Python number.
    monkeypatch.setattr(its90, "exp", np.exp)
    for celsius in np.arange(-100, 400.01, 0.1, dtype=np.float32):
        voltage = its90.emf_mv(kind, celsius)
        back = its90.temperature_c(kind, voltage)
        assert voltage.dtype == back.dtype == np.float32
        assert abs(float(back) - float(celsius)) < 0.02


@pytest.mark.parametrize("kind", its90.TYPES)
def test_slope_is_the_derivative_of_the_forward_function(kind):
    reference = thermocouple_its90.get(kind)
    lowest_c, highest_c = its90.RANGE_C[kind]
    for celsius in np.linspace(lowest_c + 1, highest_c - 1, 301):
        if abs(celsius) < 0.1:
            continue  # the two halves of the function meet here, with a tiny kink
        h = 0.01
        slope = (reference.emf(celsius + h) - reference.emf(celsius - h)) / (2 * h)
        assert its90.seebeck_mv_per_c(kind, float(celsius)) == pytest.approx(slope, rel=1e-6)


def test_inverse_polynomial_alone_would_not_do():
    # The Newton step is worth its cost: type K's polynomial is 0.034 °C off at 45 °C.
    assert its90.temperature_c("K", 1.8171284610672127) == pytest.approx(45.0, abs=1e-5)
    guess = 0.0
    for coefficient in its90._INVERSE["K"][1][1]:
        guess = guess * 1.8171284610672127 + coefficient
    # The package thermocouples 2.1.2 uses the polynomial alone and prints 45.03351.
    assert guess == pytest.approx(45.03351, abs=1e-5)


@pytest.mark.parametrize("kind", its90.TYPES)
def test_inverse_has_no_jump_where_its_stretches_meet(kind):
    for upper_mv, _ in its90._INVERSE[kind][:-1]:
        below = its90.temperature_c(kind, upper_mv - 1e-6)
        above = its90.temperature_c(kind, upper_mv + 1e-6)
        assert 0 < above - below < 2e-4


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: its90.emf_mv("R", 20.0), "not one of K, T, J, N, E"),
        (lambda: its90.emf_mv("T", 400.1), "outside type T's range"),
        (lambda: its90.emf_mv("K", float("nan")), "outside type K's range"),
        (lambda: its90.seebeck_mv_per_c("J", -211.0), "outside type J's range"),
        (lambda: its90.temperature_c("T", 21.0), "check the thermocouple type"),
        (lambda: its90.temperature_c("K", float("nan")), "outside type K's range"),
        (lambda: its90.temperature_c("x", 1.0), "not one of"),
        (lambda: its90.emf_mv("k", 20.0), "not one of"),
    ],
)
def test_what_cannot_be_computed_is_refused(call, says):
    with pytest.raises(ValueError, match=says):
        call()
