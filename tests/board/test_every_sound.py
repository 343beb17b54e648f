"""Every sound of the catalogue in every state of the machine, as it is heard at the bench.

What is wanted comes from README.md and from the bowl: a sound that README calls repeating repeats
while its cause is there and no longer, every other is heard once. The states are reached by real
courses of a bowl.
"""

from itertools import pairwise

import pytest
from app_rig import AppRig, course
from board_fakes import MELT, Beeper, Clock, profile_bytes, request
from engine_play import HOLD, SEEDING, THREE_STEP, play
from hypothesis import given
from hypothesis import strategies as st
from listener import Listener, told

from snapcurve.probe import sounds
from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.probe.sounder import Sounder
from snapcurve.wire import catalogue

NAMES = sounds.names()
OPEN = catalogue.fault_bit("open")
LIGHT_ALONE = {"probe_in", "probe_out", "recording"}
# What each row of the table in README.md is called in the catalogue.
ROWS = dict(
    zip(
        (
            "near", "reached", "too_hot", "temper_lost", "too_warm", "too_cool", "back",
            "test_early", "test_due",
        ),
        told(),
        strict=True,
    )
)  # fmt: skip
# These are about the board itself; `snapcurve sounds` says that they repeat.
OWN = {"probe_fault", "unreadable"}
REPEATING = {name for name, row in ROWS.items() if told()[row][1]} | OWN


def alone(name):
    """How a sound is heard in a quiet room."""
    clock = Clock()
    beeper = Beeper(clock.now)
    listener = Listener(beeper, clock.now)
    sounder = Sounder(beeper)
    sounder.play(0, name, True)
    for clock.ms in range(0, 4000, 20):
        sounder.step(clock.ms)
    return listener.heard()


WORDS = {alone(name)[0][1]: name for name in NAMES}


def test_no_two_are_heard_alike():
    assert sorted(WORDS.values()) == sorted(NAMES)


@pytest.mark.parametrize("name", ROWS)
def test_it_is_heard_as_the_readme_says(name):
    words, _ = told()[ROWS[name]]
    [(_, heard)] = alone(name)
    plain = [tuple(word for word in row if word != "pause") for row, _ in told().values()]
    if "pause" not in words and plain.count(words) == 1:
        heard = tuple(word for word in heard if word != "pause")
    assert heard == words


@pytest.mark.parametrize("name", ROWS)
def test_board_and_readme_give_it_one_meaning(name):
    first = ROWS[name].replace("the test blade", "the blade").split()
    assert set(MEANINGS[name].replace(",", "").replace(":", "").split()) & set(first[:4])


# --- each sound in each state ---------------------------------------------------------

LONG_COOL = ("cool", "fall", 2700, 0, 0, 20, 3600)
SHORT_COOL = ("cool", "fall", 2700, 0, 0, 20, 0)
REWARM = ("rewarm", "rise", 2930, 0, 0, 20, 0)
WORKS = ("work", "hold", 3330, 2900, 3000, 20, 0)  # the temper goes above 33.3 °C
STEPS = profile_bytes(MELT, SHORT_COOL, REWARM, WORKS, method="three-step")
DWELLS = profile_bytes(MELT, LONG_COOL, REWARM, WORKS, method="three-step")
SEEDS = profile_bytes(MELT, WORKS)
HOLDS = profile_bytes(WORKS, method="hold")
ENDS = profile_bytes(MELT, method="coating")
READY_S = 190  # by then the state is reached
ONCE_S, TWICE_S = 4.5, 20  # a sound is over in that, or has come twice
WALK_S = 7 * len(NAMES)
# The profile, the bowl's way into the state, and what then has a cause.
STATES = {
    "melt": (STEPS, [(60, "in", 42)], set()),
    "cool": (STEPS, [(60, "in", 46), (60, "to", 33)], set()),
    "dwell": (DWELLS, [(60, "in", 46), (60, "to", 26.9)], set()),
    "rewarm": (STEPS, [(60, "in", 46), (60, "to", 26.9), (30, "to", 27.6)], set()),
    "work": (SEEDS, [(60, "in", 46), (60, "to", 33)], set()),
    "inside": (HOLDS, [(60, "in", 29.5)], set()),
    "too warm": (HOLDS, [(60, "in", 29.5), (30, "to", 31.5)], {"too_warm"}),
    "too cool": (HOLDS, [(60, "in", 29.5), (30, "to", 28)], {"too_cool"}),
    "lost": (HOLDS, [(60, "in", 29.5), (30, "to", 37)], {"temper_lost"}),
    "hot in the melt": (SEEDS, [(60, "in", 46), (60, "to", 51.5)], {"too_hot"}),
    "hot at work": (HOLDS, [(60, "in", 29.5), (60, "to", 51.5)], {"too_hot", "temper_lost"}),
    "done": (ENDS, [(60, "in", 46)], set()),
    "done and hot": (ENDS, [(60, "in", 46), (60, "to", 51.5)], {"too_hot"}),
    "no couverture": (None, [(60, "in", 46)], set()),
}


