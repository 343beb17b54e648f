"""One sound at a time, the more important first; checked to the millisecond."""

import itertools

import pytest
from board_fakes import Beeper, Clock
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe import sounds
from snapcurve.probe.sounder import Sounder

GAP_MS = 400  # between two sounds: longer than any pause within one, so that they stay two
FIRST_PAUSE_MS, LONGEST_PAUSE_MS = 4000, 30_000  # of one that repeats; it grows by half each time

SOUNDS = [sounds.find(name) for name in sounds.names()]
URGENT = [row[0] for row in SOUNDS if row[4]]
NAMES = [row[0] for row in SOUNDS]


class Rig:
    """A sounder stepped when it wants to be."""

    def __init__(self):
        self.clock = Clock()
        self.beeper = Beeper(self.clock.now)
        self.sounder = Sounder(self.beeper)

    def play(self, name):
        self.sounder.play(self.clock.ms, name)

    def run(self, end_ms):
        while self.sounder.due_ms() < end_ms:
            self.clock.ms = max(self.clock.ms, self.sounder.due_ms())
            self.sounder.step(self.clock.ms)
        self.clock.ms = end_ms
        return self.beeper.log


def timeline(name, start_ms):
    """What the beeper does for one pattern."""
    row = sounds.find(name)
    log = []
    for sounding, length_ms in sounds.tones(row[1]):
        log.append((start_ms, row[2] if sounding else 0))
        start_ms += length_ms
    return [*log, (start_ms, 0)]


def length(name):
    return sum(ms for _, ms in sounds.tones(sounds.find(name)[1]))


def test_near_in_milliseconds():
    rig = Rig()
    rig.play("near")
    assert rig.run(5000) == [(0, 1900), (120, 0), (240, 1900), (360, 0)]
    assert rig.sounder.playing == "none"
    assert rig.sounder.due_ms() > 1 << 40  # never, and beyond any uptime


@pytest.mark.parametrize("name", NAMES)
def test_every_pattern_in_milliseconds(name):
    rig = Rig()
    rig.clock.ms = 1234
    rig.play(name)
    assert rig.sounder.playing == name
    assert rig.run(1235 + length(name)) == timeline(name, 1234)


@pytest.mark.parametrize("name", URGENT)
def test_urgent_ones_repeat_with_growing_pauses(name):
    rig = Rig()
    rig.play(name)
    log, start_ms = [], 0
    costly = name in ("probe_fault", "too_hot", "temper_lost")
    pauses_ms = (4000, 6000, 9000, 13500, 20250, 30000, 30000, 30000)
    for pause_ms in pauses_ms if costly else (15000, 22500, 30000, 30000):
        log += timeline(name, start_ms)
        start_ms += length(name) + pause_ms
    assert rig.run(start_ms) == log
    assert rig.sounder.playing == name


@pytest.mark.parametrize("name", [name for name in NAMES if name not in URGENT])
def test_the_others_sound_once(name):
    rig = Rig()
    rig.play(name)
    assert rig.run(600_000) == timeline(name, 0)


def test_silence_stays_until_a_new_alarm():
    rig = Rig()
    rig.play("too_hot")
    rig.run(300)
    assert rig.sounder.silence()
    before = len(rig.run(3_600_000))
    assert rig.beeper.hz == 0
    assert not rig.sounder.silence()
    rig.play("too_hot")
    assert len(rig.run(3_602_000)) > before


def test_silence_takes_what_waits_with_it():
    rig = Rig()
    rig.play("too_hot")
    rig.play("reached")
    rig.run(100)
    rig.sounder.silence()
    rig.run(100_000)
    assert rig.beeper.log == [(0, 2300), (100, 0)]
    rig.play("near")
    rig.run(200_000)
    assert rig.beeper.log[2:] == timeline("near", 100_000)


def test_a_lesser_sound_waits_and_then_plays():
    rig = Rig()
    rig.play("reached")
    rig.play("probe_out")
    end_ms = length("reached")
    assert rig.run(60_000) == timeline("reached", 0) + timeline("probe_out", end_ms + GAP_MS)


def test_the_more_important_of_two_that_wait_is_kept():
    rig = Rig()
    rig.play("probe_fault")
    rig.play("reached")
    rig.play("probe_out")
    rig.run(length("probe_fault") + GAP_MS + 1)
    assert rig.sounder.playing == "reached"


def test_of_two_equal_ones_that_wait_the_newer_is_kept():
    rig = Rig()
    rig.play("probe_fault")
    rig.play("test_early")
    rig.play("test_due")
    rig.run(length("probe_fault") + GAP_MS + 1)
    assert rig.sounder.playing == "test_due"


def test_an_urgent_one_that_waits_is_not_lost_to_a_tick():
    rig = Rig()
    rig.play("too_warm")
    rig.run(10)
    rig.play("too_hot")
    rig.play("probe_out")
    rig.run(600)
    rig.sounder.clear("too_hot", rig.clock.ms)
    rig.run(2000)
    assert rig.sounder.playing == "too_warm"


