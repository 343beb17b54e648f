"""Root finders for the balances that have no closed form."""

from collections.abc import Callable

_HALVINGS = 45
# Of the goal: some hundred times the rounding of the sums that are solved for.
_TO_ROUNDING = 1e-13


def bisect_rising(
    function: Callable[[float], float], low: float, high: float, goal: float, within: float = 0.0
) -> float:
    """Argument from `low` to `high` where a rising function passes `goal`.

    Accurate to `within`, or to 3e-14 of the interval; the nearer end if it never passes.
    Bisection, because rounding to handfuls and whole steps leaves small jumps in the
    functions, and a melting curve with a steep middle and flat ends makes Newton's steps jump
    to and fro.
    """
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if function(middle) < goal:
            low = middle
        else:
            high = middle
        if high - low <= within:
            break
    return 0.5 * (low + high)


def solve_rising(
    function: Callable[[float], float], low: float, high: float, goal: float
) -> float:
    """Argument from `low` to `high` where a continuous rising function is `goal`, to rounding.

    The nearer end if it never is. False position with the Illinois rule (Dowell and Jarratt,
    BIT 11 (1971) 168): a chord between both ends of the bracket, and the value of an end that
    stays a second time counts half. Every third step halves the bracket, for functions that
    are too flat at the root for any chord. It takes some eight calls where halving takes 45.
    """
    below, above = function(low) - goal, function(high) - goal
    if below >= 0:
        return low
    if above <= 0:
        return high
    stayed = 0
    for step in range(3 * _HALVINGS):
        chord = high - above * (high - low) / (above - below)
        at = 0.5 * (low + high) if step % 3 == 2 else chord
        off = function(at) - goal
        if abs(off) <= _TO_ROUNDING * abs(goal) or not low < at < high:
            return at
        if off < 0:
            low, below = at, off
            above *= 0.5 if stayed > 0 else 1.0
            stayed = 1
        else:
            high, above = at, off
            below *= 0.5 if stayed < 0 else 1.0
            stayed = -1
    return 0.5 * (low + high)
