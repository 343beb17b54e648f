"""How the engine waits where the estimate is in doubt or the bowl uneven."""

import pytest
from board_fakes import COOL, MELT, profile_bytes
from engine_play import (
    BACK_S,
    CROSSED_S,
    HOLD,
    INSIDE_S,
    LEAD_S,
    OUTSIDE_S,
    SEEDING,
    play,
)

from probe.tempering.engine import (
    _AHEAD_RATE,
    _AHEAD_S,
    _AHEAD_SD_C,
    _CLOSE_C,
    _CROSSED_C,
    _CROSSED_FROM_S,
    _DOUBT_FREE_C,
    _DOUBT_SDS,
    _EARLY_C,
    _EARLY_S,
    _ENTRY_SD_C,
    _EVEN_C,
    _OUTSIDE_C,
    _STEADY_RATE,
    _SURE_C,
    _UNEVEN_PATIENCE,
)


@pytest.mark.parametrize("spread_c", [0.0, 0.1, 0.2, 0.3, 0.5, 1.0])
@pytest.mark.parametrize("patch_c", [0.0, 0.4])
@pytest.mark.parametrize("falling", [False, True])
def test_a_crossing_counts_when_it_is_near_enough_even_in_doubt(spread_c, patch_c, falling):
    """Unevenness does not delay it: who heats or cools must stop at once."""
    if falling:
        raw, points = profile_bytes(COOL), [(0, 31), (200, 21)]
        away_c, rate = 4.0, 0.05
    else:
        raw, points = profile_bytes(MELT), [(0, 40), (200, 50)]
        away_c, rate = 5.0, 0.05
    heard = play(raw, points, sure=lambda _s: (spread_c, patch_c))
    there_c = min(_CROSSED_C, _DOUBT_FREE_C - _DOUBT_SDS * spread_c)
    told = next(second for second, name, _ in heard if name == "reached")
    assert told == pytest.approx((away_c - there_c) / rate + CROSSED_S, abs=0.5)


@pytest.mark.parametrize("falling", [False, True])
def test_no_crossing_counts_in_the_first_seconds_of_a_way_in(falling):
    """Put in at 40 s and there at once: told when the first seconds are over, and had it been
    in for long, at once.
    """
    raw, at_c = (profile_bytes(COOL), 26.5) if falling else (profile_bytes(MELT), 45.5)
    points = [(0, 35), (40, 35), (40.25, at_c), (80, at_c)]
    for since_s, wait_s in ((40, _CROSSED_FROM_S), (-3600, 0.0)):
        heard = play(
            raw, points, sure=lambda s, since_s=since_s: (0.0, 0.0, max(0.0, s - since_s))
        )
        told = next(second for second, name, _ in heard if name == "reached")
        assert told == pytest.approx(40 + wait_s + CROSSED_S, abs=0.5)


def patience(patch_c):
    return 1 + _UNEVEN_PATIENCE * max(0.0, patch_c - _EVEN_C)


@pytest.mark.parametrize("patch_c", [0.0, _EVEN_C, _EVEN_C + 0.1, _EVEN_C + 0.3])
@pytest.mark.parametrize("spread_c", [0.0, _SURE_C, _SURE_C + 0.1, _SURE_C + 0.3])
@pytest.mark.parametrize("rate", [0.009, -0.009])
def test_doubt_and_unevenness_ask_for_patience_before_the_window_is_left(spread_c, patch_c, rate):
    """0.009 °C/s: too slow for a head start either way."""
    points = [(0, 29.5), (50, 29.5), (350, 29.5 + 300 * rate)]
    heard = play(HOLD, points, sure=lambda s: (spread_c if s > 20 else 0.0, patch_c))
    assert [name for _, name, _ in heard] == ["reached", "too_warm" if rate > 0 else "too_cool"]
    assert heard[0][0] == pytest.approx(INSIDE_S * patience(patch_c), abs=0.5)
    beyond_c = _OUTSIDE_C + max(0.0, spread_c - _SURE_C)
    left_s = 50 + (0.5 + beyond_c) / abs(rate) + OUTSIDE_S * patience(patch_c)
    assert heard[1][0] == pytest.approx(left_s, abs=0.5)


