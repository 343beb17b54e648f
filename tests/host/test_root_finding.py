"""Root finders against scipy's brentq (R. P. Brent, Algorithms for Minimization without
Derivatives, 1973)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from snapcurve.heat.root_finding import find_rising, solve_rising

TIMES = st.floats(0.0, 1e3)
SHARES = st.floats(0.02, 0.98)


def bent(slope: float, step: float, at: float, width: float):
    """A line with a steep smooth step in it, as a narrow melting range makes one."""

    def function(x: float) -> float:
        inside = min(1.0, max(0.0, (x - at) / width))
        return slope * x + step * inside * inside * (3 - 2 * inside)

    return function


@given(
    st.floats(0.1, 1e4), TIMES, st.floats(1.0, 30.0), st.floats(1e-3, 10.0),
    st.floats(-30.0, 0.0), st.floats(1.0, 60.0), SHARES,
)  # fmt: skip
def test_a_bent_function_is_solved_to_rounding(slope, step, at, width, low, high, share):
    function = bent(slope, step * slope, at, width)
    goal = function(low) + share * (function(high) - function(low))
    calls = 0

    def counted(x: float) -> float:
        nonlocal calls
        calls += 1
        return function(x)

    found = solve_rising(counted, low, high, goal)
    assert calls <= 3 * 45 + 2
    root = brentq(lambda x: function(x) - goal, low, high, xtol=1e-13)
    # as near as the function, which is rounded at each end, can tell
    assert found == pytest.approx(root, abs=1e-9)
    calls = 0
    assert find_rising(counted, low, high, goal) == pytest.approx(root, abs=1e-9)
    assert calls <= 45 + 3


@given(
    st.floats(0.1, 1e4), TIMES, st.floats(1.0, 30.0), st.floats(1e-3, 10.0),
    st.floats(0.5, 5.0), st.floats(0.01, 1.0), SHARES,
)  # fmt: skip
def test_a_function_with_jumps_is_bracketed(slope, step, at, width, rounded_to, within, share):
    """Handfuls are whole steps: what is found has the goal on its two sides."""
    smooth = bent(slope, step * slope, at, width)

    def function(x: float) -> float:
        return smooth(rounded_to * round(x / rounded_to))

    goal = function(0.0) + share * (function(60.0) - function(0.0))
    found = find_rising(function, 0.0, 60.0, goal, within)
    assert function(found - within) <= goal <= function(found + within)


def test_an_interval_that_numbers_hardly_divide_ends():
    low, high = 1e6, 1e6 + 1e-9
    found = find_rising(lambda x: x - low, low, high, 0.3e-9)
    assert low <= found <= high


@pytest.mark.parametrize("solve", [find_rising, solve_rising])
def test_a_goal_that_is_not_passed_gives_the_nearer_end(solve):
    assert solve(lambda x: x, 2.0, 3.0, 1.0) == pytest.approx(2.0, abs=1e-12)
    assert solve(lambda x: x, 2.0, 3.0, 4.0) == pytest.approx(3.0, abs=1e-12)


def test_a_root_at_nought_and_a_flat_piece_end():
    assert solve_rising(lambda x: x**3, -1.0, 2.0, 0.0) == pytest.approx(0.0, abs=1e-9)
    flat = solve_rising(lambda x: min(x, 0.0) + max(x - 1.0, 0.0), -3.0, 2.0, 0.0)
    assert -1e-12 <= flat <= 1 + 1e-12
