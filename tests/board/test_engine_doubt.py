"""How the engine waits where the estimate is in doubt or the bowl uneven: longer than where all is
sure, and never so long that the batch pays for it.

``spread_c`` is the standard deviation of the estimate, ``patch_c`` that of the bowl's own
unevenness. Half a degree of either is much: cold lumps in a bowl with a warm rim.
"""

import itertools

import pytest
from board_fakes import COOL, MELT, profile_bytes
from engine_play import (
    AT_TARGET_C,
    HOLD,
    NO_HURRY_S,
    SEEDING,
    STILL_GOOD_C,
    Told,
    ahead,
    bowl_c,
    check,
    play,
)

LOW_C, HIGH_C = 29.0, 30.0  # the window of HOLD
RISING = (profile_bytes(MELT), [(0, 40), (200, 50)], 45.0, 1)
FALLING = (profile_bytes(COOL), [(0, 31), (200, 21)], 27.0, -1)


def second_of(heard, alarm):
    return next(second for second, name, _ in heard if name == alarm)


# --- a target -------------------------------------------------------------------------


@pytest.mark.parametrize("spread_c", [0.0, 0.1, 0.2, 0.3, 0.5, 1.0])
@pytest.mark.parametrize("patch_c", [0.0, 0.4])
@pytest.mark.parametrize("course", [RISING, FALLING])
def test_a_target_counts_when_it_is_near_enough_even_in_doubt(spread_c, patch_c, course):
    """Were the estimate off by its spread, the bowl would still be within half a degree; and no
    later than a spread beyond. Unevenness does not delay it: who heats or cools must stop at once.
    """
    raw, points, target_c, sign = course
    heard = play(raw, points, sure=lambda _s: (spread_c, patch_c))
    beyond_c = sign * (bowl_c(points, second_of(heard, "reached")) - target_c)
    assert spread_c - 0.5 < beyond_c + AT_TARGET_C
    assert beyond_c < max(AT_TARGET_C, spread_c)


@pytest.mark.parametrize("raw_and_c", [(profile_bytes(COOL), 26.5), (profile_bytes(MELT), 45.5)])
def test_no_target_counts_in_the_first_seconds_after_an_insertion(raw_and_c):
    """Put in at 40 s and there at once: a sheath that warms before its junction has the probe
    foreseen up to a degree too far, so nothing for four seconds. Had it been in for long, at once.
    """
    raw, at_c = raw_and_c
    points = [(0, 35), (40, 35), (40.25, at_c), (80, at_c)]
    for since_s, from_s, to_s in ((40, 44, 50), (-3600, 40, 43)):
        heard = play(
            raw, points, sure=lambda s, since_s=since_s: (0.0, 0.0, max(0.0, s - since_s))
        )
        assert from_s < second_of(heard, "reached") < to_s


@pytest.mark.parametrize("patch_c", [0.0, 0.5])
def test_a_heated_bowl_is_near_by_its_rate_and_leaves_time_for_the_hands(patch_c):
    """By 0.6 °C a minute from 42 °C: 45 °C at 300 s."""
    heard = play(SEEDING, [(0, 42), (400, 46)], sure=lambda _s: (0.0, patch_c))
    check(heard[:1], [ahead(300, "melt")])


def test_a_bowl_that_rises_by_bursts_only_is_near_by_its_distance():
    """Still while the probe is in it, for half a minute between two bursts: two to three degrees
    off call for shorter bursts."""
    points = [(40 * n + s, 40 + 0.25 * n) for n in range(19) for s in (0, 39)]
    heard = play(SEEDING, points, sure=lambda s: (0.0, 0.0, (s + 5) % 40))
    assert [row[1:] for row in heard] == [("near", "melt")]
    assert 42 < bowl_c(points, heard[0][0]) < 43


# --- leaving the window ---------------------------------------------------------------


def test_what_falls_back_by_itself_is_not_too_warm():
    """A little warm chocolate stirred in: half a minute above the window, on its way down. What
    stays there is told."""
    falls = [(0, 29.5), (60, 29.5), (61, 30.5), (101, 29.8), (300, 29.7)]
    assert [name for _, name, _ in play(HOLD, falls)] == ["reached"]
    stays = [(0, 29.5), (60, 29.5), (61, 30.5), (300, 30.4)]
    assert [name for _, name, _ in play(HOLD, stays)] == ["reached", "too_warm"]


def out_by_c(rate, spread_c=0.0, patch_c=0.0):
    """How far a bowl that drifts by ``rate`` (°C/s) is out of its window when that is told."""
    points = [(0, 29.5), (50, 29.5), (350, 29.5 + 300 * rate)]
    heard = play(HOLD, points, sure=lambda s: (spread_c if s > 20 else 0.0, patch_c))
    assert [name for _, name, _ in heard] == ["reached", "too_warm" if rate > 0 else "too_cool"]
    assert heard[0][0] < NO_HURRY_S
    bowl = bowl_c(points, heard[1][0])
    return max(LOW_C - bowl, bowl - HIGH_C)


