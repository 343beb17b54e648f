"""The correction curve of a calibrated probe."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.thermometer.calibration import CorrectionCurve, check_points
from snapcurve.wire.catalogue import CALIBRATION_POINTS_MAX


def corrected_c(curve: CorrectionCurve, celsius: float) -> float:
    return curve.corrected_128ths(round(celsius * 128)) / 128


def test_one_point_shifts_everything():
    curve = CorrectionCurve([(120, -120)])
    for celsius in (-40, 0, 1.2, 31, 250):
        assert corrected_c(curve, celsius) == pytest.approx(celsius - 1.2, abs=0.006)


def test_between_points_a_line_and_outside_the_end_values():
    curve = CorrectionCurve([(9800, 100), (0, -100)])  # any order
    assert corrected_c(curve, 0) == -1
    assert corrected_c(curve, 49) == 49
    assert corrected_c(curve, 24.5) == pytest.approx(24.0, abs=0.006)
    assert corrected_c(curve, 98) == 99
    assert corrected_c(curve, -30) == -31
    assert corrected_c(curve, 200) == 201


def test_offset_and_slope_error_taken_out_by_ice_and_boiling():
    # Exact arithmetic beside it: shown = 1.2 + 1.004 true, points at 0 and 97.8 °C.
    def shown_c(true_c):
        return 1.2 + 1.004 * true_c

    points = [
        (round(shown_c(true_c) * 100), round((true_c - shown_c(true_c)) * 100))
        for true_c in (0.0, 97.8)
    ]
    curve = CorrectionCurve(points)
    for true_c in range(98):
        assert corrected_c(curve, shown_c(true_c)) == pytest.approx(true_c, abs=0.02)


points_strategy = st.lists(
    st.tuples(st.integers(-5000, 25000), st.integers(-1000, 1000)), min_size=1, max_size=6
)


@given(points_strategy, st.integers(-0x7FFF, 0x7FFF))
def test_every_accepted_curve_rises_and_stays_between_its_corrections(points, raw):
    try:
        curve = CorrectionCurve(points)
    except ValueError:
        return
    assert curve.corrected_128ths(raw + 1) >= curve.corrected_128ths(raw)
    corrections = [correction * 1.28 for _, correction in points]
    assert min(corrections) - 0.51 <= curve.correction_128ths(raw) <= max(corrections) + 0.51


@given(st.integers(-1000, 1000), st.integers(-1000, 1000), st.integers(0, 12800))
def test_rounding_is_to_the_nearest_step(at_ice, at_boiling, raw):
    curve = CorrectionCurve([(0, at_ice), (10000, at_boiling)])
    low, high = curve.correction_128ths(0), curve.correction_128ths(12800)
    exact = low + (high - low) * raw / 12800
    assert abs(curve.correction_128ths(raw) - exact) <= 0.5


def test_products_stay_within_the_boards_small_integers():
    # The widest span and rise that check_points lets through.
    check_points([(-5000, -1000), (25000, 1000)])
    span, rise = 30000 * 128 // 100, 2000 * 128 // 100
    assert 2 * span * rise + span < 2**30


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([], "1 to 6 points, not 0"),
        ([(n * 1000, 0) for n in range(CALIBRATION_POINTS_MAX + 1)], "not 7"),
        ([(0, 0), (0, 10)], "too close"),
        ([(3100, 0), (3149, 0)], "too close"),
        ([(-5001, 0)], "lie between -50 and 250"),
        ([(25001, 0)], "lie between -50 and 250"),
        ([(0, 1001)], "fault of the probe"),
        ([(0, -1001)], "fault of the probe"),
        ([(3100, -100), (3200, 100)], "differ too much"),
        ([(3100, 100), (3200, -100)], "differ too much"),
        ([(0, 0.5)], "whole numbers"),
    ],
)
def test_points_that_make_no_curve_are_refused(points, says):
    with pytest.raises(ValueError, match=says):
        CorrectionCurve(points)
