"""A batch that goes back: temper lost, warmed after a failed test, melted once more, and
phases changed by hand; and how long the window lasts."""

import itertools
import random

import numpy as np
import pytest
from board_fakes import COOL, MELT, REWARM, WORK, profile_bytes
from engine_play import AT_TARGET_C, NO_HURRY_S, SUDDEN, bowl_c, play
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.tempering.engine import Engine
from snapcurve.probe.tempering.profile import parse
from snapcurve.recording.known_spans import Known
from snapcurve.recording.outside import crystals_gone_of
from snapcurve.recording.series import Series

LOST_C = 33.3
HOLDS = ("work", "hold", round(LOST_C * 100), *WORK[3:])
SEEDING = profile_bytes(MELT, HOLDS)
THREE_STEP = profile_bytes(MELT, COOL, REWARM, HOLDS, method="three-step")
HOLD = profile_bytes(HOLDS, method="hold")
HOUR_S = 3600
# Melted through, and in the window of 29 to 30 °C by 460 s.
MELTED = [(0, 44), (20, 46), (400, 30.2), (460, 29.5)]


def told(raw, points, since_s=460, **more):
    """Alarm and phase kind of what was heard from ``since_s`` on."""
    return [(alarm, kind) for now_s, alarm, kind in play(raw, points, **more) if now_s >= since_s]


def mark(result):
    return lambda engine: engine.tested(result)


# --- temper lost ----------------------------------------------------------------------


def test_warmed_until_the_seed_goes_the_temper_is_lost_once():
    """Too warm comes first; afterwards being above is no news, and the window is new."""
    points = [*MELTED, (500, 29.5), (600, 35), (700, 35), (900, 29.5), (1000, 29.5)]
    assert told(SEEDING, points) == [
        ("too_warm", "work"),
        ("temper_lost", "work"),
        ("near", "work"),
        ("reached", "work"),
    ]


def seen(points):
    """The course as the host's verdict reads it: each second of it is known."""
    seconds = range(int(points[-1][0]))
    values = Series(np.array([bowl_c(points, second) for second in seconds]))
    times = Series(np.array(seconds, float))
    return Known(times, values, values, [], 1.0, float(points[-1][0]))


@pytest.mark.parametrize("above_k", [0.4, 1.0, 2.0, 4.0])
def test_board_and_verdict_say_it_of_the_same_bowl_at_the_same_time(above_k):
    """The host's own sum over the bowl (recording/outside.py)."""
    points = [*MELTED, (500, 29.5), (560, LOST_C + above_k), (1000, LOST_C + above_k)]
    (lost_s,) = [now_s for now_s, alarm, _ in play(SEEDING, points) if alarm == "temper_lost"]
    gone = crystals_gone_of(seen(points), LOST_C, 30.0, 460)
    assert gone.at_s == pytest.approx(lost_s, abs=2)


@pytest.mark.parametrize(("above_k", "seconds"), [(0.3, 60), (0.5, 120), (2.0, 30)])
def test_a_touch_of_warmth_is_too_warm_and_no_loss(above_k, seconds):
    """A minute at a third of a kelvin above costs no batch (common practice, no source)."""
    up_s = 500 + seconds
    points = [*MELTED, (490, 29.5), (500, LOST_C + above_k), (up_s, LOST_C + above_k)]
    heard = told(SEEDING, [*points, (up_s + 10, 29.5), (up_s + 60, 29.5)])
    assert [alarm for alarm, _ in heard] == ["too_warm", "back"]


def test_two_touches_with_the_window_between_them_do_not_add_up():
    once = [(500, 29.5), (510, LOST_C + 1.5), (560, LOST_C + 1.5), (570, 29.5), (630, 29.5)]
    twice = [*once, *((second + 130, celsius) for second, celsius in once[1:])]
    assert "temper_lost" not in [alarm for alarm, _ in told(SEEDING, [*MELTED, *twice])]
    high = [*MELTED, *once[:3], (570, 31.0), (630, 31.0), (640, LOST_C + 1.5), (690, LOST_C + 1.5)]
    assert "temper_lost" in [alarm for alarm, _ in told(SEEDING, [*high, (700, 29.5)])]


