"""Between how many minutes the chocolate leaves its window, foretold while one watches.

With the real firmware and drawn bowls: ``python -m tests.benchmarks left``.
"""

import math
import random

import pytest

from snapcurve.analysis.window_left import WindowLeft
from snapcurve.shown.units import PLAIN

LOW_C, HIGH_C, ROOM_C = 30.0, 32.0, 21.0
EACH_S, SWING_S = 0.5, 10.0


def bowl(seed, loss_per_s, start_c=31.8, swing_c=0.05):
    """``(seconds, estimate)`` of a bowl that cools as Newton's law says, and when it leaves: the
    estimates swing around it as slowly as stirring makes them."""
    chance = random.Random(seed)
    leaves_s = math.log((start_c - ROOM_C) / (LOW_C - ROOM_C)) / loss_per_s
    keep = math.exp(-EACH_S / SWING_S)
    off_c, rows = 0.0, []
    for index in range(int(leaves_s / EACH_S)):
        at_s = index * EACH_S
        off_c = keep * off_c + chance.gauss(0.0, swing_c) * math.sqrt(1 - keep * keep)
        rows.append((at_s, ROOM_C + (start_c - ROOM_C) * math.exp(-loss_per_s * at_s) + off_c))
    return rows, leaves_s


def test_the_range_holds_for_eight_of_ten_forecasts():
    held, widths = [], []
    for seed in range(60):
        rows, leaves_s = bowl(seed, random.Random(-seed).uniform(1e-4, 5e-4))
        left = WindowLeft(LOW_C, HIGH_C)
        for index, (at_s, estimate_c) in enumerate(rows):
            left.add(at_s, estimate_c, True)
            if index and index % 120 == 0 and leaves_s - at_s > 30:
                between = left.between_min()
                if between is not None:
                    held.append(60 * between[0] <= leaves_s - at_s <= 60 * between[1])
                    widths.append((between[1] + 1) / (between[0] + 1))
    assert len(held) > 150
    assert sum(held) >= 0.8 * len(held)
    assert sorted(widths)[len(widths) // 2] < 3  # a range that says nothing would hold as well


def test_nothing_is_said_before_the_drift_is_known():
    left = WindowLeft(LOW_C, HIGH_C)
    for index in range(140):  # 70 s
        left.add(index * EACH_S, 31.0 - 0.002 * index * EACH_S, True)
        assert left.words(PLAIN) == ""
    steady = WindowLeft(LOW_C, HIGH_C)
    chance = random.Random(1)
    said = 0
    for index in range(2400):
        steady.add(index * EACH_S, 31.0 + chance.gauss(0.0, 0.05), True)
        said += steady.words(PLAIN) != ""
    assert said < 240  # a bowl that keeps its temperature


@pytest.mark.parametrize(
    ("slope_c_per_s", "start_c", "true_min"), [(-0.002, 31.5, 7.5), (0.002, 31.0, 3.33)]
)
def test_both_edges_are_foretold(slope_c_per_s, start_c, true_min):
    left = WindowLeft(LOW_C, HIGH_C)
    for index in range(600):  # five minutes
        left.add(index * EACH_S, start_c + slope_c_per_s * index * EACH_S, True)
    low, high = left.between_min()
    assert low <= true_min <= high
    assert high - low <= 4
    assert left.words(PLAIN) == f"{low} to {high} min"


def test_what_was_before_a_handful_of_pieces_or_the_way_out_does_not_count():
    for break_ in ((31.0, True), (None, False)):
        left = WindowLeft(LOW_C, HIGH_C)
        for index in range(600):
            left.add(index * EACH_S, 31.9 - 0.001 * index * EACH_S, True)
        assert left.words(PLAIN)
        for index in range(600, 660):
            left.add(index * EACH_S, *break_)
        assert left.between_s() is None


def test_the_last_minute_and_a_board_without_a_window():
    left = WindowLeft(LOW_C, HIGH_C)
    for index in range(400):
        left.add(index * EACH_S, 30.41 - 0.002 * index * EACH_S, True)
    assert left.words(PLAIN) == "under a minute"
    none = WindowLeft(-math.inf, math.inf)
    for index in range(400):
        none.add(index * EACH_S, 30.41 - 0.002 * index * EACH_S, True)
    assert none.words(PLAIN) == ""
