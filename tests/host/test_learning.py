"""What separated good batches: ranks against scipy, warnings, and a window only proposed."""

import itertools
import random
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import chi2_contingency, mannwhitneyu, permutation_test, rankdata

from snapcurve.analysis import window_test
from snapcurve.analysis.filed_outcomes import place_of
from snapcurve.analysis.lessons import TrayOutcome, chance_of_split, lesson_lines, pairs_higher
from snapcurve.analysis.lessons import learn as learn_in
from snapcurve.analysis.outcome_file import NotedOutcome, read_outcomes
from snapcurve.analysis.window_test import find_window
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import PLAIN
from tests.benchmarks.learn import TRUTHS, false_in_a_notebook, false_share, power

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


def parted(count=10):
    """Good batches in the middle of the window, others on both sides of it, in mixed order."""
    good = [tray(f"{2 * n:03}", 30.6 + 0.4 * n / count, True) for n in range(2 * count)]
    low = [tray(f"{4 * n + 1:03}", 30.0 + 0.4 * n / count, False) for n in range(count)]
    high = [tray(f"{4 * n + 3:03}", 31.7 + 0.3 * n / count, False) for n in range(count)]
    return good + low + high


def test_a_window_with_both_sides_is_proposed_where_the_temperature_parted_them():
    lesson = learn(parted(), NAME, WINDOW)
    assert (lesson.good, lesson.bad, lesson.warning) == (20, 20, "")
    assert lesson.window_c == pytest.approx((30.4, 31.6), abs=0.05)
    assert "20 of 20 batches turned out well, outside 0 of 20" in lesson.why
    # The rank test is blind to it: the others lie on both sides.
    assert lesson.comparisons[0].chance > 0.5
    assert [test.batches for test in lesson.tests] == [10, 14, 20, 28, 40]
    assert lesson.tests[-1].found


def test_the_proposal_never_leaves_the_window_and_is_never_too_narrow():
    outside = [tray(f"9{n}", 29.0 + 0.01 * n, False) for n in range(40)]
    lesson = learn([*parted(), *outside], NAME, WINDOW)
    assert lesson.window_c == learn(parted(), NAME, WINDOW).window_c
    assert lesson.tests[-1].batches == 40  # those below the window say nothing of a narrower one
    narrow = [tray(f"{2 * n:03}", 30.9 + 0.005 * n, True) for n in range(30)]
    narrow += [tray(f"{2 * n + 1:03}", 30.0 + 0.8 * n / 30, False) for n in range(30)]
    found = learn(narrow, NAME, (30.0, 31.2)).window_c
    assert found is not None
    assert 30.0 <= found[0] < found[1] <= 31.2
    assert found[1] - found[0] >= 0.599
    assert learn(narrow, NAME, (30.5, 31.2)).window_c is None  # not narrower by enough


def test_below_ten_batches_a_plain_warning_and_no_proposal():
    lesson = learn(parted()[::5], NAME, WINDOW)
    assert lesson.window_c is None
    assert "Only 8 batches" in lesson.warning
    assert "fewer than 10" in lesson.why
    assert lesson.tests == ()
    assert learn([tray("a", 31, True)], NAME, WINDOW).warning.startswith("Only 1 batch ")


def test_what_did_not_separate_them_proposes_nothing_and_says_when_the_next_test_is():
    mixed = [tray(f"x{n:02}", 30.2 + 0.1 * n, n % 2 == 0) for n in range(17)]
    lesson = learn(mixed, NAME, WINDOW)
    assert lesson.window_c is None
    assert "tests at 10, 14 batches" in lesson.why
    assert "The next is at 20; to look more often changes nothing." in lesson.why


def test_most_batches_and_not_the_extremes_stand_in_the_table():
    """Quantiles as numpy works them out: 10, 50 and 90 % of 0 to 10 are 1, 5 and 9."""
    values = [tray(f"g{n:02}", 30 + n / 10, True) for n in range(11)]
    lesson = learn([*values, tray("z", 31.0, False)], NAME, WINDOW)
    assert lesson.comparisons[0].good == pytest.approx((30.1, 30.5, 30.9))
    assert "30.50 (30.10 to 30.90), 11" in "\n".join(lesson_lines(lesson, PLAIN))


# --- the test behind the proposal ---------------------------------------------------------


def test_the_score_is_half_the_g_statistic_of_the_four_fields():
    """Oracle: scipy.stats.chi2_contingency, log-likelihood ratio without correction."""
    chance = np.random.default_rng(4)
    values, labels = chance.uniform(30, 32, 30), chance.integers(0, 2, 30)
    windows = window_test._Windows(values, WINDOW)
    scores = windows.scores(labels[np.newaxis])[0]
    compared = 0
    for score, column in zip(scores, windows.inside.T.astype(bool), strict=True):
        fields = [
            [labels[side].sum(), side.sum() - labels[side].sum()] for side in (column, ~column)
        ]
        better = fields[0][0] / column.sum() > fields[1][0] / (~column).sum()
        oracle = chi2_contingency(fields, correction=False, lambda_="log-likelihood")
        assert score == pytest.approx(oracle.statistic / 2 if better else 0.0, abs=1e-9)
        compared += better
    assert compared > 20


