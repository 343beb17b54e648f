"""What separated good batches: ranks against scipy, warnings, and a window only proposed."""

import random

import numpy as np
import pytest
from scipy.stats import mannwhitneyu, permutation_test, rankdata

from snapcurve.analysis.lessons import TrayOutcome, chance_of_split, pairs_higher
from snapcurve.analysis.lessons import learn as learn_in
from snapcurve.analysis.outcome_file import NotedOutcome, read_outcomes
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import PLAIN

NAME, WINDOW = "Halde milk", (30.0, 32.0)


def tray(code, working_c, good, **more):
    noted = NotedOutcome(**({"released": good, "gloss": good, "bloom_days": None} | more))
    return TrayOutcome(code, NAME, working_c, 0.0, 1.5, 2.0, noted)


def learn(outcomes, name, window_c):
    return learn_in(outcomes, name, window_c, PLAIN)


@pytest.mark.parametrize("seed", range(12))
def test_that_the_rank_test_is_that_of_mann_and_whitney(seed):
    """Oracle: scipy.stats.mannwhitneyu, method exact (no ties)."""
    chance = random.Random(seed)
    first = [chance.gauss(0.5, 1) for _ in range(chance.randint(1, 9))]
    second = [chance.gauss(0, 1) for _ in range(chance.randint(1, 9))]
    oracle = mannwhitneyu(first, second, method="exact")
    assert chance_of_split(first, second) == pytest.approx(oracle.pvalue)
    assert pairs_higher(first, second) == pytest.approx(
        oracle.statistic / len(first) / len(second)
    )


@pytest.mark.parametrize("seed", range(6))
def test_that_ties_are_counted_as_every_permutation_counts_them(seed):
    """Oracle: scipy.stats.permutation_test over all permutations of mid-ranks."""
    chance = random.Random(seed)
    first = [chance.randint(0, 3) for _ in range(4)]
    second = [chance.randint(0, 3) for _ in range(5)]
    ranks = rankdata([*first, *second])
    off = ranks.mean()
    oracle = permutation_test(
        (ranks[:4], ranks[4:]),
        lambda one, _: abs(np.mean(one) - off),
        permutation_type="independent",
        alternative="greater",
        n_resamples=np.inf,
    )
    assert chance_of_split(first, second) == pytest.approx(oracle.pvalue)


def parted(count=6):
    good = [tray(f"g{n}", 30.3 + 0.12 * n, True) for n in range(count)]
    bad = [tray(f"b{n}", 31.2 + 0.15 * n, False) for n in range(count)]
    return good + bad


def test_a_narrower_window_is_proposed_where_the_temperature_parted_them():
    lesson = learn(parted(), NAME, WINDOW)
    assert (lesson.good, lesson.bad, lesson.warning) == (6, 6, "")
    assert lesson.window_c == (30.3, 30.9)
    first = lesson.comparisons[0]
    assert first.name == "working_c"
    assert first.higher_share == 0.0
    assert first.chance == pytest.approx(2 / 924)  # the two extreme of (12 choose 6)
    assert "6 of 6 others lay outside" in lesson.why


def test_the_proposal_never_leaves_the_window_and_is_never_too_narrow():
    wide = [tray(f"g{n}", 29.5 + 0.25 * n, True) for n in range(6)] + parted()[6:]
    lesson = learn(wide, NAME, WINDOW)
    assert lesson.window_c is not None
    assert lesson.window_c[0] == 30.0
    same = [tray(f"g{n}", 30.52 + 0.01 * n, True) for n in range(6)] + parted()[6:]
    lesson = learn(same, NAME, WINDOW)
    assert lesson.window_c is None
    assert "no hand can keep" in lesson.why


def test_below_ten_batches_a_plain_warning_and_no_proposal():
    lesson = learn(parted(4), NAME, WINDOW)
    assert lesson.window_c is None
    assert "Only 8 batches" in lesson.warning
    assert "fewer than 10" in lesson.why
    assert learn([tray("a", 31, True)], NAME, WINDOW).warning.startswith("Only 1 batch ")


def test_what_did_not_separate_them_proposes_nothing():
    mixed = [tray(f"x{n}", 30.2 + 0.1 * n, n % 2 == 0) for n in range(14)]
    lesson = learn(mixed, NAME, WINDOW)
    assert lesson.window_c is None
    assert "did not separate" in lesson.why


def test_one_kind_alone_proposes_nothing():
    lesson = learn([tray(f"g{n}", 31, True) for n in range(12)], NAME, WINDOW)
    assert lesson.window_c is None
    assert lesson.comparisons == ()


def test_what_is_not_known_is_left_out():
    batches = [*parted(), tray("u", 31, None), tray("n", None, True)]
    other = TrayOutcome("o", "Other", 35.0, 0, 1, 1, NotedOutcome(True, True, None))
    lesson = learn([*batches, other], NAME, WINDOW)
    assert (lesson.good, lesson.bad, lesson.unknown) == (7, 6, 1)
    assert lesson.comparisons[0].good_count == 6


@pytest.mark.parametrize(
    ("released", "gloss", "bloom_days", "good"),
    [
        (True, True, None, True),
        (True, True, 2, False),
        (False, None, None, False),
        (True, False, None, False),
        (True, None, None, None),
        (None, None, None, None),
        (None, None, 7, False),
    ],
)
def test_what_counts_as_good(released, gloss, bloom_days, good):
    assert tray("a", 31, True, released=released, gloss=gloss, bloom_days=bloom_days).good is good


def test_that_chance_is_about_what_it_says():
    """Batches that differ in nothing get a proposal no more often than the limit of chance."""
    chance = random.Random(5)
    proposals = 0
    for _ in range(300):
        lot = [tray(f"{n}", chance.uniform(30, 32), n < 6) for n in range(12)]
        proposals += learn(lot, NAME, WINDOW).window_c is not None
    assert proposals / 300 <= 0.13


def test_outcomes_from_a_file(tmp_path):
    path = tmp_path / "trays.csv"
    path.write_text(
        "batch,released,gloss,bloom_days\n2026-11-24-01,yes,no,\n\n2026-11-24-02,,,7\n"
    )
    found = read_outcomes(path)
    assert found["2026-11-24-01"].gloss is False
    assert found["2026-11-24-02"].bloom_days == 7


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "line 1"),
        ("code,ok\n", "line 1"),
        (
            "batch,released,gloss\na,perhaps,no\n",
            'line 2, released: "perhaps" is no answer; write yes, no, or nothing',
        ),
        (
            "batch,released,gloss,bloom_days\na,yes,no,-3\n",
            'line 2, bloom_days: "-3" is not a number of days; write after how many',
        ),
        ("batch,released,gloss,bloom_days\na,yes,no,x\n", 'bloom_days: "x" is'),
        (
            "batch,released,gloss\na,yes,no\na,no,no\n",
            "line 3, batch: a stands here twice; leave one",
        ),
    ],
)
def test_files_that_make_no_sense(tmp_path, text, words):
    path = tmp_path / "trays.csv"
    path.write_text(text)
    with pytest.raises(SnapcurveError, match=words) as caught:
        read_outcomes(path)
    assert "trays.csv" in str(caught.value)
