"""The root finder for the balances that have no closed form."""

from collections.abc import Callable

_HALVINGS = 45


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
