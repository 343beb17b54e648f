"""Whether a narrower window parts good batches from the others, tested as often as one likes.

Every window in steps of a tenth of a degree inside the present one is tried, both sides at once;
its score is the likelihood ratio of two shares of good batches, inside and outside, against one
(the scan statistic for yes or no: Kulldorff, Commun. Stat. Theory Methods 26 (1997) 1481). How
often chance scores as high is counted by dealing the outcomes out anew, the highest score of all
windows each time: so trying many windows costs nothing.

Nor does looking often. Tests take place at fixed numbers of batches only, each with a share of 5 %
that was laid down beforehand (alpha spending: Lan and DeMets, Biometrika 70 (1983) 659). A
look in between shows the last one. Nor do several couvertures: each has its part of the 5 %, by
the order in which they came. Together all tests propose a window where there is none to be
found in at most 5 % of notebooks, however long they are kept and whatever is worked.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np
from numpy.typing import NDArray

NARROWEST_C = 0.6  # a narrower window cannot be kept by hand
NARROWER_BY_C = 0.2
EACH_AT_LEAST = 3  # batches of each kind, and on each side of a window
FIRST_TEST = 10  # batches
TOGETHER = 0.05  # so often all tests together propose what is not there
_NEARLY = 1.0  # of the score: of windows that part them nearly as well, the widest is taken
# Dealt out so often at most, and no further once chance has scored as high so often: then no level
# can be met any more (sequential Monte Carlo test: Besag and Clifford, Biometrika 78 (1991) 301).
_DEALS, _AT_ONCE, _HOPELESS = 2000, 250, 30
_EDGE_C = 1e-9

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Test:
    """One test: at how many batches, how often chance scores so high, and how often it may."""

    batches: int
    chance: float
    level: float

    @property
    def found(self) -> bool:
        """Whether it found a window."""
        return self.chance <= self.level


@dataclass(frozen=True)
class Found:
    """All tests so far, and the window (°C) that parts the batches now; None if no test found one.

    ``inside`` and ``outside`` are good batches and all batches there.
    """

    tests: tuple[Test, ...]
    next_at: int
    window_c: tuple[float, float] | None
    inside: tuple[int, int] = (0, 0)
    outside: tuple[int, int] = (0, 0)


def test_sizes() -> Iterator[int]:
    """At how many batches there is a test: 10, 14, 20, 28, 40, 57, 80, 113, ..."""
    half_doublings = 0
    while True:
        yield round(FIRST_TEST * 2 ** (half_doublings / 2))
        half_doublings += 1


def spent(batches: int) -> float:
    """The share of all that is spent up to the test at so many batches."""
    return TOGETHER * (1 - 8 / batches) if batches >= FIRST_TEST else 0.0


def part_of(place: int) -> float:
    """The part of the 5 % for the couverture that came as number ``place`` (from 1): a half, a
    sixth, a twelfth, ...; however many there are, their sum is below 1."""
    return 1 / (place * (place + 1))


def find_window(
    values_c: Sequence[float],
    good: Sequence[bool],
    window_c: tuple[float, float],
    place: int = 1,
) -> Found:
    """What the batches, oldest first, say of windows inside ``window_c`` (°C).

    ``values_c`` are their working temperatures; batches that were worked outside the window say
    nothing of a narrower one and are left out. ``place``: as which of the notebook's couvertures
    this one came, from 1.
    """
    low_c, high_c = window_c
    kept = [
        (value, one)
        for value, one in zip(values_c, good, strict=True)
        if low_c - _EDGE_C <= value <= high_c + _EDGE_C
    ]
    values = np.array([value for value, _ in kept])
    labels = np.array([one for _, one in kept], int)
    before, tests = 0.0, []
    for size in takewhile(lambda size: size <= len(kept), test_sizes()):
        level, before = part_of(place) * (spent(size) - before), spent(size)
        tests.append(Test(size, _chance(values[:size], labels[:size], window_c), level))
    next_at = next(size for size in test_sizes() if size > len(kept))
    if not any(test.found for test in tests):
        return Found(tuple(tests), next_at, None)
    windows = _Windows(values, window_c)
    best = windows.best(labels)
    if best is None:  # later batches lie so that no window has enough on both sides
        return Found(tuple(tests), next_at, None)
    inside = windows.inside[:, best].astype(bool)
    return Found(
        tuple(tests),
        next_at,
        windows.edges_c[best],
        (int(labels[inside].sum()), int(inside.sum())),
        (int(labels[~inside].sum()), int((~inside).sum())),
    )


def _chance(values: Floats, labels: Whole, window_c: tuple[float, float]) -> float:
    if min(labels.sum(), len(labels) - labels.sum()) < EACH_AT_LEAST:
        return 1.0
    windows = _Windows(values, window_c)
    if not windows.edges_c:
        return 1.0
    own = windows.scores(labels[np.newaxis]).max()
    # The same batches always get the same answer.
    chance = np.random.default_rng(len(labels))
    dealt = as_high = 0
    while dealt < _DEALS and as_high < _HOPELESS:
        deals = chance.permuted(np.tile(labels, (_AT_ONCE, 1)), axis=1)
        as_high += int((windows.scores(deals).max(axis=1) >= own - 1e-9).sum())
        dealt += _AT_ONCE
    return (1 + as_high) / (1 + dealt)


class _Windows:
    """All windows to be tried on batches of these temperatures.

    ``edges_c`` are their edges, ``inside`` which batches lie in which, one row a batch.
    """

    def __init__(self, values: Floats, window_c: tuple[float, float]):
        low, high = (round(edge_c * 10) for edge_c in window_c)
        narrowest, widest = round(NARROWEST_C * 10), high - low - round(NARROWER_BY_C * 10)
        self.edges_c: list[tuple[float, float]] = []
        columns = []
        for first in range(low, high + 1):
            for last in range(first + narrowest, min(first + widest, high) + 1):
                column = (values >= first / 10 - _EDGE_C) & (values <= last / 10 + _EDGE_C)
                if min(column.sum(), len(values) - column.sum()) >= EACH_AT_LEAST:
                    self.edges_c.append((first / 10, last / 10))
                    columns.append(column)
        self.inside = np.array(columns, int).reshape(len(columns), len(values)).T
        self._sizes = self.inside.sum(axis=0)
        counts = np.arange(len(values) + 1)
        self._logs = counts * np.log(np.maximum(counts, 1))  # n ln n

    def scores(self, labels: Whole) -> Floats:
        """Log likelihood ratio of each window, one row a row of labels; 0 where there are fewer
        good ones inside than outside."""
        logs, sizes, all_good = self._logs, self._sizes, labels.sum(axis=1, keepdims=True)
        count = labels.shape[1]
        # As floats, for which there is fast arithmetic; whole numbers so small stay exact.
        good_in = (labels.astype(float) @ self.inside.astype(float)).astype(int)
        good_out = all_good - good_in
        score = (
            logs[good_in] + logs[sizes - good_in] - logs[sizes]
            + logs[good_out] + logs[count - sizes - good_out] - logs[count - sizes]
            - logs[all_good] - logs[count - all_good] + logs[count]
        )  # fmt: skip
        better = good_in * (count - sizes) > good_out * sizes
        return np.where(better, score, 0.0)

    def best(self, labels: Whole) -> int | None:
        """The widest window of those that part them nearly as well as the best one."""
        if not self.edges_c:
            return None
        scores = self.scores(labels[np.newaxis])[0]
        if not scores.max() > 0:
            return None

        near = np.flatnonzero(scores >= max(scores.max() - _NEARLY, 1e-9))
        widths = [round(high_c - low_c, 6) for low_c, high_c in self.edges_c]
        return max(map(int, near), key=lambda place: (widths[place], scores[place]))