def test_its_chance_is_that_of_all_ways_to_deal_the_outcomes_out():
    """Against every one of the (10 choose 4) ways; 2000 are drawn."""
    values = np.array([30.1, 30.3, 30.4, 30.7, 30.9, 31.0, 31.1, 31.5, 31.7, 31.9])
    labels = np.array([0, 0, 0, 1, 1, 1, 1, 0, 0, 0])
    windows = window_test._Windows(values, WINDOW)
    deals = np.zeros((210, 10), int)
    for row, chosen in zip(deals, itertools.combinations(range(10), 4), strict=True):
        row[list(chosen)] = 1
    own = windows.scores(labels[np.newaxis]).max()
    exact = (windows.scores(deals).max(axis=1) >= own - 1e-9).mean()
    drawn = window_test._chance(values, labels, WINDOW)
    assert drawn == pytest.approx(exact, abs=4 * (exact * (1 - exact) / 1999) ** 0.5 + 0.001)


def test_looking_is_free():
    """Whoever looks after every batch sees the very tests of one who looks once."""
    chance = random.Random(3)
    values = [chance.uniform(30, 32) for _ in range(60)]
    good = [30.5 < value < 31.5 or chance.random() < 0.3 for value in values]
    at_last = find_window(values, good, WINDOW).tests
    for count in range(0, 61, 4):
        seen = find_window(values[:count], good[:count], WINDOW).tests
        assert seen == at_last[: len(seen)]
    assert [test.batches for test in at_last] == [10, 14, 20, 28, 40, 57]


def test_all_tests_together_spend_five_percent():
    sizes = list(itertools.islice(window_test.test_sizes(), 20))
    levels = np.diff([0.0, *map(window_test.spent, sizes)])
    assert min(levels) > 0
    assert 0.049 < sum(levels) < 0.05


def test_the_parts_of_all_couvertures_are_no_more_than_the_whole():
    parts = [window_test.part_of(place) for place in range(1, 1000)]
    assert min(parts) > 0
    assert 0.99 < sum(parts) < 1


def test_a_notebook_with_several_couvertures_spends_five_percent_too():
    assert false_in_a_notebook(3, 20, seed=14) <= 0.05


def test_nothing_to_find_is_found_in_at_most_five_percent_of_notebooks():
    """160 batches, a look after each; the full numbers: ``python -m tests.benchmarks learn``."""
    assert false_share("evenly", 0.7, 40, seed=11) <= 0.05
    assert false_share("in steps", 0.5, 40, seed=12) <= 0.05


def test_what_is_there_is_found_where_it_is():
    for truth in ("good 30.5 to 31.5, 95 against 40 %", "good below 31.2, 95 against 40 %"):
        by_size, edges_off_c = power(TRUTHS[truth], 10, seed=13)
        assert by_size[57] >= 0.8
        assert max(edges_off_c) <= 0.11


def test_one_kind_alone_proposes_nothing():
    lesson = learn([tray(f"g{n}", 31, True) for n in range(12)], NAME, WINDOW)
    assert lesson.window_c is None
    assert lesson.comparisons == ()


def test_what_is_not_known_is_left_out():
    batches = [*parted(), tray("u", 31, None), tray("n", None, True)]
    other = TrayOutcome("o", "Other", 35.0, 0, 1, 1, NotedOutcome(True, True, None))
    lesson = learn([*batches, other], NAME, WINDOW)
    assert (lesson.good, lesson.bad, lesson.unknown) == (21, 20, 1)
    assert lesson.comparisons[0].good_count == 20


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


def test_couvertures_have_their_place_by_the_order_in_which_they_were_filed():
    def row(number, name, rehearsal=False, method="seeding"):
        return SimpleNamespace(
            id=number, code=f"c{number}", couverture=name, rehearsal=rehearsal, method=method
        )

    rows = [row(1, "cup", method="cup"), row(2, "played", rehearsal=True), row(3, "milk"),
            row(4, "dark"), row(5, "milk"), row(6, "white")]  # fmt: skip
    book = SimpleNamespace(batches=lambda: rows[::-1])  # newest first, as a notebook lists them
    noted = {f"c{number}": NotedOutcome(True, True, None) for number in (1, 2, 4, 5)}
    assert place_of(book, "dark", noted, False) == 1
    assert place_of(book, "milk", noted, False) == 2  # the first of which an outcome is known
    assert place_of(book, "dark", noted, True) == 2
    assert place_of(book, "white", noted, False) == 3  # nothing known yet
