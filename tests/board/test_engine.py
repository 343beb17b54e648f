"""From the estimate to alarms: the table, and scenarios with what a chocolatier needs to hear.

The temperatures are those of a generic milk couverture worked by common practice; the
thresholds are the profile's, so nothing here rests on them.
"""

import itertools
from collections import namedtuple
from unittest import mock

import pytest
from engine_play import (
    HANDS_S,
    HOLD,
    NO_HURRY_S,
    SEEDING,
    SUDDEN,
    THREE_STEP,
    Told,
    ahead,
    at_target,
    check,
    left,
    play,
)
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.tempering import engine as engines
from snapcurve.probe.tempering.engine import Engine
from snapcurve.probe.tempering.profile import parse
from snapcurve.probe.tempering.transitions import AGAIN_EVENTS, TABLE
from snapcurve.wire import catalogue

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
    + [(state, "remelted") for state in ("approach", "near", "inside", "too_warm", "too_cool")]
)


# --- the table ------------------------------------------------------------------------


@pytest.mark.parametrize("pair", POSSIBLE)
def test_every_pair_that_can_occur_is_known(pair):
    state, alarm = TABLE[pair]
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
        TABLE[pair]


def test_no_row_of_unknown_words():
    for state, event, following, alarm in ROWS:
        assert {state, following} <= set(catalogue.ENGINE_STATES)
        assert alarm in (*catalogue.ALARMS, None)
        assert TABLE[state, event] == (following, alarm)
        assert event in (*RISE_FALL_EVENTS, *HOLD_EVENTS, *AGAIN_EVENTS, "dwelt")
    for event in (*RISE_FALL_EVENTS, *HOLD_EVENTS, *AGAIN_EVENTS):
        assert event in engines.CONFIRM_MS


# --- scenarios ------------------------------------------------------------------------


Scenario = namedtuple("Scenario", "raw points expected patch_c", defaults=(0.0,))

# Heated by 0.1 °C/s: 45 °C at 250 s. Falling by 0.04 °C/s from 46 °C at 260 s: 30 °C, the upper
# edge of the window, at 660 s.
SEEDED = [(0, 20), (260, 46), (660, 30), (700, 29.5), (800, 29.5)]
SEEDED_HEARD = [
    ahead(250, "melt"),
    at_target(250, 0.1, "melt"),
    ahead(660, "work"),
    Told(660, 660 + NO_HURRY_S, "reached", "work"),
]

