"""What separated good batches from the others: medians, ranges, pairs. No hidden model.

Chance is judged by the exact rank test of Wilcoxon (1945), Mann and Whitney (Ann. Math. Stat. 18
(1947) 50), ties included: all ways of sorting the values into the two groups are counted (by sums
of mid-ranks), none is assumed.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor
from statistics import median
from typing import NamedTuple

from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.shown.units import Style

ENOUGH = 10  # batches; below, a plain warning
GROUP_ENOUGH = 3  # of each kind for a proposal
NARROWEST_C = 0.6  # a narrower window cannot be kept by hand
NARROWER_BY_C = 0.2
CHANCE_MOST = 0.1  # a separation that chance gives more often proposes nothing


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
    """Of the values of one group."""

    lowest: float
    median: float
    highest: float


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

    ``why`` says why it is proposed, or why nothing is.
    """

    couverture: str
    good: int
    bad: int
    unknown: int
    comparisons: tuple[Comparison, ...]
    window_c: tuple[float, float] | None
    why: str
    warning: str


def learn(
    outcomes: Sequence[TrayOutcome],
    couverture: str,
    window_c: tuple[float, float],
    style: Style,
) -> Lesson:
    """Compare the batches of ``couverture`` in ``outcomes``; ``window_c`` is its window now."""
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
                    Range(min(first), median(first), max(first)),
                    Range(min(second), median(second), max(second)),
                    len(first),
                    len(second),
                    pairs_higher(first, second),
                    chance_of_split(first, second),
                )
            )
    window, why = _proposal(good, bad, comparisons, window_c, style)
    count, warning = len(good) + len(bad), ""
    if count < ENOUGH:
        batches = "1 batch" if count == 1 else f"{count} batches"
        warning = (
            f"Only {batches} with an outcome: fewer than {ENOUGH}, so what seems to separate "
            "them may well be chance."
        )
    return Lesson(
        couverture,
        len(good),
        len(bad),
        len(own) - count,
        tuple(comparisons),
        window,
        why,
        warning,
    )


def _values(batches: Sequence[TrayOutcome], quantity: Quantity) -> list[float]:
    found = [quantity.value(batch) for batch in batches]
    return [float(value) for value in found if value is not None]


def _proposal(
    good: list[TrayOutcome],
    bad: list[TrayOutcome],
    comparisons: list[Comparison],
    now_c: tuple[float, float],
    style: Style,
) -> tuple[tuple[float, float] | None, str]:
    if len(good) + len(bad) < ENOUGH:
        return None, f"No window is proposed from fewer than {ENOUGH} batches with an outcome."
    if min(len(good), len(bad)) < GROUP_ENOUGH:
        return None, f"No window is proposed from fewer than {GROUP_ENOUGH} batches of each kind."
    working = next((one for one in comparisons if one.name == WORKING.name), None)
    if working is None or working.chance > CHANCE_MOST:
        return None, "The working temperature did not separate them, so the window stays as it is."
    low_c = max(now_c[0], floor(round(working.good.lowest * 10, 6)) / 10)
    high_c = min(now_c[1], ceil(round(working.good.highest * 10, 6)) / 10)
    if high_c - low_c < NARROWEST_C - 1e-9:
        within, least = (
            style.difference(width, sign=False) for width in (high_c - low_c, NARROWEST_C)
        )
        return None, (
            f"Good batches lay within {within}: narrower than {least}, which no hand can keep."
        )
    if (now_c[1] - now_c[0]) - (high_c - low_c) < NARROWER_BY_C - 1e-9:
        return None, "Good batches fill the whole window, so it stays as it is."
    outside = sum(not low_c <= value <= high_c for value in _values(bad, WORKING))
    return (low_c, high_c), (
        f"The {working.good_count} good batches were worked between "
        f"{style.degrees(working.good.lowest)} and {style.temperature(working.good.highest)}; "
        f"{outside} of {working.bad_count} others lay outside the window proposed."
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
        lines.append(f"{'':24}{'good: median (range)':28}{'others: median (range)':28}")
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
