"""A plan's minutes as ranges, held against bowls that do not know the plan's numbers.

The full numbers: ``python -m tests.benchmarks plan_times``.
"""

import pytest

from snapcurve.advice.time_ranges import minutes_words, ranges, stays_words, window_range
from tests.benchmarks.plan_times import all_timed

KINDS = {
    "seeding": {"molten", "handful", "ready to test", "stays"},
    "cold-bath": {"molten", "into the bath", "cooled", "ready to test", "stays"},
    "crystal-seed": {"molten", "crystals", "ready to test", "stays"},
    "hold": {"ready to test", "stays"},
    "coating": {"molten", "ready to test", "stays"},
}


@pytest.mark.parametrize("method", KINDS)
def test_eight_in_ten_simulated_bowls_keep_to_the_minutes(method: str) -> None:
    found = all_timed(range(7000, 7050), method)
    assert set(found) == KINDS[method]
    held = [one.held for kind in found.values() for one in kind]
    assert sum(held) >= 0.8 * len(held)
    for kind, ones in found.items():
        # 50 bowls of which 80 % hold: fewer than 68 % come in one of 40 such draws.
        assert sum(one.held for one in ones) >= 0.68 * len(ones), kind
        # A range that says nothing would hold as well.
        assert all(one.between[1] <= 5 * max(1, one.between[0]) + 8 for one in ones), kind


def test_each_threshold_gets_its_minutes_and_the_last_follows_the_one_before() -> None:
    thresholds = [("molten", 10.0), ("cooled", 20.0), ("ready to test", 22.0), ("leaves", 30.0)]
    found = ranges("cold-bath", thresholds, 8.0)
    assert found == ((7, 16), (16, 28), (18, 29), (18 + 5, 29 + 14))


def test_a_method_that_is_not_simulated_gets_the_widest() -> None:
    thresholds = [("molten", 10.0), ("on the slab", 20.0), ("ready to test", 22.0), ("left", 30.0)]
    widest = ranges("by hand", thresholds, 8.0)
    for method in KINDS:
        for (low, high), (least, most) in zip(
            ranges(method, thresholds, 8.0), widest, strict=True
        ):
            assert least <= low
            assert high <= most


def test_words_of_ranges() -> None:
    assert minutes_words((14, 22)) == "14 to 22"
    assert minutes_words((3, 3)) == "3"
    assert stays_words((2, 9)) == "2 to 9 min"
    assert stays_words((0, 5)) == "up to 5 min"
    assert stays_words((0, 1)) == "about a minute"
    assert window_range("seeding", float("inf")) is None
    assert stays_words(None) == "for hours"