def rig_in(folder, state, *legs, **options):
    """The app in ``state`` at READY_S, and a listener beside it; ``legs`` follow at 200 s."""
    profile, way, _ = STATES[state]
    way = [(10, "out"), *way]
    stays = 200 - sum(leg[0] for leg in way)
    rig = AppRig(folder, course(*way, (stays, "to", way[-1][2]), *legs), profile, **options)
    listener = Listener(rig.parts.beeper, rig.parts.clock.now)
    rig.run(READY_S * 1000)
    assert rig.app.recorder.running
    rig.bowl_c = way[-1][2]
    return rig, listener


def walk(rig, listener, causes, where):
    """Each sound in turn, in a silence, as if something had just called for it."""
    clock, called = rig.parts.clock, []
    for name in NAMES:
        quiet_ms = 0
        while quiet_ms < 500:  # of a sound that repeats
            rig.run(clock.ms + 50)
            quiet_ms = 0 if rig.parts.beeper.hz else quiet_ms + 50
        called.append(clock.ms)
        if name in catalogue.ALARMS:
            rig.app.batch.alarm(clock.ms, name)
        else:
            rig.app.sounder.play(clock.ms, name)
        rig.run(clock.ms + int(1000 * (TWICE_S if name in causes else ONCE_S)))
    all_heard = listener.heard(called[0], clock.ms - 2000)
    for name, from_ms, to_ms in zip(NAMES, called, [*called[1:], clock.ms], strict=True):
        sounded = [(ms, words) for ms, words in all_heard if from_ms <= ms < to_ms]
        heard = [WORDS.get(words, words) for _, words in sounded]
        told = (*where, name, heard)
        if name in causes:
            assert heard[0] == name, told
            assert heard.count(name) >= 2, told
        elif name in REPEATING:
            # Cut off as soon as nothing calls for it: hardly a pulse.
            assert name not in heard, told
            if sounded and sounded[0][0] == from_ms:
                assert heard.pop(0) == ("tick",), told
        elif name in LIGHT_ALONE:
            assert name not in heard, told
        else:
            assert heard[0] == name, told
            assert heard.count(name) == 1, told
        assert {*heard} <= {name, *causes}, told


PRESSED = [state for state in STATES if STATES[state][2] or state in ("melt", "inside")]


@pytest.mark.parametrize(
    ("state", "pressed"),
    [(state, False) for state in STATES] + [(state, True) for state in PRESSED],
)
def test_each_sound_in_each_state(tmp_path, state, pressed):
    """With the probe in; silenced, or a blade dipped and answered; out; without a reading."""
    causes = STATES[state][2]
    out_s = 200 + WALK_S + 10
    fault_s = out_s + 30 + WALK_S
    rig, listener = rig_in(
        tmp_path, state, (WALK_S + 10, "to", STATES[state][1][-1][2]), (WALK_S * 3, "out"),
        faults=[(fault_s * 1000, fault_s * 1000 + 600_000, OPEN)],
    )  # fmt: skip
    if pressed:
        # In a silence of the board it means a blade, and that is answered at once.
        rig.parts.press(200)
        rig.run(195_000)
        rig.parts.stream.inbox += request("mark", 1, "passed", 0)
        rig.run(200_000)
        assert listener.heard(198_000) == []
    rig.run(200_000)
    walk(rig, listener, causes, (state, "in"))
    if pressed:
        return
    rig.run((out_s + 30) * 1000)
    assert rig.app.batch.estimate.place == "air"
    walk(rig, listener, set(), (state, "out"))
    rig.run((fault_s + 5) * 1000)
    walk(rig, listener, {"probe_fault"}, (state, "fault"))


def test_each_sound_while_nothing_is_recorded(tmp_path):
    """Ended with the button: whatever the bowl does, it is nobody's batch."""
    rig, listener = rig_in(
        tmp_path, "too cool", (60, "to", 52), (WALK_S + 60, "to", 52), presses=[(191_000, 194_000)]
    )
    rig.run(330_000)
    assert not rig.app.recorder.running
    assert listener.heard(200_000) == []
    walk(rig, listener, set(), ("not recording",))


# --- each cause ends ------------------------------------------------------------------

QUIET_S = 20  # the way out is seen within that
MENDED_C = {
    "too warm": 29.5,
    "too cool": 29.5,
    "lost": 29.5,
    "hot in the melt": 44,
    "hot at work": 29.5,
    "done and hot": 44,
}


def repeats(listener, from_s, to_s):
    """Which sounds that repeat were heard, and nothing of the others."""
    heard = [WORDS.get(words) for _, words in listener.heard(from_s * 1000, to_s * 1000)]
    return {name for name in heard if name in REPEATING}


