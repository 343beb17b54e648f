"""From the estimate to alarms: the table, and scenarios with their expected alarms.

The temperatures are those of a generic milk couverture worked by common practice; the
thresholds are the profile's, so nothing here rests on them.
"""

import itertools
from unittest import mock

import pytest
from engine_play import (
    BACK_S,
    CROSSED_S,
    HOLD,
    HOT_S,
    INSIDE_S,
    LEAD_S,
    OUTSIDE_S,
    SEEDING,
    SUDDEN,
    THERE_C,
    THREE_STEP,
    play,
)
from hypothesis import given
from hypothesis import strategies as st

from probe.tempering import engine as engines
from probe.tempering.engine import (
    _AHEAD_RATE,
    _AHEAD_S,
    _AHEAD_SD_C,
    _ENTRY_SD_C,
    _EVEN_C,
    _OUTSIDE_C,
    _RETURN_C,
    _RETURN_PART,
    _SURE_C,
    Engine,
)
from probe.tempering.profile import parse
from probe.tempering.transitions import AGAIN_EVENTS, TABLE
from wire import catalogue

RISE_FALL_EVENTS = ("far", "lead", "crossed")
HOLD_EVENTS = ("far", "lead", "inside", "above", "below", "through_above", "through_below")
ROWS = [(*pair, *row) for pair, row in TABLE.items()]

POSSIBLE = (
    [(state, event) for state in ("approach", "near") for event in RISE_FALL_EVENTS]
    + [("dwell", "dwelt")]
    + [(state, event) for state in ("approach", "near") for event in HOLD_EVENTS]
    + [
        (state, event)
        for state in ("inside", "too_warm", "too_cool")
        for event in ("inside", "above", "below", "rewarmed", "lost")
    ]
    + [(state, "remelted") for state in ("approach", "near", "too_warm")]
)


# --- the table ------------------------------------------------------------------------


@pytest.mark.parametrize("pair", POSSIBLE)
def test_every_pair_that_can_occur_is_known(pair):
    state, alarm = engines.transition(*pair)
    assert state in catalogue.ENGINE_STATES
    assert alarm is None or alarm in catalogue.ALARMS


@pytest.mark.parametrize(
    "pair",
    [
        ("idle", "crossed"),
        ("done", "lead"),
        ("inside", "through_above"),
        ("inside", "far"),
        ("too_warm", "far"),
        ("too_cool", "far"),
        ("nonsense", "inside"),
    ],
)
def test_any_other_pair_is_an_error(pair):
    with pytest.raises(KeyError):
        engines.transition(*pair)


def test_no_row_of_unknown_words():
    for state, event, following, alarm in ROWS:
        assert {state, following} <= set(catalogue.ENGINE_STATES)
        assert alarm in (*catalogue.ALARMS, None)
        assert engines.transition(state, event) == (following, alarm)
        assert event in (*RISE_FALL_EVENTS, *HOLD_EVENTS, *AGAIN_EVENTS, "dwelt")
    for event in (*RISE_FALL_EVENTS, *HOLD_EVENTS, *AGAIN_EVENTS):
        assert event in engines.CONFIRM_MS


# --- scenarios ------------------------------------------------------------------------


