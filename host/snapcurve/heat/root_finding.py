"""Root finders for the balances that have no closed form."""

from collections.abc import Callable
from math import ceil, copysign, log2

_HALVINGS = 45
# Of the goal: some hundred times the rounding of the sums that are solved for.
_TO_ROUNDING = 1e-13
_INWARDS = 0.2  # of the bracket, so that both of its ends move


def find_rising(
    function: Callable[[float], float], low: float, high: float, goal: float, within: float = 0.0
) -> float:
    """Argument from `low` to `high` where a rising function passes `goal`.

    Accurate to `within`, or to 3e-14 of the interval; the nearer end if it never passes.
    Interpolate, truncate and project (Oliveira and Takahashi, ACM Trans. Math. Softw. 47
    (2021) 5): a chord between both ends, held so near the middle that it never takes more than
    one call above what halving takes. Rounding to handfuls and whole steps leaves small jumps
    in the functions, and a melting curve with a steep middle and flat ends makes Newton's
    steps jump to and fro; here the bracket holds.
    """
    below, above = function(low) - goal, function(high) - goal
    if below >= 0:
        return low
    if above <= 0:
        return high
    whole = high - low
    near = max(0.5 * within, 0.5**_HALVINGS * whole)
    reach = near * 2.0 ** (ceil(log2(whole / (2 * near))) + 1)  # half the bracket, at most
    while high - low > 2 * near:
        middle = 0.5 * (low + high)
        if not low < middle < high:  # as near as numbers can tell
            break
        chord = high - above * (high - low) / (above - below)
        inwards = copysign(
            min(_INWARDS * (high - low) ** 2 / whole, abs(middle - chord)), middle - chord
        )
        off_middle = chord + inwards - middle
        most = max(0.0, reach - 0.5 * (high - low))
        at = middle + max(-most, min(most, off_middle))
        if not low < at < high:  # a chord that rounding has laid on an end
            at = middle
        off = function(at) - goal
        if off < 0:
            low, below = at, off
        elif off > 0:
            high, above = at, off
        else:
            return at
        reach *= 0.5
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