@pytest.mark.parametrize("state", MENDED_C)
@pytest.mark.parametrize("end", ["mended", "out", "fault", "pressed", "ended"])
def test_an_urgent_sound_ends_with_its_cause(tmp_path, state, end):
    stays_c, causes = STATES[state][1][-1][2], STATES[state][2]
    legs = {"mended": [(60, "to", MENDED_C[state]), (200, "to", MENDED_C[state])]}
    legs["out"] = [(300, "out")]
    faults = [(200_000, 600_000, OPEN)] if end == "fault" else []
    presses = {"pressed": [(201_000, 201_200)], "ended": [(200_000, 203_000)]}.get(end, [])
    rig, listener = rig_in(
        tmp_path, state, *legs.get(end, [(300, "to", stays_c)]), faults=faults, presses=presses
    )
    assert repeats(listener, 145, READY_S) >= causes
    rig.run(400_000)
    from_s = {"mended": 290, "out": 200 + QUIET_S}.get(end, 205)
    wanted = {"probe_fault"} if end == "fault" else set()
    assert repeats(listener, from_s, 400) == wanted


@pytest.mark.parametrize("state", ["too warm", "too cool", "lost"])
def test_by_hand_in_another_phase_the_sound_of_this_one_ends(tmp_path, state):
    way = STATES[state][1]
    STATES["seeded"] = (SEEDS, [(50, "in", 46), (50, "to", 29.5), *way[1:]], set())
    rig, listener = rig_in(tmp_path, "seeded", (300, "to", way[-1][2]))
    rig.run(205_000)
    rig.parts.stream.inbox += request("mark", 1, "back", 0)
    rig.run(320_000)
    assert repeats(listener, 207, 320) == set()


def test_a_bowl_that_was_left_on_the_bench_is_silent_in_the_end(tmp_path):
    """With the probe in it and nobody there, it cools to the room and stays."""
    room_c = 26.0
    setup = [(0, room_c), (10_000, room_c), (40_000, 28.5), (80_000, 28.5)]
    cools = [(80_000 + 60_000 * minute, room_c + (28.5 - room_c) * 0.97**minute)
             for minute in range(1, 85)]  # fmt: skip
    white = profile_bytes(("work", "hold", 3200, 2800, 2900, 20, 0), method="hold")
    rig = AppRig(tmp_path, setup + cools, white, presses=[(20_000, 20_200)])
    rig.parts.world.room_c = room_c
    listener = Listener(rig.parts.beeper, rig.parts.clock.now)
    rig.run(85 * 60_000)
    assert repeats(listener, 80, 30 * 60) == {"too_cool"}
    assert repeats(listener, 75 * 60, 85 * 60) == set()


# --- what may follow what -------------------------------------------------------------

WINDOW = ("too_warm", "too_cool")


def check_order(heard):
    """What nobody at the bench could make sense of: "back" without having been called away, the
    same alarm twice with nothing between, a second "nearly there" before it was reached."""
    left, near, reached = "", set(), set()
    for what, phase in heard:
        if what in ("next", "back by hand", "started"):
            left, near, reached = "", set(), set()
        elif what == "back":
            assert left, heard
            left = ""
        elif what in WINDOW:
            assert left != what, heard
            left = what
        elif what == "near":
            assert phase not in near, heard
            near.add(phase)
        elif what == "reached":
            assert phase not in reached or phase == "melt", heard
            reached.add(phase)
            if phase == "melt":
                left, near, reached = "", set(), set()
        elif what == "temper_lost":
            left, near, reached = "", set(), set()


COURSE = st.lists(
    st.tuples(
        st.integers(10, 240),
        st.sampled_from(
            [26.5, 27.5, 28.6, 28.9, 29.05, 29.5, 29.95, 30.1, 30.4, 33, 35, 44.8, 46]
        ),
        st.sampled_from(["", "", "", "", "out", "next", "back", "failed", "set_early", "passed"]),
    ),
    min_size=3,
    max_size=25,
)


@given(st.sampled_from([SEEDING, THREE_STEP, HOLD]), COURSE)
def test_whatever_the_bowl_does_the_order_makes_sense(raw, legs):
    points, hands, pauses, by_hand, now_s = [(0, 46.0)], {}, [], [], 0
    for seconds, celsius, what in legs:
        if what == "out":
            pauses.append((now_s, now_s + seconds))
        elif what in ("next", "back"):
            step = 1 if what == "next" else -1
            hands[now_s] = lambda engine, step=step, at=now_s: (
                engine.shift(step) and by_hand.append(at)
            )
        elif what:
            hands[now_s] = lambda engine, what=what: engine.tested(what)
        now_s += seconds
        points.append((now_s, celsius))
    failed = any(what in ("failed", "set_early") for _, _, what in legs)
    heard = [
        (second, alarm, phase) for second, alarm, phase in play(raw, points, pauses, hands=hands)
    ]
    # A key beside the time: what hands did comes before what was heard of it.
    rows = [(second, 1, alarm, phase) for second, alarm, phase in heard]
    rows += [(second, 0, "next", "") for second in by_hand]
    rows.sort(key=lambda row: row[:2])
    told_of = [row[2:] for row in rows]
    if failed:  # warmed on purpose a batch goes back without a word
        told_of = [row for row in told_of if row[0] in ("back", "next", *WINDOW)]
        for (one, _), (other, _) in pairwise(told_of):
            assert (one, other) != ("back", "back"), told_of
    else:
        check_order(told_of)
