"""The probe's own budget: limits against the standard, and how calibration changes it."""

from math import sqrt

import pytest

from snapcurve.calibration.baths import GALLIUM_LIMIT_C, ICE_LIMIT_C, boiling_limit_c
from snapcurve.calibration.budget import (
    CONVERTERS,
    Budget,
    Component,
    immersion_hint,
    immersion_limit_c,
    largest_credible_error_c,
    probe_budget,
    tolerance_c,
)
from snapcurve.calibration.stored import Calibration, Point

CHIP = CONVERTERS["MAX31856"]


def point(at_c: float, limit_c: float, spread_c: float = 0.0, readings: int = 1) -> Point:
    """A comparison with the board at 23 °C."""
    limit, spread = round(limit_c * 1000), round(spread_c * 1000)
    return Point(round(at_c * 100), 0, "ice", 0, limit, spread, readings, 2300)


def budget_at(
    at_c: float,
    kind: str = "K",
    points: tuple[Point, ...] = (),
    chip: str = "MAX31856",
    room_c: float = 23.0,
) -> Budget:
    return probe_budget(at_c, CONVERTERS[chip], kind, Calibration(points), room_c=room_c)


ICE = point(0.0, ICE_LIMIT_C, 0.02, 100)
BOILING = point(97.8, boiling_limit_c(93_760, 100), 0.05, 100)
GALLIUM = point(29.7646, GALLIUM_LIMIT_C, 0.01, 100)


def end_gauge() -> Budget:
    """JCGM 100:2008 Annex H.1, in nm: l = l_s + d - l_s (d_alpha theta + alpha_s d_theta)."""
    l_s, theta, alpha_s = 50_000_623.0, -0.1, 11.5e-6
    return Budget(
        (
            # From its certificate: U = 0.075 µm, coverage factor 3.
            Component("standard gauge", 75, divisor=3),
            # Pooled standard deviation 13 nm, five readings of the difference.
            Component("repeated observations", 13 / sqrt(5)),
            # Comparator, random: 0.01 µm at 95 % with 5 degrees of freedom, t = 2.57.
            Component("comparator, random", 10, divisor=2.57),
            # Comparator, systematic: 0.02 µm at three sigma.
            Component("comparator, systematic", 20, divisor=3),
            Component("difference of expansion", 1e-6, "rectangular", sensitivity=-l_s * theta),
            Component(
                "difference of temperature", 0.05, "rectangular", sensitivity=-l_s * alpha_s
            ),
        )
    )


def test_the_example_of_annex_h1():
    budget = end_gauge()
    got = [part.contribution for part in budget.components]
    # Table H.1, nm
    assert got == pytest.approx([25, 5.8, 3.9, 6.7, 2.9, 16.6], abs=0.05)
    assert budget.components[-1].standard_uncertainty == pytest.approx(0.029, abs=0.0005)
    assert budget.combined == pytest.approx(32, abs=0.5)  # H.1.4: u_c = 32 nm
    assert budget.expanded() == 2 * budget.combined
    assert sum(budget.share(part) for part in budget.components) == pytest.approx(1)


def test_a_budget_of_nothing_uncertain_is_certain():
    budget = Budget((Component("none", 0.0),))
    assert (budget.combined, budget.expanded()) == (0, 0)
    assert budget.share(budget.components[0]) == 0


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
    budget = budget_at(tip_c, kind, room_c=25.0)
    (part,) = (part for part in budget.components if part.name == "cold junction")
    assert part.sensitivity == pytest.approx(ratio, abs=6e-4)
    assert part.contribution == pytest.approx(0.7 / sqrt(3) * ratio, abs=3e-4)


def test_uncalibrated_class_and_chip_rule():
    budget = budget_at(31.0)
    # By hand: 1.5, 0.7 and 0.225 as half-widths, k = 2, the rest below 0.03.
    assert budget.expanded() == pytest.approx(2 * sqrt((1.5**2 + 0.7**2 + 0.225**2) / 3), rel=0.01)
    better = budget_at(31.0, "T")
    assert better.expanded() < 0.6 * budget.expanded()


def test_ice_and_boiling_allow_to_say_three_tenths():
    budget = budget_at(31.0, points=(ICE, BOILING))
    assert budget.expanded() < 0.3
    assert budget_at(31.0, points=(ICE,)).expanded() < 0.3


def test_a_point_near_working_temperature_is_better_still():
    near = budget_at(31.0, points=(ICE, GALLIUM, BOILING))
    far = budget_at(31.0, points=(ICE, BOILING))
    assert near.expanded() < 0.6 * far.expanded()


def test_a_board_warmer_than_at_calibration_brings_the_cold_junction_back():
    same = budget_at(31.0, points=(GALLIUM,))
    warm = budget_at(31.0, points=(GALLIUM,), room_c=38.0)
    far = budget_at(31.0, points=(GALLIUM,), room_c=83.0)
    parts = [
        {part.name: part.contribution for part in budget.components}["cold junction"]
        for budget in (same, warm, far)
    ]
    assert parts[0] == 0
    assert parts[1] == pytest.approx(0.3 * 0.7 / sqrt(3), rel=0.02)
    assert parts[2] == pytest.approx(0.7 / sqrt(3), rel=0.05)


def test_references_weigh_as_the_correction_curve_weighs_them():
    points = (point(0.0, 0.3), point(100.0, 0.6))

    def weights(celsius):
        budget = budget_at(celsius, points=points)
        return [part.sensitivity for part in budget.components if "reference" in part.name]

    assert weights(-10) == [1]
    assert weights(25) == pytest.approx([0.75, 0.25])
    assert weights(100) == [1]
    assert weights(120) == [1]


def test_coarse_steps_of_the_other_chip_count():
    fine = budget_at(31.0, points=(GALLIUM,))
    coarse = budget_at(31.0, points=(GALLIUM,), chip="MAX31855")
    (step,) = (part for part in coarse.components if part.name == "resolution")
    assert step.contribution == pytest.approx(0.125 / sqrt(3))
    assert coarse.expanded() > fine.expanded() + 0.05


def test_immersion_matters_below_seven_diameters():
    assert immersion_hint(7) is None
    assert "put it deeper" in immersion_hint(3)
    assert immersion_limit_c(31, 21, 3) > 1.0
    assert immersion_limit_c(31, 21, 10) < 0.15
    assert immersion_limit_c(31, 31, 1) == 0


def test_pressure_widens_the_boiling_reference():
    # 0.2765 K/kPa at one atmosphere
    assert boiling_limit_c(101_325, 3000) == pytest.approx(0.05 + 0.83, abs=0.005)


def test_largest_credible_error_adds_all_limits():
    limit = largest_credible_error_c(31.0, CHIP, "K", 1, 25.0)
    assert limit == pytest.approx(1.5 + 0.225 + 0.7 * 0.995, abs=0.001)
