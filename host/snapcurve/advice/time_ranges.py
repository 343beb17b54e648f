"""Between which minutes a plan's times fall: a bench never loses heat just as the usual one.

The share of a planned time that eight in ten simulated benches took (`python -m tests.benchmarks
plan_times`: bowl, loss, oven and melt drawn at random, the plan followed by the reading), to the
whole minute, outwards. A method that is not simulated, such as work on a slab, is given what is
widest of the others.
"""

from collections.abc import Sequence
from math import ceil, floor, isinf

# Lowest and highest share: molten, on the way down, ready to test, staying in the window.
_SHARES = {
    "seeding": ((0.75, 1.45), (0.85, 1.50), (0.92, 1.60), (1.20, 5.30)),
    "cold-bath": ((0.78, 1.55), (0.83, 1.38), (0.83, 1.30), (0.65, 1.70)),
    "crystal-seed": ((0.78, 1.55), (0.83, 1.35), (0.82, 1.35), (0.78, 1.85)),
    "hold": ((0.75, 1.50), (0.75, 1.50), (0.74, 1.50), (2.00, 4.80)),
    "coating": ((0.78, 1.55), (0.75, 1.40), (0.74, 1.35), (0.78, 2.10)),
}
_WIDEST = ((0.75, 1.55), (0.75, 1.50), (0.74, 1.60), (0.65, 5.30))

Range = tuple[int, int]


def window_range(method: str, window_min: float) -> Range | None:
    """Between how many minutes a batch stays in its window that should for ``window_min``; None
    if that has no end, in a room as warm as the window."""
    return None if isinf(window_min) else _whole(window_min, _SHARES.get(method, _WIDEST)[3])


def down_range(method: str, minutes: float) -> Range:
    """Between how many minutes it takes what should take so many on the way down."""
    return _whole(minutes, _SHARES.get(method, _WIDEST)[1])


def ranges(
    method: str, minutes: Sequence[tuple[str, float]], window_min: float
) -> tuple[Range, ...]:
    """The earliest and latest minute of each threshold (its name and expected minute) of a plan by
    ``method``; the last one is leaving the window, ``window_min`` after the one before it."""
    molten, down, ready, _ = _SHARES.get(method, _WIDEST)
    found = [
        _whole(minute, {"molten": molten, "ready to test": ready}.get(name, down))
        for name, minute in minutes[:-1]
    ]
    low, high = window_range(method, window_min) or (0, 0)
    return (*found, (found[-1][0] + low, found[-1][1] + high))


def minutes_words(between: Range) -> str:
    """ "14 to 22", or one number where there is no more to say."""
    low, high = between
    return str(high) if low == high else f"{low} to {high}"


def stays_words(between: Range | None) -> str:
    """How long something lasts."""
    if between is None:
        return "for hours"
    low, high = between
    if high <= 1:
        return "about a minute"
    return f"up to {high} min" if low == 0 else f"{low} to {high} min"


def _whole(minutes: float, shares: tuple[float, float]) -> Range:
    return floor(minutes * shares[0] + 1e-9), ceil(minutes * shares[1] - 1e-9)