def test_a_short_patch_of_warmth_is_no_loss():
    """Four and a half degrees warmer at the tip for three seconds."""
    points = [*MELTED, (500, 29.5), (500.5, 34), (503, 34), (503.5, 29.5), (560, 29.5)]
    assert told(SEEDING, points) == []


def test_in_three_steps_it_begins_again_with_cooling():
    points = [*MELTED, (640, 26.9), (800, 26.9), (900, 29.6), (960, 29.6)]
    first = told(THREE_STEP, points, 0)
    assert first[-1] == ("reached", "work")
    again = [*points, (1100, 35), (1200, 35), (1500, 26.9), (1650, 26.9), (1750, 29.6)]
    heard = told(THREE_STEP, [*again, (1800, 29.6)], 970)
    assert heard[:2] == [("too_warm", "work"), ("temper_lost", "work")]
    assert ("reached", "cool") in heard
    assert heard[-1] == ("reached", "work")


def test_hold_begins_again_with_its_window():
    points = [(0, 29.5), (60, 29.5), (120, 35), (200, 35), (300, 29.5), (360, 29.5)]
    heard = told(HOLD, points, 0)
    assert [alarm for alarm, _ in heard if alarm != "near"] == [
        "reached",
        "too_warm",
        "temper_lost",
        "reached",
    ]


@pytest.mark.parametrize("raw", [SEEDING, THREE_STEP])
def test_before_it_was_ever_worked_there_is_no_temper_to_lose(raw):
    heard = play(raw, [(0, 28), (10, 36), (400, 36), (410, 48), (600, 48), (800, 34)])
    assert "temper_lost" not in [alarm for _, alarm, _ in heard]


def test_a_profile_that_does_not_say_where_loses_none():
    raw = profile_bytes(MELT, WORK)
    assert parse(raw).phases[1].lost_c is None
    points = [*MELTED, (500, 29.5), (600, 36), (700, 36)]
    assert told(raw, points) == [("too_warm", "work")]


def test_an_unsure_estimate_does_not_say_it():
    points = [*MELTED, (500, 29.5), (600, LOST_C + 0.6), (900, LOST_C + 0.6)]
    assert ("temper_lost", "work") in told(SEEDING, points)
    heard = told(SEEDING, points, sure=lambda _s: (0.8, 0.0))
    assert ("temper_lost", "work") not in heard


# --- after a failed test --------------------------------------------------------------


WARMED = [*MELTED, (600, 29.5), (660, 31.5), (700, 31.5), (800, 29.5), (900, 29.5)]


def test_warmed_after_a_failed_test_it_goes_back_without_a_word():
    for result in ("failed", "set_early"):
        heard = told(SEEDING, WARMED, hands={520: mark(result)})
        assert [alarm for alarm, _ in heard] == ["near", "reached"]


def test_warmed_without_a_failed_test_it_is_too_warm():
    for hands in ({}, {520: mark("passed")}, {510: mark("failed"), 520: mark("passed")}):
        heard = told(SEEDING, WARMED, hands=hands)
        assert [alarm for alarm, _ in heard] == ["too_warm", "back"]


def test_it_is_made_good_once():
    """The next time it is warmed is a mistake again."""
    more = [(1000, 29.5), (1060, 31.5), (1100, 31.5), (1200, 29.5), (1300, 29.5)]
    heard = told(SEEDING, [*WARMED, *more], 950, hands={520: mark("failed")})
    assert [alarm for alarm, _ in heard] == ["too_warm", "back"]


def test_too_cool_still_sounds_after_a_failed_test():
    points = [*MELTED, (600, 29.5), (700, 28), (800, 28)]
    assert told(SEEDING, points, hands={520: mark("failed")}) == [("too_cool", "work")]


def test_told_of_it_when_it_is_too_warm_already():
    heard = told(SEEDING, WARMED, hands={690: mark("failed")})
    assert [alarm for alarm, _ in heard] == ["too_warm", "near", "reached"]


@pytest.mark.parametrize(("result", "phase"), [("failed", "cool"), ("set_early", "work")])
def test_in_three_steps_new_crystals_need_the_low_point(result, phase):
    kinds = []
    points = [*MELTED, (640, 26.9), (800, 26.9), (900, 29.6), (960, 29.6), (1000, 31), (1040, 31)]
    play(
        THREE_STEP,
        points,
        hands={960: mark(result)},
        seen=lambda _s, engine: kinds.append((engine.phase_kind(), engine.state)),
    )
    assert kinds[-1] == (phase, "approach")