def test_in_the_pause_of_an_urgent_one_the_other_is_heard():
    rig = Rig()
    rig.play("too_hot")
    rig.play("reached")
    first = length("too_hot")
    second = first + GAP_MS + length("reached")
    expected = timeline("too_hot", 0) + timeline("reached", first + GAP_MS)
    third = second + FIRST_PAUSE_MS
    expected += timeline("too_hot", third)
    fourth = third + length("too_hot") + FIRST_PAUSE_MS * 3 // 2
    assert rig.run(fourth) == expected


def test_two_urgent_ones_take_turns_and_their_pause_grows():
    """A bowl that is too hot is above its window as well; it must not nag without end."""
    rig = Rig()
    rig.play("too_warm")
    rig.run(5)
    rig.play("too_hot")
    log = rig.run(600_000)
    pairs = list(itertools.pairwise(log))
    starts = [ms for (before, _), (ms, hz) in pairs if hz and ms - before > 130]
    gaps = [b - a for a, b in itertools.pairwise(starts)]
    assert max(gaps) >= LONGEST_PAUSE_MS
    assert 30 < len(starts) < 60
    both = {hz for _, hz in log}
    assert both == {0, 2300}  # both have the same pitch; the rhythm tells
    shorts = [b - a for (a, hz), (b, _) in pairs if hz]
    assert shorts.count(300) > 40
    assert shorts.count(120) > 100


@pytest.mark.parametrize("name", URGENT)
def test_a_cleared_cause_ends_the_sound_at_once(name):
    rig = Rig()
    rig.play(name)
    rig.run(60)
    rig.sounder.clear(name, rig.clock.ms)
    rig.run(100_000)
    assert rig.beeper.log == [(0, sounds.find(name)[2]), (60, 0)]
    assert rig.sounder.playing == "none"


def test_clearing_one_leaves_another_alone():
    rig = Rig()
    rig.play("too_hot")
    rig.sounder.clear("too_warm", 0)
    rig.run(100)
    assert rig.sounder.playing == "too_hot"


def test_an_urgent_one_interrupts_what_sounds():
    rig = Rig()
    rig.play("reached")
    rig.run(50)
    rig.play("too_hot")
    log = rig.run(170)
    assert log == [(0, 1900), (50, 0), (50, 2300)]


ACTIONS = st.lists(
    st.tuples(
        st.integers(0, 5000),
        st.sampled_from(["play", "play", "play", "silence", "clear", "late"]),
        st.sampled_from(NAMES),
    ),
    max_size=60,
)


@given(ACTIONS)
def test_whatever_comes_one_tone_at_a_time_and_it_ends(actions):
    rig = Rig()
    for wait_ms, action, name in actions:
        if action == "late":
            rig.clock.ms += wait_ms  # the board was busy
        else:
            rig.run(rig.clock.ms + wait_ms)
        if action == "play":
            rig.play(name)
            assert rig.sounder.playing != "none"
            assert sounds.find(rig.sounder.playing)[3] >= sounds.find(name)[3]
        elif action == "silence":
            rig.sounder.silence()
            assert rig.beeper.hz == 0
        elif action == "clear" and name in URGENT:
            rig.sounder.clear(name, rig.clock.ms)
            assert rig.sounder.playing != name
    # Between two tones of different pitch there is silence: never a slide.
    log = rig.beeper.log
    assert all(a == 0 or b == 0 for (_, a), (_, b) in itertools.pairwise(log))
    for name in URGENT:
        rig.sounder.clear(name, rig.clock.ms)
    rig.run(rig.clock.ms + 20_000)
    assert (rig.sounder.playing, rig.beeper.hz) == ("none", 0)


@given(ACTIONS)
def test_the_last_urgent_alarm_is_never_forgotten(actions):
    """Whatever else was played meanwhile, it sounds again until silenced or cleared."""
    rig = Rig()
    rig.play("probe_fault")
    for wait_ms, action, name in actions:
        rig.run(rig.clock.ms + wait_ms)
        if action == "play" and name not in URGENT:
            rig.play(name)
    start_ms = rig.clock.ms
    rig.run(start_ms + LONGEST_PAUSE_MS + 10_000)
    assert rig.sounder.playing == "probe_fault"
    assert (1900 in {hz for ms, hz in rig.beeper.log if ms >= start_ms}) or not actions


# --- the light alone ------------------------------------------------------------------


LIGHT = ("probe_in", "probe_out", "recording")  # what needs no hands


@pytest.mark.parametrize("name", LIGHT)
def test_the_way_in_and_out_is_told_by_the_light_alone(name):
    """Lifted out twice a minute a beep each time would wear out whoever stands there. The light
    follows the rhythm; asked for by name it is heard."""
    rig = Rig()
    rig.play(name)
    assert rig.run(3000) == timeline(name, 0)
    assert rig.beeper.volume == 0
    rig.sounder.play(rig.clock.ms, name, True)
    rig.run(6000)
    assert rig.beeper.volume == 3
    rig.play(name)
    rig.run(9000)
    assert rig.beeper.volume == 0


