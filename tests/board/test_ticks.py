"""From wrapping ticks to a growing time."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.ticks import Uptime

PERIOD = 1 << 30


def uptime_over(ticks):
    """An Uptime that sees one of ``ticks`` at each look."""
    looks = iter(ticks)
    return Uptime(lambda: next(looks), PERIOD)


def test_over_the_wrap():
    uptime = uptime_over([0x3FFFFFF0, 0x3FFFFFF6, 0x0000000A, 0x0000000B])
    assert [uptime.now() for _ in range(3)] == [6, 26, 27]


def test_a_small_step_back_counts_nothing_and_loses_nothing():
    uptime = uptime_over([1000, 1500, 1490, 1500, 1510])
    assert [uptime.now() for _ in range(4)] == [500, 500, 500, 510]


def test_a_small_step_back_over_the_wrap():
    uptime = uptime_over([0x3FFFFFF0, 5, 0x3FFFFFFE, 6])
    assert [uptime.now() for _ in range(3)] == [21, 21, 22]


def test_just_under_half_a_period_between_looks():
    uptime = uptime_over([7, 7 + PERIOD // 2 - 1])
    assert uptime.now() == PERIOD // 2 - 1


@pytest.mark.parametrize("period", [1000, (1 << 30) - 1, 3 << 20])
def test_a_period_that_is_no_power_of_two_is_refused(period):
    with pytest.raises(ValueError, match="power of two"):
        Uptime(lambda: 0, period)


@given(
    st.integers(0, PERIOD - 1),
    st.lists(st.integers(0, PERIOD // 2 - 1) | st.integers(0, 300), max_size=60),
)
def test_sum_of_all_steps(first, steps):
    ticks, total, expected = [first], 0, []
    for step in steps:
        total += step
        ticks.append((first + total) % PERIOD)
        expected.append(total)
    uptime = uptime_over(ticks)
    assert [uptime.now() for _ in steps] == expected


@given(st.integers(0, PERIOD - 1), st.lists(st.integers(-1000, 100_000), max_size=60))
def test_never_back_and_never_far_ahead(first, steps):
    """With small steps back among the others it shows the highest tick reached."""
    ticks, true = [first], [0]
    for step in steps:
        true.append(true[-1] + step)
        ticks.append((first + true[-1]) % PERIOD)
    uptime = uptime_over(ticks)
    shown = [uptime.now() for _ in steps]
    highest = [max(true[: index + 2]) for index in range(len(steps))]
    assert shown == highest
