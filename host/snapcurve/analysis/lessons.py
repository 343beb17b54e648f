"""What separated good batches from the others: medians, ranges, pairs. No hidden model."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from statistics import median

from snapcurve.analysis.rank_test import chance_of_split, pairs_higher
from snapcurve.analysis.tray import TrayOutcome

ENOUGH = 10  # batches; below, a plain warning
GROUP_ENOUGH = 3  # of each kind for a proposal
NARROWEST_C = 0.6  # a narrower window cannot be kept by hand
NARROWER_BY_C = 0.2
CHANCE_MOST = 0.1  # a separation that chance gives more often proposes nothing
# attribute, words, unit
QUANTITIES = (
    ("working_c", "working temperature", "°C"),
    ("minutes_above", "time above the window", "min"),
    ("cooling_rate_c_per_min", "cooling rate", "°C/min"),
    ("test_minutes", "first test blade after", "min"),
)


@dataclass(frozen=True)
class Comparison:
    """One quantity in both groups, each (lowest, median, highest).

    ``higher_share``: in so many of all pairs the good batch had the higher value;
    ``chance``: how often mere chance parts them so far.
    """

    name: str
    words: str
    unit: str
    good: tuple[float, float, float]
    bad: tuple[float, float, float]
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
    outcomes: Sequence[TrayOutcome], couverture: str, window_c: tuple[float, float]
) -> Lesson:
    """Compare the batches of ``couverture`` in ``outcomes``; ``window_c`` is its window now."""
    own = [one for one in outcomes if one.couverture == couverture]
    good = [one for one in own if one.good]
    bad = [one for one in own if one.good is False]
    comparisons = []
    for name, words, unit in QUANTITIES:
        first, second = _values(good, name), _values(bad, name)
        if first and second:
            comparisons.append(
                Comparison(
                    name,
                    words,
                    unit,
                    _three(first),
                    _three(second),
                    len(first),
                    len(second),
                    pairs_higher(first, second),
                    chance_of_split(first, second),
                )
            )
    window, why = _proposal(good, bad, comparisons, window_c)
    return Lesson(
        couverture,
        len(good),
        len(bad),
        len(own) - len(good) - len(bad),
        tuple(comparisons),
        window,
        why,
        _warning(len(good) + len(bad)),
    )


def _values(batches: Sequence[TrayOutcome], name: str) -> list[float]:
    found = [getattr(batch, name) for batch in batches]
    return [float(value) for value in found if value is not None]


def _three(values: list[float]) -> tuple[float, float, float]:
    return min(values), median(values), max(values)


def _warning(count: int) -> str:
    if count >= ENOUGH:
        return ""
    batches = "1 batch" if count == 1 else f"{count} batches"
    return (
        f"Only {batches} with an outcome: fewer than {ENOUGH}, so whatever seems to separate "
        "them may well be chance."
    )


def _proposal(
    good: list[TrayOutcome],
    bad: list[TrayOutcome],
    comparisons: list[Comparison],
    now_c: tuple[float, float],
) -> tuple[tuple[float, float] | None, str]:
    if len(good) + len(bad) < ENOUGH:
        return None, f"No window is proposed from fewer than {ENOUGH} batches with an outcome."
    if min(len(good), len(bad)) < GROUP_ENOUGH:
        return None, f"No window is proposed from fewer than {GROUP_ENOUGH} batches of each kind."
    found = [one for one in comparisons if one.name == "working_c"]
    if not found or found[0].chance > CHANCE_MOST:
        return None, "The working temperature did not separate them, so the window stays as it is."
    lowest, _, highest = found[0].good
    low_c = max(now_c[0], floor(round(lowest * 10, 6)) / 10)
    high_c = min(now_c[1], ceil(round(highest * 10, 6)) / 10)
    if high_c - low_c < NARROWEST_C - 1e-9:
        return None, (
            f"Good batches lay within {high_c - low_c:.1f} °C: narrower than "
            f"{NARROWEST_C:.1f} °C, which no hand can keep."
        )
    if (now_c[1] - now_c[0]) - (high_c - low_c) < NARROWER_BY_C - 1e-9:
        return None, "Good batches fill the whole window, so it stays as it is."
    outside = sum(not low_c <= value <= high_c for value in _values(bad, "working_c"))
    return (low_c, high_c), (
        f"The {found[0].good_count} good batches were worked between {lowest:.1f} and "
        f"{highest:.1f} °C; {outside} of {found[0].bad_count} others lay outside the window "
        "proposed."
    )
