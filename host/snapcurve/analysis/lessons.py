"""What separated good batches from the others: medians, quantiles, pairs. No hidden model.

Whether a narrower window is proposed is for window_test.py to say. Each comparison alone is judged
by the exact rank test of Wilcoxon (1945), Mann and Whitney (Ann. Math. Stat. 18
(1947) 50), ties included: all ways of sorting the values into the two groups are counted (by sums
of mid-ranks), none is assumed.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.analysis.window_test import EACH_AT_LEAST, FIRST_TEST, Found, Test, find_window
from snapcurve.shown.units import Style

MOST_OF_THEM = (0.1, 0.5, 0.9)  # quantiles; the extremes of many batches say ever less


@dataclass(frozen=True)
class TrayOutcome:
    """What a batch went through and how it turned out; None: not known.

    ``working_c`` is the median temperature in the window's phase, ``minutes_above`` the
    time above the window after coming into it, ``cooling_rate_c_per_min`` the mean fall from
    the melting temperature into the window (positive), ``test_minutes`` from coming into
    the window to the first test blade.
    """

    batch_code: str
    couverture: str
    working_c: float | None
    minutes_above: float | None
    cooling_rate_c_per_min: float | None
    test_minutes: float | None
    noted: NotedOutcome

    @property
    def good(self) -> bool | None:
        """Whether it turned out well; None: not enough was noted."""
        return self.noted.good


class Quantity(NamedTuple):
    """What batches are compared by; ``unit`` is that of ``value``."""

    name: str
    words: str
    unit: str
    value: Callable[[TrayOutcome], float | None]


QUANTITIES = (
    Quantity("working_c", "working temperature", "°C", lambda one: one.working_c),
    Quantity("minutes_above", "time above the window", "min", lambda one: one.minutes_above),
    Quantity(
        "cooling_rate_c_per_min", "cooling rate", "°C/min", lambda one: one.cooling_rate_c_per_min
    ),
    Quantity("test_minutes", "first test blade after", "min", lambda one: one.test_minutes),
)
WORKING = QUANTITIES[0]


class Range(NamedTuple):
    """Of the values of one group: the quantiles of MOST_OF_THEM."""

    low: float
    median: float
    high: float


@dataclass(frozen=True)
class Comparison:
    """One quantity in both groups.

    ``higher_share``: in so many of all pairs the good batch had the higher value;
    ``chance``: how often mere chance parts them so far.
    """

    name: str
    words: str
    unit: str
    good: Range
    bad: Range
    good_count: int
    bad_count: int
    higher_share: float
    chance: float


@dataclass(frozen=True)
class Lesson:
    """All that was learned of one couverture; ``window_c`` is proposed, never set.

    ``tests`` are those that have taken place, ``why`` says why it is proposed, or why nothing is.
    """

    couverture: str
    good: int
    bad: int
    unknown: int
    comparisons: tuple[Comparison, ...]
    tests: tuple[Test, ...]
    window_c: tuple[float, float] | None
    why: str
    warning: str


def learn(
    outcomes: Sequence[TrayOutcome],
    couverture: str,
    window_c: tuple[float, float],
    style: Style,
    place: int = 1,
) -> Lesson:
    """Compare the batches of ``couverture`` in ``outcomes``; ``window_c`` is its window now.

    ``place``: as which of the notebook's couvertures with outcomes it came, from 1.
    """
    own = [one for one in outcomes if one.couverture == couverture]
    good = [one for one in own if one.good]
    bad = [one for one in own if one.good is False]
    comparisons = []
    for quantity in QUANTITIES:
        first, second = _values(good, quantity), _values(bad, quantity)
        if first and second:
            comparisons.append(
                Comparison(
                    quantity.name,
                    quantity.words,
                    quantity.unit,
                    Range(*map(float, np.quantile(first, MOST_OF_THEM))),
                    Range(*map(float, np.quantile(second, MOST_OF_THEM))),
                    len(first),
                    len(second),
                    pairs_higher(first, second),
                    chance_of_split(first, second),
                )
            )
    worked = [one for one in (*good, *bad) if one.working_c is not None]
    worked.sort(key=lambda one: one.batch_code)  # the order of the days
    found = find_window(
        [one.working_c or 0.0 for one in worked],
        [bool(one.good) for one in worked],
        window_c,
        place,
    )
    why = _why(found, len(good), len(bad), style)
    count, warning = len(good) + len(bad), ""
    if count < FIRST_TEST:
        batches = "1 batch" if count == 1 else f"{count} batches"
        warning = (
            f"Only {batches} with an outcome: fewer than {FIRST_TEST}, so what seems to separate "
            "them may well be chance."
        )
    return Lesson(
        couverture,
        len(good),
        len(bad),
        len(own) - count,
        tuple(comparisons),
        found.tests,
        found.window_c,
        why,
        warning,
    )


def _values(batches: Sequence[TrayOutcome], quantity: Quantity) -> list[float]:
    found = [quantity.value(batch) for batch in batches]
    return [float(value) for value in found if value is not None]


def _why(found: Found, good: int, bad: int, style: Style) -> str:
    if found.window_c is not None:
        first = next(test for test in found.tests if test.found)
        percent = style.number(100 * first.chance, 2)
        return (
            f"Inside {style.window(*found.window_c)} {found.inside[0]} of {found.inside[1]} "
            f"batches turned out well, outside {found.outside[0]} of {found.outside[1]}; chance "
            f"alone parts {first.batches} batches so in {percent} % of cases, both sides "
            "and all windows counted."
        )
    if good + bad < FIRST_TEST:
        return f"No window is proposed from fewer than {FIRST_TEST} batches with an outcome."
    if min(good, bad) < EACH_AT_LEAST:
        return f"No window is proposed from fewer than {EACH_AT_LEAST} batches of each kind."
    if not found.tests:
        return (
            f"No window is proposed from fewer than {FIRST_TEST} batches that were worked inside "
            "the present one."
        )
    sizes = ", ".join(str(test.batches) for test in found.tests)
    return (
        f"No narrower window parts them: tests at {sizes} batches worked inside the present one "
        f"found none. The next is at {found.next_at}; to look more often changes nothing."
    )


def lesson_lines(lesson: Lesson, style: Style) -> list[str]:
    """Counts, warning, and the table of comparisons."""
    unknown = f", {lesson.unknown} without enough noted" if lesson.unknown else ""
    lines = [
        f"{lesson.couverture}: {lesson.good} batches released with gloss, {lesson.bad} did "
        f"not{unknown}."
    ]
    if lesson.warning:
        lines.append(lesson.warning)
    if lesson.comparisons:
        lines.append(f"{'':24}{'good: median (8 in 10)':28}{'others: median (8 in 10)':28}")
    for one in lesson.comparisons:
        good = _range_words(one, one.good, one.good_count, style)
        bad = _range_words(one, one.bad, one.bad_count, style)
        unit = one.unit.replace("°C", style.degree)
        lines.append(f"{one.words:24}{good:28}{bad:28}{unit}")
        higher = max(one.higher_share, 1 - one.higher_share)
        word = "higher" if one.higher_share >= 0.5 else "lower"
        lines.append(
            f"    good ones {word} in {higher:.0%} of pairs; chance alone does so much in "
            f"{one.chance:.0%} of cases"
        )
    return lines


def _range_words(one: Comparison, values: Range, count: int, style: Style) -> str:
    def number(value: float) -> str:
        if one.unit == "°C":
            return style.degrees(value, 2)
        return style.number(style.interval(value) if "°C" in one.unit else value, 2)

    lowest, middle, highest = map(number, values)
    return f"{middle} ({lowest} to {highest}), {count}"


def pairs_higher(first: Sequence[float], second: Sequence[float]) -> float:
    """Of all pairs, the share in which the value of ``first`` is the higher; ties half."""
    score = sum((a > b) + 0.5 * (a == b) for a in first for b in second)
    return score / (len(first) * len(second))


def chance_of_split(first: Sequence[float], second: Sequence[float]) -> float:
    """How often chance alone would part the groups at least so far, in either direction.

    0 to 1; both groups must hold a value.
    """
    values = [*first, *second]
    # Twice the mid-rank of each value, so that ties stay whole numbers.
    doubled = [2 * sum(b < a for b in values) + values.count(a) + 1 for a in values]
    size = len(first)
    sums: list[Counter[int]] = [Counter() for _ in range(size + 1)]
    sums[0][0] = 1
    for rank in doubled:
        for taken in range(size - 1, -1, -1):
            for total, ways in list(sums[taken].items()):
                sums[taken + 1][total + rank] += ways
    # Mean of the doubled rank sum; how far off it is counts.
    centre = size * (len(doubled) + 1)
    off = abs(sum(doubled[:size]) - centre)
    ways = sum(sums[size].values())
    return sum(n for total, n in sums[size].items() if abs(total - centre) >= off) / ways