SCENARIOS = {
    # Rate 0.1 °C/s: 45 °C is crossed at 250 s, told a little sooner, and "near"
    # 20 s before. Falling 0.04 °C/s from 46 °C at 260 s:
    # 20 s before 30 °C is 30.8 °C, at 640 s; the window at 660 s.
    "seeding": (
        SEEDING,
        [(0, 20), (260, 46), (660, 30), (700, 29.5), (800, 29.5)],
        [
            (250 - 20 + LEAD_S, "near", "melt"),
            ((25 - THERE_C) / 0.1 + CROSSED_S, "reached", "melt"),
            (640 + LEAD_S, "near", "work"),
            (660 + INSIDE_S, "reached", "work"),
        ],
    ),
    # Cooling to 27 at 0.05 °C/s from 46 at 260 s: near 20 s before 640 s. Two minutes of
    # dwell. Rewarming to 29.3 at 0.02 from 800 s: near as soon as it is the phase, reached
    # shortly before 915 s; inside the window already, so working begins INSIDE_S later.
    "three-step": (
        THREE_STEP,
        [(0, 20), (260, 46), (640, 27), (650, 26.9), (790, 26.8), (940, 29.8), (1000, 29.8)],
        [
            (250 - 20 + LEAD_S, "near", "melt"),
            ((25 - THERE_C) / 0.1 + CROSSED_S, "reached", "melt"),
            (620 + LEAD_S, "near", "cool"),
            (640 - THERE_C / 0.05 + CROSSED_S, "reached", "cool"),
            (760 - THERE_C / 0.05 + CROSSED_S, "dwell_done", "cool"),
            (760.25 - THERE_C / 0.05 + CROSSED_S + LEAD_S, "near", "rewarm"),
            (915 - THERE_C / 0.02 + CROSSED_S, "reached", "rewarm"),
            (915.25 - THERE_C / 0.02 + CROSSED_S + INSIDE_S, "reached", "work"),
        ],
    ),
    # Starts inside; drifts out below 29 °C at 0.005 °C/s, too slow for a head start. Warmed
    # back at 0.02 °C/s from 28.5.
    "hold": (
        HOLD,
        [(0, 29.5), (100, 29.5), (300, 28.5), (355, 29.6), (420, 29.6)],
        [
            (INSIDE_S, "reached", "work"),
            (100 + (0.5 + _OUTSIDE_C) / 0.005 + OUTSIDE_S, "too_cool", "work"),
            (300 + (0.5 + min(_RETURN_C, _RETURN_PART)) / 0.02 + BACK_S, "back", "work"),
        ],
    ),
    # At 0.03 °C/s the fall beyond _AHEAD_RATE counts _AHEAD_S ahead.
    "hold, falling fast": (
        HOLD,
        [(0, 29.5), (100, 29.5), (200, 26.5)],
        [
            (INSIDE_S, "reached", "work"),
            (
                100 + (0.5 + _OUTSIDE_C - (0.03 - _AHEAD_RATE) * _AHEAD_S) / 0.03 + OUTSIDE_S,
                "too_cool",
                "work",
            ),
        ],
    ),
    # Warmed out of the window at 0.01 °C/s: no head start upwards.
    "too warm": (
        HOLD,
        [(0, 29.5), (100, 29.5), (200, 30.5), (260, 30.5)],
        [
            (INSIDE_S, "reached", "work"),
            (100 + (0.5 + _OUTSIDE_C) / 0.01 + OUTSIDE_S, "too_warm", "work"),
        ],
    ),
    # From above the window to below it between two judgements.
    "through the window": (
        HOLD,
        [(0, 35), (60, 35), (60.5, 28), (100, 28)],
        [(60.5 + OUTSIDE_S, "too_cool", "work")],
    ),
    "through the window upwards": (
        HOLD,
        [(0, 25), (60, 25), (60.5, 31), (100, 31)],
        [(60.5 + OUTSIDE_S, "too_warm", "work")],
    ),
    # Not there yet is no alarm, however long.
    "waiting above": (HOLD, [(0, 40), (900, 40)], []),
    "waiting below": (HOLD, [(0, 22), (900, 22)], []),
    # Over 50 °C for HOT_S; again only after it was below 49.
    "too hot, once": (
        SEEDING,
        [(0, 44), (10, 44), (20, 51), (30, 49.5), (40, 51), (50, 49.2), (60, 51)],
        [
            (LEAD_S, "near", "melt"),
            (10 + (1 - THERE_C) / 0.7 + CROSSED_S, "reached", "melt"),
            (10 + 6 / 0.7 + HOT_S, "too_hot", "work"),
        ],
    ),
    "too hot, twice": (
        SEEDING,
        [(0, 44), (10, 44), (20, 51), (30, 48.5), (40, 51), (50, 49.2), (60, 48)],
        [
            (LEAD_S, "near", "melt"),
            (10 + (1 - THERE_C) / 0.7 + CROSSED_S, "reached", "melt"),
            (10 + 6 / 0.7 + HOT_S, "too_hot", "work"),
            (30 + 1.5 / 0.25 + HOT_S, "too_hot", "work"),
        ],
    ),
}