SCENARIOS = {
    "seeding": Scenario(SEEDING, SEEDED, SEEDED_HEARD),
    # A bowl of cold lumps and warm rim asks for patience, and hands need their time all the same.
    "seeding, unevenly": Scenario(SEEDING, SEEDED, SEEDED_HEARD, patch_c=0.5),
    # Cooling by 0.05 °C/s from 46 °C at 260 s: 27 °C at 640 s, where it dwells for two minutes.
    # Rewarming by 0.02 °C/s from 26.8 °C at 790 s: 29.3 °C at 915 s. That is near as soon as it is
    # the phase, and inside the window already when it is reached.
    "three-step": Scenario(
        THREE_STEP,
        [(0, 20), (260, 46), (640, 27), (650, 26.9), (790, 26.8), (940, 29.8), (1000, 29.8)],
        [
            ahead(250, "melt"),
            at_target(250, 0.1, "melt"),
            ahead(640, "cool"),
            at_target(640, 0.05, "cool"),
            Told(758, 762, "dwell_done", "cool"),
            Told(758, 762 + NO_HURRY_S, "near", "rewarm"),
            at_target(915, 0.02, "rewarm"),
            Told(910, 915 + NO_HURRY_S, "reached", "work"),
        ],
    ),
    # Left to cool by 0.3 °C a minute: 29 °C, the lower edge, at 200 s. Warmed back by 0.02 °C/s
    # from 28.5 °C at 300 s: well inside at 29.1 °C, at 330 s, and at 29.5 °C, half way to too
    # warm, at 350 s.
    "hold": Scenario(
        HOLD,
        [(0, 29.5), (100, 29.5), (300, 28.5), (355, 29.6), (420, 29.6)],
        [
            Told(0, NO_HURRY_S, "reached", "work"),
            left(200, 0.005, "too_cool"),
            Told(330, 350, "back", "work"),
        ],
    ),
    # By 0.6 °C a minute: 29 °C at 150 s.
    "hold, left to cool": Scenario(
        HOLD,
        [(0, 29.5), (100, 29.5), (200, 28.5)],
        [Told(0, NO_HURRY_S, "reached", "work"), left(150, 0.01, "too_cool")],
    ),
    # On a cold slab, by 2.4 °C a minute: 29 °C at 112.5 s. Hands would come too late: told up to a
    # quarter of a minute ahead, and before it is 0.1 °C below.
    "hold, falling fast": Scenario(
        HOLD,
        [(0, 29.5), (100, 29.5), (175, 26.5)],
        [
            Told(0, NO_HURRY_S, "reached", "work"),
            Told(112.5 - HANDS_S, 112.5 + 0.1 / 0.04, "too_cool", "work"),
        ],
    ),
    # Warmed by 0.6 °C a minute: 30 °C, the upper edge, at 150 s.
    "too warm": Scenario(
        HOLD,
        [(0, 29.5), (100, 29.5), (200, 30.5), (260, 30.5)],
        [Told(0, NO_HURRY_S, "reached", "work"), left(150, 0.01, "too_warm")],
    ),
    # From above the window to below it between two judgements.
    "through the window": Scenario(
        HOLD,
        [(0, 35), (60, 35), (60.5, 28), (100, 28)],
        [Told(60, 60 + HANDS_S, "too_cool", "work")],
    ),
    "through the window upwards": Scenario(
        HOLD,
        [(0, 25), (60, 25), (60.5, 31), (100, 31)],
        [Told(60, 60 + HANDS_S, "too_warm", "work")],
    ),
    # Not there yet is no alarm, however long.
    "waiting above": Scenario(HOLD, [(0, 40), (900, 40)], []),
    "waiting below": Scenario(HOLD, [(0, 22), (900, 22)], []),
    # A hot-air gun held too long, 0.5 °C/s: 45 °C at 12 s; 50 °C, the most this milk may get,
    # at 22 s, told before it is a degree more. Again only after it was below 49 °C.
    "too hot, once": Scenario(
        SEEDING,
        [(0, 44), (10, 44), (30, 54), (40, 49.5), (50, 51), (60, 49.2), (70, 51)],
        [
            Told(0, NO_HURRY_S, "near", "melt"),
            Told(12, 14, "reached", "melt"),
            Told(22, 24, "too_hot", "work"),
        ],
    ),
    # 50 °C once more at 46 s, by 0.25 °C/s.
    "too hot, twice": Scenario(
        SEEDING,
        [(0, 44), (10, 44), (30, 54), (40, 48.5), (50, 51), (60, 49.2), (70, 48)],
        [
            Told(0, NO_HURRY_S, "near", "melt"),
            Told(12, 14, "reached", "melt"),
            Told(22, 24, "too_hot", "work"),
            Told(46, 50, "too_hot", "work"),
        ],
    ),
    # A cold lump passes the probe, 0.8 °C below, for three seconds: the bowl is where it was.
    "a cold patch": Scenario(
        HOLD,
        [(0, 29.5), (60, 29.5), (60.5, 28.2), (63, 28.2), (63.5, 29.5), (120, 29.5)],
        [Told(0, NO_HURRY_S, "reached", "work")],
    ),
}


def heard_in(name, **more):
    scenario = SCENARIOS[name]
    return play(scenario.raw, scenario.points, sure=lambda _s: (0.0, scenario.patch_c), **more)


@pytest.mark.parametrize("name", SCENARIOS)
def test_scenario(name):
    check(heard_in(name), SCENARIOS[name].expected)


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_scenario_does_not_depend_on_the_hour(name):
    assert heard_in(name, offset_ms=(1 << 30) - 70_000) == heard_in(name)