@pytest.mark.parametrize("name", [row[0] for row in SOUNDS if row[0] not in LIGHT])
def test_whatever_is_about_the_chocolate_or_the_board_is_heard(name):
    rig = Rig()
    rig.play(name)
    rig.run(100)
    assert rig.beeper.volume == 3


# --- several at once ------------------------------------------------------------------


def heard(rig, from_ms=0):
    """The names of what began to sound, in order."""
    patterns = {}
    for row in SOUNDS:
        lengths = tuple(ms for sounding, ms in sounds.tones(row[1]) if sounding)
        patterns.setdefault((row[2], lengths), row[0])
    found, group, last_ms = [], [], None
    for (ms, hz), (end_ms, _) in itertools.pairwise(rig.beeper.log):
        if not hz or ms < from_ms:
            continue
        if last_ms is not None and ms - last_ms > 360:
            found.append(group)
            group = []
        group.append((hz, end_ms - ms))
        last_ms = end_ms
    found.append(group)
    return [patterns.get((one[0][0], tuple(ms for _, ms in one))) for one in found if one]


@pytest.mark.parametrize("before_ms", [50, 700, 3000, 9000])
def test_each_urgent_one_that_was_cut_off_comes_back_within_a_breath(before_ms):
    """Three at once: a bowl too hot, the temper lost, a setting that cannot be read."""
    rig = Rig()
    rig.play("unreadable")
    rig.run(before_ms)
    rig.play("temper_lost")
    rig.run(before_ms + 60)
    rig.play("too_hot")
    rig.run(before_ms + 10_000)
    names = [name for name in heard(rig, before_ms + 60) if name]
    assert names[0] == "too_hot"
    assert set(names[:3]) == {"too_hot", "temper_lost", "unreadable"}


def test_of_three_urgent_ones_each_has_its_turn_in_each_round():
    rig = Rig()
    for name in ("too_warm", "unreadable", "too_hot"):
        rig.play(name)
    rig.run(300_000)
    names = heard(rig)
    for at in range(0, len(names) - 3, 3):
        assert set(names[at : at + 3]) == {"too_hot", "too_warm", "unreadable"}, names


@pytest.mark.parametrize("name", NAMES)
def test_with_the_light_alone_nothing_is_heard(name):
    rig = Rig()
    rig.sounder.set_volume(0, 0)
    rig.play(name)
    rig.run(100)
    assert rig.beeper.volume == 0
    assert rig.beeper.log[0][1], "the light shows it"


def test_the_second_alarm_is_heard_in_the_pause_of_the_first():
    """It does not wait half a minute for its turn."""
    rig = Rig()
    rig.play("too_hot")
    rig.run(200_000)
    while rig.beeper.hz or rig.sounder.due_ms() - rig.clock.ms < 20_000:
        rig.run(rig.clock.ms + 100)
    at_ms = rig.clock.ms
    rig.play("too_warm")
    rig.play("test_due")
    rig.run(at_ms + 9000)
    names = heard(rig, at_ms)
    assert names[0] == "too_warm"
    assert set(names[:3]) == {"too_warm", "test_due", "too_hot"}


def test_called_again_it_is_heard_with_the_one_that_sounds():
    """Not in the next round, half a minute later."""
    rig = Rig()
    rig.play("too_hot")
    rig.play("too_warm")
    rig.run(200_000)
    while heard(rig)[-1] != "too_hot" or not rig.beeper.hz:
        rig.run(rig.clock.ms + 50)
    rig.sounder.clear("too_warm", rig.clock.ms)
    rig.play("too_warm")
    at_ms = rig.clock.ms
    rig.run(at_ms + 5000)
    assert "too_warm" in heard(rig, at_ms)


@pytest.mark.parametrize("name", URGENT)
@pytest.mark.parametrize("at_ms", [60, 180, 300, 700])
def test_a_lesser_one_never_cuts_an_urgent_pattern(name, at_ms):
    rig = Rig()
    rig.play(name)
    rig.run(at_ms)
    rig.play("near")
    log = rig.run(length(name) + 1)
    assert log == timeline(name, 0)


def test_after_an_hour_without_a_hand_it_rests_and_a_new_alarm_sounds_again():
    rig = Rig()
    rig.play("too_cool")
    rig.run(3_500_000)
    assert rig.sounder.playing == "too_cool"
    rig.run(3_700_000)
    count = len(rig.beeper.log)
    rig.run(7_200_000)
    assert (len(rig.beeper.log), rig.beeper.hz) == (count, 0)
    rig.play("too_hot")
    rig.run(7_260_000)
    assert heard(rig, 7_200_000).count("too_hot") == len(heard(rig, 7_200_000)) > 4
    rig.sounder.keep(rig.clock.ms, 0)
    rig.play("too_cool")
    rig.run(7_300_000)
    assert "too_cool" in heard(rig, 7_260_000)