@pytest.mark.parametrize("name", SCENARIOS)
def test_scenario(name):
    raw, points, expected = SCENARIOS[name]
    heard = play(raw, points)
    assert [row[1:] for row in heard] == [row[1:] for row in expected], heard
    for (got_s, *_), (want_s, *_) in zip(heard, expected, strict=True):
        assert got_s == pytest.approx(want_s, abs=0.5), heard


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_scenario_does_not_depend_on_the_hour(name):
    raw, points, _ = SCENARIOS[name]
    assert play(raw, points, offset_ms=(1 << 30) - 70_000) == play(raw, points)


@pytest.mark.parametrize(
    ("raw", "celsius", "needs_s", "alarm"),
    [
        (HOLD, 29.5, INSIDE_S, "reached"),
        (SEEDING, 46.0, CROSSED_S, "reached"),
        (HOLD, 51.0, HOT_S, "too_hot"),
    ],
)
def test_pause_forgets_half_seen_words(raw, celsius, needs_s, alarm):
    """In each time for one reading too few: never long enough to count; one more and it is."""
    for seen_s, expected in ((needs_s, []), (needs_s + 0.25, [alarm])):
        cycle_s = seen_s + 0.5
        pauses = [(n * cycle_s + seen_s, (n + 1) * cycle_s) for n in range(int(300 / cycle_s) + 1)]
        heard = play(raw, [(0, celsius), (300, celsius)], pauses)
        assert [name for _, name, _ in heard][:1] == expected


def test_pause_keeps_what_was_told():
    heard = play(HOLD, [(0, 29.5), (60, 29.5), (60.5, 28), (300, 28)], [(100, 130)])
    assert [row[1] for row in heard] == ["reached", "too_cool"]


def test_bursts_are_judged_at_each_insertion():
    """Heated with the probe out: the threshold passed meanwhile, told once it is in."""
    heard = play(SEEDING, [(0, 38), (100, 38), (130, 45.4), (160, 45.4)], [(100, 140)])
    assert heard == [(140 + CROSSED_S, "reached", "melt")]


def test_a_window_missed_while_the_probe_was_out_is_told():
    """Melted through, then cooled too far unseen: that is too cool, not "not there yet"."""
    points = [(0, 46), (20, 46), (21, 27), (60, 27)]
    for out_s in (1.6, 10):
        heard = play(SEEDING, points, [(out_s, 30)])
        assert [row[1:] for row in heard] == [("reached", "melt"), ("too_cool", "work")]


def test_a_first_window_may_be_approached_from_the_other_side_after_an_absence():
    points = [(0, 35), (20, 35), (21, 25), (60, 25)]
    assert play(HOLD, points, [(10, 30)]) == []


def test_a_jump_of_one_estimate_is_no_alarm():
    engine = Engine()
    engine.start(parse(HOLD))
    heard = []
    for quarter in range(400):
        celsius = 35.0 if quarter % 40 == 39 else 29.5
        engine.step(quarter * 250, celsius, 0.0, heard)
    assert heard == [("reached", "work")]


def test_without_a_profile_nothing_is_said():
    engine = Engine()
    alarms = []
    engine.step(0, 99.0, 0.0, alarms)
    assert (alarms, engine.state, engine.phase_kind()) == ([], "idle", "none")


