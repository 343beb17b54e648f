"""Root finders for the balances that have no closed form."""

from collections.abc import Callable

_HALVINGS = 45
_NEWTON_STEPS = 100


def bisect_rising(
    function: Callable[[float], float], low: float, high: float, goal: float
) -> float:
    """Argument from `low` to `high` where a rising function passes `goal`.

    Accurate to 3e-14 of the interval; the nearer end if it never passes. Bisection,
    because rounding to handfuls and whole steps leaves small jumps in the functions.
    """
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if function(middle) < goal:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def newton_rising(
    excess_and_slope: Callable[[float], tuple[float, float]],
    low: float,
    high: float,
    guess: float,
) -> float:
    """Root in [low, high] of a rising function given with its slope (above zero).

    Newton's step where it stays inside the bracket and at least halves the last step,
    else halving the bracket: a melting curve with a steep middle and flat ends makes
    plain Newton jump to and fro for ever.
    """
    if not low < guess < high:
        guess = 0.5 * (low + high)
    last_step = high - low
    for _ in range(_NEWTON_STEPS):
        excess, slope = excess_and_slope(guess)
        if excess > 0:
            high = guess
        else:
            low = guess
        following = guess - excess / slope
        if not low < following < high or abs(following - guess) > 0.5 * last_step:
            following = 0.5 * (low + high)
        last_step = abs(following - guess)
        guess = following
        if last_step < 1e-13 * (1 + abs(guess)):
            break
    return guess