# --- melted once more -----------------------------------------------------------------


def test_melted_through_once_more_it_is_told_and_cooling_begins_again():
    points = [*MELTED, (500, 29.5), (700, 46), (1100, 30.1), (1200, 29.5), (1300, 29.5)]
    heard = told(SEEDING, points)
    assert heard == [
        ("too_warm", "work"),
        ("temper_lost", "work"),
        ("reached", "melt"),
        ("near", "work"),
        ("reached", "work"),
    ]
    (melted_s,) = [t for t, alarm, kind in play(SEEDING, points)[3:] if kind == "melt"]
    assert bowl_c(points, melted_s) == pytest.approx(45.0, abs=AT_TARGET_C)


def test_the_first_melt_is_told_once():
    heard = told(SEEDING, [(0, 44), (20, 46), (300, 46), (600, 46)], 0)
    assert heard == [("near", "melt"), ("reached", "melt")]


def test_melted_with_the_probe_out_it_is_told_on_the_next_insertion():
    points = [*MELTED, (500, 29.5), (600, 46), (700, 46)]
    heard = told(SEEDING, points, pauses=[(502, 640)])
    assert heard == [("reached", "melt")]


def test_a_probe_rinsed_in_hot_water_has_melted_nothing():
    points = [*MELTED, (500, 29.5), (501, 47), (505, 47), (506, 29.5), (560, 29.5)]
    assert told(SEEDING, points) == []


# --- by hand --------------------------------------------------------------------------


def shift(steps, answers):
    return lambda engine: answers.append(engine.shift(steps))


def test_a_phase_is_skipped_and_taken_back():
    answers, kinds = [], []
    hands = {n * 10.0: shift(step, answers) for n, step in enumerate([1, 1, 1, 1, -1, -1, -1, -1])}
    play(
        THREE_STEP,
        [(0, 22), (80, 22)],
        hands=hands,
        seen=lambda s, engine: kinds.append(engine.phase_kind()) if s % 10 == 5 else None,
    )
    assert answers == [True, True, True, False, True, True, True, False]
    assert kinds == ["cool", "rewarm", "work", "work", "rewarm", "cool", "melt", "melt"]


def test_without_a_profile_there_is_no_phase():
    engine = Engine()
    assert not engine.shift(1)
    assert not engine.shift(-1)
    engine.start(None)
    assert not engine.shift(0)


@pytest.mark.parametrize("celsius", [24.0, 40.0])
def test_after_a_skip_the_side_is_not_known(celsius):
    """Melting skipped: wherever the chocolate is, it is on its way to the window."""
    heard = told(SEEDING, [(0, celsius), (200, celsius)], 0, hands={20.0: shift(1, [])})
    assert heard == []


def test_the_melt_taken_back_is_melted_anew():
    points = [*MELTED, (500, 29.5), (700, 46), (720, 46)]
    heard = told(SEEDING, points, hands={500.0: shift(-1, [])})
    assert [alarm for alarm, _ in heard if alarm != "near"] == ["reached"]
    assert heard[-1] == ("reached", "melt")


def test_skipped_while_it_dwells():
    states = []
    points = [(0, 44), (20, 46), (400, 26.9), (440, 26.9), (450, 26.9)]
    play(
        THREE_STEP,
        points,
        hands={440.0: shift(1, [])},
        seen=lambda _s, engine: states.append((engine.phase_kind(), engine.state)),
    )
    assert ("cool", "dwell") in states
    assert states[-1][0] == "rewarm"


# --- how long the window lasts --------------------------------------------------------


def lefts(points, noise=0.0, seed=1, pauses=()):
    """Second to predicted seconds left, for the rate given with noise of ``noise`` °C/s."""
    chance, found = random.Random(seed), {}
    engine = Engine()
    engine.start(parse(HOLD))
    (start_s, start_c), (end_s, end_c) = points
    rate = (end_c - start_c) / (end_s - start_s)
    for quarter in range(start_s * 4, end_s * 4):
        now_s = quarter / 4
        if any(a <= now_s < b for a, b in pauses):
            engine.pause()
        else:
            celsius = start_c + rate * (now_s - start_s)
            engine.step(int(now_s * 1000), celsius, rate + chance.gauss(0, noise), [], 0.05)
        found[now_s] = engine.left_s
    return found