def test_back_asks_for_patience_in_an_uneven_bowl():
    points = [(0, 29.5), (30, 29.5), (31, 28), (90, 28), (91, 29.5), (200, 29.5)]
    patch_c = _EVEN_C + 0.2
    heard = play(HOLD, points, sure=lambda _s: (0.0, patch_c))
    assert [name for _, name, _ in heard] == ["reached", "too_cool", "back"]
    assert heard[-1][0] == pytest.approx(91 + BACK_S * patience(patch_c), abs=0.75)


def test_entering_the_window_waits_for_an_estimate_that_is_sure():
    doubt_c = _ENTRY_SD_C + 0.01
    points = [(0, 29.5), (100, 29.5)]
    assert play(HOLD, points, sure=lambda _s: (doubt_c, 0.0)) == []
    heard = play(HOLD, points, sure=lambda s: (doubt_c if s < 60 else _ENTRY_SD_C, 0.0))
    assert heard == [(60 + INSIDE_S, "reached", "work")]


def test_what_wide_doubt_covers_is_no_leaving():
    """Out to either side by less than the spread: no word but the sure ones."""
    points = [(0, 29.5), (20, 29.5), (40, 30.3), (60, 28.7), (80, 29.5), (120, 29.5)]
    heard = play(HOLD, points, sure=lambda s: (0.0 if s < 10 else 1.0, 0.0))
    assert heard == [(INSIDE_S, "reached", "work")]


def test_only_a_settled_estimate_gets_a_head_start():
    """0.03 °C/s downwards, with a spread just small enough and just too large for it."""
    points = [(0, 29.5), (100, 29.5), (200, 26.5)]
    for spread_c, ahead_c in (
        (_AHEAD_SD_C, (0.03 - _AHEAD_RATE) * _AHEAD_S),
        (_AHEAD_SD_C + 0.001, 0.0),
    ):
        heard = play(HOLD, points, sure=lambda _s, spread_c=spread_c: (spread_c, 0.0))
        assert [name for _, name, _ in heard] == ["reached", "too_cool"]
        beyond_c = _OUTSIDE_C + max(0.0, spread_c - _SURE_C)
        left_s = 100 + (0.5 + beyond_c - ahead_c) / 0.03 + OUTSIDE_S
        assert heard[1][0] == pytest.approx(left_s, abs=0.5)


@pytest.mark.parametrize("faster", [False, True])
def test_close_to_a_rising_target_a_steady_bowl_is_near_and_a_heated_one_by_its_rate(faster):
    """The profile's lead is 20 s: a heated bowl is near that long before the target. It must
    rise by more than _CROSSED_C in that time, or it is reached before it is near.
    """
    rate = max(_STEADY_RATE, 1.5 * _CROSSED_C / 20) if faster else 0.9 * _STEADY_RATE
    length_s = 4.0 / rate
    heard = play(SEEDING, [(0, 42), (length_s, 46)])
    near_s = 3.0 / rate - 20 if faster else (3.0 - _CLOSE_C) / rate
    assert heard[0][1:] == ("near", "melt")
    assert heard[0][0] == pytest.approx(near_s + LEAD_S, abs=0.5)


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


@pytest.mark.parametrize("warm", [False, True])
@pytest.mark.parametrize("over_c", [0.02, 0.04, 0.06])
def test_right_after_an_insertion_a_little_outside_is_not_yet_outside(warm, over_c):
    """In again at 40 s and beyond _OUTSIDE_C by ``over_c``: doubted until _EARLY_C has worn off to
    that. By more than _EARLY_C the way in is no excuse.
    """

    def alarm_s(outside_c):
        value_c = 30.0 + outside_c if warm else 29.0 - outside_c
        points = [(0, 29.5), (40, 29.5), (40.25, value_c), (120, value_c)]
        heard = play(HOLD, points, sure=lambda s: (0.0, 0.0, 3600.0 if s < 40 else float(s - 40)))
        assert [name for _, name, _ in heard] == ["reached", "too_warm" if warm else "too_cool"]
        return heard[1][0] - 40

    worn_s = _EARLY_S * (1 - over_c / _EARLY_C)
    assert alarm_s(_OUTSIDE_C + over_c) == pytest.approx(worn_s + OUTSIDE_S, abs=0.5)
    assert alarm_s(_OUTSIDE_C + _EARLY_C + 0.01) == pytest.approx(OUTSIDE_S, abs=0.5)
