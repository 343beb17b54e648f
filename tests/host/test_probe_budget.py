"""The probe's own budget: limits against the standard, and how calibration changes it."""

from math import sqrt

import pytest

from snapcurve.calibration.budget import (
    CONVERTERS,
    GALLIUM_LIMIT_C,
    ICE_LIMIT_C,
    Bench,
    CalibrationPoint,
    boiling_limit_c,
    immersion_hint,
    immersion_limit_c,
    largest_credible_error_c,
    probe_budget,
    tolerance_c,
)

CHIP = CONVERTERS["MAX31856"]
ICE = CalibrationPoint(0.0, ICE_LIMIT_C, 0.02, 100)
BOILING = CalibrationPoint(97.8, boiling_limit_c(93_760, 100), 0.05, 100)
GALLIUM = CalibrationPoint(29.7646, GALLIUM_LIMIT_C, 0.01, 100)


@pytest.mark.parametrize(
    ("kind", "grade", "celsius", "tolerance"),
    [  # IEC 60584-1:2013
        ("K", 1, 31, 1.5),
        ("K", 1, 375, 1.5),
        ("K", 1, 500, 2.0),
        ("N", 2, 333, 2.5),
        ("K", 2, 400, 3.0),
        ("T", 1, 31, 0.5),
        ("T", 1, 125, 0.5),
        ("T", 1, 350, 1.4),
        ("T", 2, 31, 1.0),
        ("T", 3, -67, 1.005),
        ("K", 3, -200, 3.0),
        ("J", 1, 31, 1.5),
        ("E", 2, 31, 2.5),
    ],
)
def test_tolerances_of_the_standard(kind, grade, celsius, tolerance):
    assert tolerance_c(kind, grade, celsius) == pytest.approx(tolerance)


@pytest.mark.parametrize(("kind", "grade", "celsius"), [("J", 3, 31), ("K", 3, 45), ("K", 4, 31)])
def test_where_the_standard_states_no_tolerance(kind, grade, celsius):
    with pytest.raises(ValueError, match="states no tolerance"):
        tolerance_c(kind, grade, celsius)


@pytest.mark.parametrize(
    ("kind", "tip_c", "ratio"),
    # Ratio of the ITS-90 slopes, cold junction at 25 °C
    [("K", 31, 0.995), ("K", 45, 0.985), ("T", 31, 0.988), ("T", 45, 0.960)],
)
def test_cold_junction_passes_on_its_error_by_the_ratio_of_slopes(kind, tip_c, ratio):
    budget = probe_budget(tip_c, CHIP, kind, 1, Bench(cold_junction_c=25.0))
    (part,) = (part for part in budget.components if part.name == "cold junction")
    assert part.sensitivity == pytest.approx(ratio, abs=6e-4)
    assert part.contribution == pytest.approx(0.7 / sqrt(3) * ratio, abs=3e-4)


def test_uncalibrated_class_and_chip_rule():
    budget = probe_budget(31.0, CHIP, "K", 1, Bench())
    # By hand: 1.5, 0.7 and 0.225 as half-widths, k = 2, the rest below 0.03.
    assert budget.expanded() == pytest.approx(2 * sqrt((1.5**2 + 0.7**2 + 0.225**2) / 3), rel=0.01)
    better = probe_budget(31.0, CHIP, "T", 1, Bench())
    assert better.expanded() < 0.6 * budget.expanded()


def test_ice_and_boiling_allow_to_say_three_tenths():
    budget = probe_budget(31.0, CHIP, "K", 1, Bench(), calibration=[ICE, BOILING])
    assert budget.expanded() < 0.3
    assert probe_budget(31.0, CHIP, "K", 1, Bench(), calibration=[ICE]).expanded() < 0.3


def test_a_point_near_working_temperature_is_better_still():
    near = probe_budget(31.0, CHIP, "K", 1, Bench(), calibration=[ICE, GALLIUM, BOILING])
    far = probe_budget(31.0, CHIP, "K", 1, Bench(), calibration=[ICE, BOILING])
    assert near.expanded() < 0.6 * far.expanded()


def test_a_board_warmer_than_at_calibration_brings_the_cold_junction_back():
    same = probe_budget(31.0, CHIP, "K", 1, Bench(), calibration=[GALLIUM])
    warm = probe_budget(31.0, CHIP, "K", 1, Bench(cold_junction_c=38.0), calibration=[GALLIUM])
    far = probe_budget(31.0, CHIP, "K", 1, Bench(cold_junction_c=83.0), calibration=[GALLIUM])
    parts = [
        {part.name: part.contribution for part in budget.components}["cold junction"]
        for budget in (same, warm, far)
    ]
    assert parts[0] == 0
    assert parts[1] == pytest.approx(0.3 * 0.7 / sqrt(3), rel=0.02)
    assert parts[2] == pytest.approx(0.7 / sqrt(3), rel=0.05)


def test_references_weigh_as_the_correction_curve_weighs_them():
    points = [CalibrationPoint(0.0, 0.3), CalibrationPoint(100.0, 0.6)]

    def weights(celsius):
        budget = probe_budget(celsius, CHIP, "K", 1, Bench(), calibration=points)
        return [part.sensitivity for part in budget.components if "reference" in part.name]

    assert weights(-10) == [1]
    assert weights(25) == pytest.approx([0.75, 0.25])
    assert weights(100) == [1]
    assert weights(120) == [1]


def test_coarse_steps_of_the_other_chip_count():
    fine = probe_budget(31.0, CHIP, "K", 1, Bench(), calibration=[GALLIUM])
    coarse = probe_budget(31.0, CONVERTERS["MAX31855"], "K", 1, Bench(), calibration=[GALLIUM])
    (step,) = (part for part in coarse.components if part.name == "resolution")
    assert step.contribution == pytest.approx(0.125 / sqrt(3))
    assert coarse.expanded() > fine.expanded() + 0.05


def test_immersion_matters_below_seven_diameters():
    assert immersion_hint(7) is None
    assert "put it deeper" in immersion_hint(3)
    assert immersion_limit_c(31, 21, 3) > 1.0
    assert immersion_limit_c(31, 21, 10) < 0.15
    assert immersion_limit_c(31, 31, 1) == 0
    with pytest.raises(ValueError, match="above zero"):
        immersion_limit_c(31, 21, 0)


def test_pressure_widens_the_boiling_reference():
    # 0.2765 K/kPa at one atmosphere
    assert boiling_limit_c(101_325, 3000) == pytest.approx(0.05 + 0.83, abs=0.005)


def test_largest_credible_error_adds_all_limits():
    limit = largest_credible_error_c(31.0, CHIP, "K", 1, 25.0)
    assert limit == pytest.approx(1.5 + 0.225 + 0.7 * 0.995, abs=0.001)


def test_few_readings_limit_the_degrees_of_freedom():
    few = probe_budget(
        31.0, CHIP, "K", 1, Bench(noise_c=0.3, noise_readings=4), calibration=[GALLIUM]
    )
    assert few.effective_dof < 6
    assert few.expanded_at(0.95) > few.expanded(2)