@pytest.mark.parametrize("rate", [0.009, -0.009])  # °C/s: half a degree a minute
def test_doubt_and_unevenness_ask_for_patience_before_the_window_is_left(rate):
    """The more the longer; what doubt covers is not out yet. With the usual spread and an even
    bowl it is as if all were sure; a bowl uneven by half a degree costs a tenth more.
    """
    sure_c = out_by_c(rate)
    assert 0 < sure_c < STILL_GOOD_C
    assert out_by_c(rate, 0.05, 0.05) == sure_c
    for patch_c in (0.0, 0.5):
        outs_c = [out_by_c(rate, spread_c, patch_c) for spread_c in (0.0, 0.25, 0.45)]
        assert all(one < other for one, other in itertools.pairwise(outs_c))
        for spread_c, out_c in zip((0.0, 0.25, 0.45), outs_c, strict=True):
            assert spread_c - STILL_GOOD_C < out_c
            assert out_c < spread_c + STILL_GOOD_C + (0.1 if patch_c else 0.0)
    patient_c = [out_by_c(rate, 0.0, patch_c) for patch_c in (0.0, 0.3, 0.5)]
    assert all(one < other for one, other in itertools.pairwise(patient_c))


def test_what_wide_doubt_covers_is_no_leaving():
    """Out to either side by less than the spread: no word but the sure ones."""
    points = [(0, 29.5), (20, 29.5), (40, 30.3), (60, 28.7), (80, 29.5), (120, 29.5)]
    heard = play(HOLD, points, sure=lambda s: (0.0 if s < 10 else 1.0, 0.0))
    check(heard, [Told(0, NO_HURRY_S, "reached", "work")])


def test_only_a_settled_estimate_looks_ahead():
    """By 2.4 °C a minute: told before it is 0.1 °C below. One that is not settled has no rate to
    go by, and says it when the bowl is surely out.
    """
    points = [(0, 29.5), (100, 29.5), (175, 26.5)]
    for spread_c, from_c, to_c in ((0.15, 28.8, 29.3), (0.25, 28.3, 28.9)):
        heard = play(HOLD, points, sure=lambda _s, spread_c=spread_c: (spread_c, 0.0))
        assert [name for _, name, _ in heard] == ["reached", "too_cool"]
        assert from_c < bowl_c(points, heard[1][0]) < to_c


@pytest.mark.parametrize("warm", [False, True])
def test_right_after_an_insertion_a_little_outside_is_not_yet_outside(warm):
    """Put in again at 40 s: a tenth of a degree outside may be the probe's lag, and is told when
    that has worn off, within half a minute. Two tenths are told at once.
    """

    def alarm_s(outside_c, since_s=40):
        value_c = HIGH_C + outside_c if warm else LOW_C - outside_c
        points = [(0, 29.5), (40, 29.5), (40.25, value_c), (120, value_c)]
        heard = play(
            HOLD,
            points,
            sure=lambda s: (0.0, 0.0, 3600.0 if s < 40 else s - since_s),
        )
        assert [name for _, name, _ in heard] == ["reached", "too_warm" if warm else "too_cool"]
        return heard[1][0] - 40

    at_once_s = alarm_s(0.1, since_s=-3600)
    assert at_once_s + 5 < alarm_s(0.1) < 30
    assert alarm_s(0.2) == at_once_s


# --- into the window ------------------------------------------------------------------


def test_entering_the_window_waits_for_an_estimate_that_is_sure():
    """Off by 0.4 °C it may well be outside a window of one degree."""
    points = [(0, 29.5), (100, 29.5)]
    assert play(HOLD, points, sure=lambda _s: (0.4, 0.0)) == []
    heard = play(HOLD, points, sure=lambda s: (0.4 if s < 60 else 0.25, 0.0))
    check(heard, [Told(60, 60 + NO_HURRY_S, "reached", "work")])


def test_back_is_in_no_hurry_and_comes_in_time_in_an_uneven_bowl_too():
    points = [(0, 29.5), (30, 29.5), (31, 28), (90, 28), (91, 29.5), (200, 29.5)]
    for patch_c in (0.0, 0.4):
        heard = play(HOLD, points, sure=lambda _s, patch_c=patch_c: (0.0, patch_c))
        assert [name for _, name, _ in heard] == ["reached", "too_cool", "back"]
        assert 2 < heard[-1][0] - 91 < NO_HURRY_S


@pytest.mark.parametrize("warm", [False, True])
@pytest.mark.parametrize("into_c", [28.95, 29.0, 29.1, 29.5, 29.9, 30.0, 30.05])
def test_out_to_one_side_the_other_edge_is_where_it_was(warm, into_c):
    """The window is 29 to 30 °C. Warmed into it from below, however near to the other edge, it
    is back and never too warm; and the same from above.
    """
    out_c = 31.0 if warm else 28.0
    points = [(0, 29.5), (30, 29.5), (31, out_c), (90, out_c), (91, into_c), (200, into_c)]
    names = [name for _, name, _ in play(HOLD, points)]
    assert names[:2] == ["reached", "too_warm" if warm else "too_cool"]
    returned = into_c < 29.7 if warm else into_c > 29.3
    assert names[2:] == (["back"] if returned else [])