@pytest.mark.parametrize(
    ("word", "wait_ms", "name"),
    [
        ("crossed", 2500, "seeding"),
        ("lead", 3000, "seeding, unevenly"),
        ("above", 16_000, "too warm"),
        ("below", 16_000, "hold, left to cool"),
        ("below", 16_000, "hold, falling fast"),
        ("through_above", 16_000, "through the window upwards"),
        ("through_below", 16_000, "through the window"),
    ],
)
def test_an_engine_that_waits_too_long_fails_a_scenario(monkeypatch, word, wait_ms, name):
    """Twice the wait before a target, 16 s before a window counts as left."""
    monkeypatch.setitem(engines.CONFIRM_MS, word, wait_ms)
    with pytest.raises(AssertionError):
        test_scenario(name)


@pytest.mark.parametrize(
    ("raw", "celsius", "alarm"),
    [(HOLD, 29.5, "reached"), (SEEDING, 46.0, "reached"), (HOLD, 51.0, "too_hot")],
)
def test_pause_forgets_half_seen_words(raw, celsius, alarm):
    """Dipped in for three quarters of a second each time, however often, tells nothing; for
    five seconds it does, and with the first time.
    """
    for seen_s, expected in ((0.75, []), (5, [alarm])):
        cycle_s = seen_s + 0.5
        pauses = [(n * cycle_s + seen_s, (n + 1) * cycle_s) for n in range(int(300 / cycle_s) + 1)]
        heard = play(raw, [(0, celsius), (300, celsius)], pauses)
        assert [name for _, name, _ in heard][:1] == expected
        assert all(second <= 5 for second, name, _ in heard if name == alarm)


def test_pause_keeps_what_was_told():
    heard = play(HOLD, [(0, 29.5), (60, 29.5), (60.5, 28), (300, 28)], [(100, 130)])
    assert [row[1] for row in heard] == ["reached", "too_cool"]


def test_bursts_are_judged_at_each_insertion():
    """Heated with the probe out: the threshold passed meanwhile, told once it is in."""
    heard = play(SEEDING, [(0, 38), (100, 38), (130, 45.4), (160, 45.4)], [(100, 140)])
    check(heard, [Told(140, 145, "reached", "melt")])


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
    assert {name for name, _ in alarms} == {"too_hot", "reached"}


# --- whatever comes -------------------------------------------------------------------


STEPS = st.lists(
    st.tuples(
        st.integers(250, 6000),
        st.sampled_from([20.0, 26.0, 27.0, 28.7, 28.94, 29.0, 29.5, 30.0, 30.06, 31.0, 46.0, 55.0])
        | st.floats(-60, 200),
        st.sampled_from([0.0, 0.02, -0.02, 0.3, -0.3]) | st.floats(-5, 5),
        st.booleans(),
        st.sampled_from([0.0, 0.16, 0.17, 0.30, 0.31, 1.0]) | st.floats(0, 20),
        st.sampled_from([0.0, 0.2, 0.35]) | st.floats(0, 0.5),
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


class LookedUp(dict):
    """The table, and the pairs that were looked up in it."""

    def __init__(self):
        super().__init__(TABLE)
        self.pairs = set()

    def __getitem__(self, pair):
        self.pairs.add(pair)
        return super().__getitem__(pair)


@given(st.sampled_from(PROFILES), STEPS)
def test_only_possible_pairs_occur(raw, steps):
    """Every pair a run looks up is one of those the table is checked for above."""
    engine = Engine()
    engine.start(parse(raw))
    now_ms = 0
    with mock.patch.object(engines, "TABLE", LookedUp()) as table:
        for wait_ms, celsius, rate, out, spread_c, patch_c in steps:
            now_ms += wait_ms
            if out:
                engine.pause()
            else:
                engine.step(now_ms, celsius, rate, [], spread_c, patch_c)
    assert table.pairs <= set(POSSIBLE)


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