@pytest.mark.parametrize("fall_c_per_min", [0.05, 0.1, 0.3])
def test_the_time_left_is_foretold(fall_c_per_min):
    span_s = int(0.7 / fall_c_per_min * 60)
    found = lefts([(0, 29.8), (span_s, 29.1)], noise=0.002)
    for now_s in (40, span_s // 2, span_s - 5):
        true_s = (29.8 - 29.0) / (fall_c_per_min / 60) - now_s
        assert found[now_s] == pytest.approx(true_s, rel=0.25)


def test_upwards_too():
    assert lefts([(0, 29.2), (200, 29.7)])[100] == pytest.approx((30 - 29.45) / 0.0025, abs=2)


def test_nothing_is_foretold_too_soon_or_too_far():
    """Not in the first quarter of a minute, but within half a minute; and an hour at most."""
    found = lefts([(0, 29.8), (100, 29.6)])
    assert {found[s] for s in (0, 5, 15)} == {-1}
    assert found[30] > 0
    assert set(lefts([(0, 29.5), (300, 29.5)], noise=0.0001).values()) == {-1}
    for left_s in lefts([(0, 29.8), (600, 29.5)]).values():
        assert left_s < HOUR_S


def test_out_of_the_bowl_or_the_window_there_is_none():
    found = lefts([(0, 29.8), (200, 29.0)], pauses=[(100, 120)])
    assert found[99] > 0
    assert found[110] == -1
    assert found[121] > 0, "the drift is known from before"
    found = lefts([(0, 29.3), (200, 28.3)])
    assert found[50] > 0
    assert found[100] == -1, "0.2 °C below its window"


# --- whatever comes -------------------------------------------------------------------


@given(
    st.sampled_from([SEEDING, THREE_STEP, HOLD]),
    st.lists(
        st.tuples(
            st.integers(250, 8000),
            st.sampled_from([20.0, 26.9, 29.5, 31.0, 33.4, 35.0, 46.0]),
            st.sampled_from([0.0, 0.3]),
            st.sampled_from(["", "", "out", "next", "back", "passed", "failed", "set_early"]),
        ),
        max_size=150,
    ),
)
def test_whatever_is_done_only_known_pairs_occur_and_the_temper_is_lost_once(raw, steps):
    engine = Engine()
    engine.start(parse(raw))
    now_ms, heard = 0, []
    for wait_ms, celsius, spread_c, what in steps:
        now_ms += wait_ms
        if what == "out":
            engine.pause()
        elif what in ("next", "back"):
            engine.shift(1 if what == "next" else -1)
        elif what:
            engine.tested(what)
        else:
            alarms = []
            engine.step(now_ms, celsius, 0.0, alarms, spread_c)
            heard += alarms
        assert -1 <= engine.left_s < HOUR_S
        assert engine.phase is not None
    # Between two losses it was in its window, or through it, anew.
    work = [alarm for alarm, kind in heard if kind == "work"]
    for one, other in itertools.pairwise(work):
        assert (one, other) != ("temper_lost", "temper_lost")


@pytest.mark.parametrize("left_s", [0, 20, 45])
def test_after_a_restart_a_dwell_goes_on_without_a_word(left_s):
    """Still there: over after what was left of it."""
    heard = play(
        SUDDEN,
        [(0, 45.5), (90, 45.5)],
        hands={0: lambda engine: engine.resume(0, "dwell", left_s)},
    )
    assert [name for _, name, _ in heard] == ["dwell_done"]
    assert left_s <= heard[0][0] <= left_s + NO_HURRY_S


def test_after_a_restart_what_was_left_meanwhile_is_told_and_dwelt_in_full():
    """Cold pieces went in while the board was off."""
    heard = play(
        SUDDEN,
        [(0, 43.9), (30, 43.9), (60, 45.5), (140, 45.5)],
        hands={0: lambda engine: engine.resume(0, "dwell", 20)},
    )
    (reached_s,) = [second for second, name, _ in heard if name == "reached"]
    (done_s,) = [second for second, name, _ in heard if name == "dwell_done"]
    assert done_s - reached_s == pytest.approx(60, abs=0.6)