def test_a_new_start_forgets_everything():
    engine = Engine()
    engine.start(parse(HOLD))
    alarms = []
    for quarter in range(80):
        engine.step(quarter * 250, 29.5 if quarter < 40 else 55.0, 0.0, alarms)
    assert [name for name, _ in alarms] == ["reached", "too_hot", "too_warm"]
    engine.start(parse(SEEDING))
    assert (engine.state, engine.phase_kind()) == ("approach", "melt")
    del alarms[:]
    for quarter in range(80, 120):
        engine.step(quarter * 250, 55.0, 0.0, alarms)
    expected = sorted([(engines._HOT_MS, "too_hot"), (engines._CROSSED_MS, "reached")])
    assert [name for name, _ in alarms] == [name for _, name in expected]


# --- whatever comes -------------------------------------------------------------------


STEPS = st.lists(
    st.tuples(
        st.integers(250, 6000),
        st.sampled_from([20.0, 26.0, 27.0, 28.7, 28.94, 29.0, 29.5, 30.0, 30.06, 31.0, 46.0, 55.0])
        | st.floats(-60, 200),
        st.sampled_from([0.0, 0.02, -0.02, 0.3, -0.3]) | st.floats(-5, 5),
        st.booleans(),
        st.sampled_from([0.0, _SURE_C, _AHEAD_SD_C, _ENTRY_SD_C, _ENTRY_SD_C + 0.01, 1.0])
        | st.floats(0, 20),
        st.sampled_from([0.0, _EVEN_C, 0.35]) | st.floats(0, 0.5),
    ),
    max_size=120,
)


PROFILES = [SEEDING, THREE_STEP, HOLD, SUDDEN]


@given(st.sampled_from(PROFILES), STEPS)
def test_random_walks(raw, steps):
    """Nothing raises, and no window alarm comes twice without "back" or the other between."""
    engine = Engine()
    engine.start(parse(raw))
    now_ms, window = 0, []
    order = [row.kind for row in engine.profile.phases]
    for wait_ms, celsius, rate, out, spread_c, patch_c in steps:
        now_ms += wait_ms
        if out:
            engine.pause()
            continue
        alarms = []
        engine.step(now_ms, celsius, rate, alarms, spread_c, patch_c)
        assert engine.state in catalogue.ENGINE_STATES
        for alarm, kind in alarms:
            assert alarm in catalogue.ALARMS
            assert kind in (*order, "none")
            if alarm in ("too_warm", "too_cool", "back"):
                assert kind == "work"
                window.append(alarm)
    assert all(a != b for a, b in itertools.pairwise(window))
    assert window[:1] != ["back"]


@given(st.sampled_from(PROFILES), STEPS)
def test_only_possible_pairs_occur(raw, steps):
    """Every pair a run looks up is one of those the table is checked for above."""
    engine = Engine()
    engine.start(parse(raw))
    now_ms = 0
    with mock.patch.object(engines, "transition", wraps=engines.transition) as looked_up:
        for wait_ms, celsius, rate, out, spread_c, patch_c in steps:
            now_ms += wait_ms
            if out:
                engine.pause()
            else:
                engine.step(now_ms, celsius, rate, [], spread_c, patch_c)
    for call in looked_up.call_args_list:
        assert call.args in POSSIBLE


@given(st.sampled_from([SEEDING, THREE_STEP]), STEPS)
def test_phases_only_advance(raw, steps):
    engine = Engine()
    engine.start(parse(raw))
    order = [row.kind for row in engine.profile.phases]
    now_ms, at, reached = 0, 0, []
    for wait_ms, celsius, rate, _, spread_c, patch_c in steps:
        now_ms += wait_ms
        alarms = []
        engine.step(now_ms, celsius, rate, alarms, spread_c, patch_c)
        reached += [kind for alarm, kind in alarms if alarm == "reached"]
        assert order.index(engine.phase_kind()) >= at
        at = order.index(engine.phase_kind())
    assert reached == order[: len(reached)]
