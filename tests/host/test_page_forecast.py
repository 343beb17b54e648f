"""In how many minutes the next threshold comes, as the page foretells it.

With the real firmware, rough batches and their truth: ``python -m tests.benchmarks page_range``.
"""

import pytest
from page_board import milk_profile, reading

from snapcurve.page.forecast import Forecast
from snapcurve.page.standing import profile_of

MILK = profile_of(milk_profile())


def followed(slope_c_per_min, start_c, minutes=3.0, **values):
    """Foretold after so many minutes of a straight drift."""
    forecast = Forecast()
    for step in range(int(minutes * 120)):
        at_s = step / 2
        estimate_c = start_c + slope_c_per_min * at_s / 60
        at = {"uptime_ms": round(at_s * 1000), "estimate_c": estimate_c}
        forecast.take(MILK, reading(**at, **values))
    return forecast.minutes()


@pytest.mark.parametrize(
    ("slope", "start_c", "values", "true_min"),
    [
        (-0.5, 37.0, {"state": "approach"}, 7.0),  # down to 32 °C
        (1.0, 38.0, {"phase": "melt", "state": "approach"}, 4.0),  # up to 45 °C
        (0.6, 26.0, {"state": "approach"}, 3.67),  # up into 30 °C
    ],
)
def test_a_way_to_a_target_has_the_straight_line_within_its_range(
    slope, start_c, values, true_min
):
    low, high = followed(slope, start_c, **values)
    assert low < true_min < high


def test_a_drift_that_halves_still_comes_within_the_range():
    """A handful cools at first, and then no more."""
    low, high = followed(-1.0, 37.0, minutes=2.0, state="approach")
    by_the_line_min = 3.0
    assert low <= by_the_line_min
    assert high >= 2 * by_the_line_min


def test_out_of_the_window_the_soonest_is_the_drift_s_own():
    low, _ = followed(-0.2, 31.6, minutes=4.0)
    assert 2 <= low <= 4  # 0.8 °C more at 0.2 °C a minute


def test_nothing_is_foretold_of_a_probe_outside_or_after_a_silence():
    assert followed(-0.5, 37.0, state="approach", place="air") is None
    assert followed(-0.5, 37.0, minutes=1.0, state="approach") is None
    assert followed(0.2, 28.0, state="approach") is None  # from 2 to 27 minutes says nothing
    forecast = Forecast()
    forecast.take(None, reading())
    assert forecast.minutes() is None
