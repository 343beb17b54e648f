"""The button's presses in the whole app: silence first, then what the count says; results of
dip tests, phases by hand, and the volume."""

from itertools import pairwise

import pytest
from app_rig import AppRig, course
from board_fakes import MELT, WORK, events_of, profile_bytes, request

from snapcurve.wire import catalogue

STEADY = course((10, "out"), (1500, "in", 29.5))
HOLDS = ("work", "hold", 3330, 2900, 3000, 20, 0)
SEEDING = profile_bytes(MELT, HOLDS)
HOLDING = profile_bytes(HOLDS, method="hold")
DIP_S = 100.3  # when a press at 100 s is told
DUE_S = DIP_S + 300  # and when its blade is due


def presses(second, count, gap_ms=300):
    """So many presses of 200 ms."""
    start_ms = int(second * 1000)
    return [
        (start_ms + n * (200 + gap_ms), start_ms + n * (200 + gap_ms) + 200) for n in range(count)
    ]


def pressed(tmp_path, *patterns, until_s=900, points=STEADY, **more):
    """A batch in which each of ``patterns`` (second, count) is pressed."""
    spans = [span for second, count in patterns for span in presses(second, count)]
    rig = AppRig(tmp_path, points, presses=spans, **more).run(until_s * 1000)
    rig.heard = rig.sounded()
    rig.marks = marks_of(rig)
    return rig


def marks_of(rig):
    """The marks of the batch, which ends with that."""
    rig.end()
    return [
        (catalogue.MARKS[event[2]], event[3])
        for event in events_of(rig.curve())
        if event[1] == "mark"
    ]


def heard_after(rig, second):
    """What sounded from ``second`` on in a batch of ``pressed``, before its end."""
    return [tone for tone in rig.heard if tone[0] >= second * 1000]


# --- dip test results -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("second", "count", "result"),
    [
        (404, 1, "passed"),
        (404, 2, "failed"),
        (290, 2, "set_early"),
        (DUE_S + 150, 1, "passed"),  # put aside, and looked at after the reminder
    ],
)
def test_the_blade_is_answered_for(tmp_path, second, count, result):
    """After the sound at 5 minutes one press or two; between 3 and 5 minutes two. The reminder
    at 7 minutes comes to whoever has not answered by then.
    """
    rig = pressed(tmp_path, (100, 1), (second, count), until_s=620)
    assert rig.marks == [("dip_test", "work"), (result, "work")]
    wanted = ["reached", "test_early", "test_due", "test_late"]
    if second == 290:
        wanted = wanted[:2]
    elif second == 404:
        wanted = wanted[:3]
    assert rig.names() == wanted


@pytest.mark.parametrize(
    ("second", "count"),
    [
        (200, 1),  # before the first sound: dipped anew
        (200, 2),
        (290, 1),  # after it one press is a new blade too
        (DUE_S + 240, 1),  # too late to be about that blade
        (DUE_S + 240, 2),
    ],
)
def test_any_other_time_it_is_a_new_blade(tmp_path, second, count):
    rig = pressed(tmp_path, (100, 1), (second, count), until_s=int(second) + 10)
    assert rig.marks == [("dip_test", "work")] * 2


def test_a_result_ends_the_test(tmp_path):
    rig = pressed(tmp_path, (100, 1), (404, 1), (410, 1), until_s=420)
    assert [mark for mark, _ in rig.marks] == ["dip_test", "passed", "dip_test"]


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_while_it_sounds_a_press_only_silences(tmp_path, count):
    """Nor do the presses that follow at once: the blade is not judged by mistake."""
    rig = pressed(tmp_path, (100, 1), (400.6, count), until_s=430)
    assert rig.marks == [("dip_test", "work")]
    assert heard_after(rig, 400.9 + 0.5 * count) == []
    assert rig.names() == ["reached", "test_early", "test_due"]


def test_silenced_it_can_still_be_answered(tmp_path):
    rig = pressed(tmp_path, (100, 1), (400.6, 1), (405, 2), until_s=700)
    assert [mark for mark, _ in rig.marks] == ["dip_test", "failed"]
    assert rig.names() == ["reached", "test_early", "test_due"]


def test_the_clock_of_a_dip_runs_from_the_press_and_not_from_its_pattern(tmp_path):
    rig = pressed(tmp_path, (100, 2), until_s=300)
    assert rig.when("test_early") == pytest.approx(DIP_S + 180, abs=0.3)


def test_each_has_its_own_answer_to_the_ear(tmp_path_factory):
    """One press and two are told apart by what is heard."""
    rhythms = []
    for second, count in ((404, 1), (404, 2), (150, 1), (150, 3)):
        folder = tmp_path_factory.mktemp("store")
        spans = presses(100, 1) + presses(second, count)
        rig = AppRig(folder, STEADY, profile=SEEDING, presses=spans).run(second * 1000 + 5000)
        log = [row for row in rig.parts.beeper.log if row[0] > second * 1000 + 200]
        rhythms.append([after[0] - before[0] for before, after in pairwise(log)])
    assert all(rhythms)
    assert len({tuple(rhythm) for rhythm in rhythms}) == len(rhythms)


# --- which dip ------------------------------------------------------------------------


def numbered(rig):
    """The marks of the batch with their numbers, which ends with that."""
    rig.app.batch.end(rig.parts.clock.ms, "button")
    return [
        (catalogue.MARKS[event[2]], event[5])
        for event in events_of(rig.curve(rig.app.store.rows[-1].curve))
        if event[1] == "mark"
    ]


def told(rig, mark, number=0):
    """What the board answers to a mark from the computer."""
    stream = rig.parts.stream
    rig.tokens = token = getattr(rig, "tokens", 100) + 1
    stream.inbox += request("mark", token, mark, number, sequence=token)
    rig.run(rig.parts.clock.ms + 1000)
    return next((name, values) for name, sequence, values in stream.answers() if sequence == token)


def test_dips_are_numbered_and_a_result_says_of_which(tmp_path):
    """Three blades one after the other, each answered for with the button."""
    blades = [(100, 1), (404, 2), (500, 1), (790, 2), (850, 1), (1154, 1)]
    spans = [span for second, count in blades for span in presses(second, count)]
    rig = AppRig(tmp_path, STEADY, presses=spans).run(1_200_000)
    assert numbered(rig) == [
        ("dip_test", 1),
        ("failed", 1),
        ("dip_test", 2),
        ("set_early", 2),
        ("dip_test", 3),
        ("passed", 3),
    ]


def test_the_host_gives_any_dip_its_result_and_the_newest_without_a_number(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=presses(100, 1) + presses(150, 1)).run(170_000)
    assert told(rig, "dip_test", 9)[0] == "mark_answer"  # the board numbers it, nobody else
    for mark, number in (("failed", 2), ("passed", 0), ("set_early", 1)):
        assert told(rig, mark, number)[0] == "mark_answer"
    name, values = told(rig, "passed", 4)
    assert (name, values[0], values[2]) == ("error", "bad_value", 2)
    assert numbered(rig) == [
        ("dip_test", 1),
        ("dip_test", 2),
        ("dip_test", 3),
        ("failed", 2),
        ("passed", 3),
        ("set_early", 1),
    ]


def test_the_result_of_an_earlier_dip_leaves_the_clock_of_the_newest_running(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=presses(100, 1) + presses(150, 1)).run(170_000)
    told(rig, "failed", 1)
    rig.run(460_000)
    assert rig.names() == ["reached", "test_early", "test_due"]


def test_each_recording_counts_its_own_dips(tmp_path):
    spans = [*presses(100, 1), *presses(150, 1), (200_000, 202_400), *presses(300, 1)]
    spans += presses(340, 1)
    rig = AppRig(tmp_path, STEADY, presses=spans).run(350_000)
    assert numbered(rig) == [("dip_test", 1)]


# --- urgent sounds --------------------------------------------------------------------


COOLED = course((10, "out"), (60, "in", 29.5), (60, "to", 28.0), (600, "to", 28.0))


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("second", [131.0, 134.5, 137.3])
def test_an_urgent_sound_is_silenced_first_also_in_its_pauses(tmp_path, second, count):
    rig = AppRig(tmp_path, COOLED, presses=presses(second, count)).run(int(second * 1000) - 1)
    assert rig.app.sounder.playing == "too_cool"
    rig.run(300_000)
    assert rig.app.sounder.playing == "none"
    assert rig.sounded(int(second * 1000) + 400) == []
    assert rig.names() == ["reached", "too_cool"]
    assert marks_of(rig) == []


def test_silenced_the_next_pattern_counts(tmp_path):
    rig = pressed(tmp_path, (131, 1), (134, 1), until_s=200, points=COOLED)
    assert rig.marks == [("dip_test", "work")]


def test_warmed_after_a_failed_test_an_alarm_of_before_ends(tmp_path):
    """Too warm sounds; then it is told that the test had failed: warming was meant."""
    points = course(
        (10, "out"), (60, "in", 29.5), (60, "to", 31.5), (200, "to", 31.5), (60, "to", 29.5),
        (100, "to", 29.5),
    )  # fmt: skip
    rig = AppRig(tmp_path, points, profile=HOLDING).run(200_000)
    assert rig.app.sounder.playing == "too_warm"
    rig.parts.stream.inbox += request("mark", 7, "failed", 0)
    rig.run(215_000)
    assert rig.app.sounder.playing == "none"
    rig.run(480_000)
    assert rig.names() == ["reached", "too_warm", "near", "reached"]


def test_temper_lost_sounds_until_it_is_silenced_or_reached_anew(tmp_path):
    points = course(
        (10, "out"), (60, "in", 29.5), (60, "to", 35), (200, "to", 35), (100, "to", 29.5),
        (100, "to", 29.5),
    )  # fmt: skip
    rig = AppRig(tmp_path, points, profile=HOLDING).run(300_000)
    assert rig.names() == ["reached", "too_warm", "temper_lost"]
    assert rig.app.sounder.playing == "temper_lost"
    rig.run(520_000)
    assert rig.names()[3:5] == ["near", "reached"]
    assert "temper_lost" not in (rig.app.sounder.playing, *rig.names()[3:])


# --- phases ---------------------------------------------------------------------------


def test_three_presses_go_on_and_four_go_back(tmp_path):
    rig = pressed(tmp_path, (100, 3), (110, 4), (120, 3), until_s=200, profile=SEEDING)
    assert rig.marks == [("next", "work"), ("back", "melt"), ("next", "work")]
    # In its window already: told as soon as it is asked for it, each time.
    assert rig.names() == ["reached", "reached"]
    assert 101 < rig.when("reached") < 107


def test_more_presses_mean_nothing_and_where_there_is_no_phase_nothing_is_noted(tmp_path):
    rig = pressed(tmp_path, (100, 5), (110, 8), (120, 4), until_s=200, profile=SEEDING)
    assert rig.marks == []
    assert heard_after(rig, 100) == []


def test_a_press_and_a_long_one_end_the_recording(tmp_path):
    spans = [*presses(100, 1), (100_600, 102_800)]
    rig = AppRig(tmp_path, STEADY, presses=spans).run(110_000)
    assert rig.app.recorder.ended == "button"
    assert [event for event in events_of(rig.curve()) if event[1] == "mark"] == []


def test_the_host_marks_what_the_button_can(tmp_path):
    rig = AppRig(tmp_path, STEADY, profile=SEEDING).run(60_000)
    for token, mark in enumerate(("next", "dip_test", "passed", "back", "back")):
        rig.parts.stream.inbox += request("mark", token, mark, 0, sequence=token)
        rig.run(rig.parts.clock.ms + 3000)
    answers = {sequence: (name, values) for name, sequence, values in rig.parts.stream.answers()}
    assert [answers[token][0] for token in range(5)] == ["mark_answer"] * 4 + ["error"]
    assert answers[4][1][0] == "bad_value"
    assert [mark for mark, _ in marks_of(rig)] == ["next", "dip_test", "passed", "back"]


def test_a_repeated_step_is_one_step(tmp_path):
    """The answer may be lost on the way; the phase must not move twice."""
    profile = profile_bytes(MELT, ("cool", "fall", 2700, 0, 0, 20, 0), HOLDS)
    rig = AppRig(tmp_path, STEADY, profile=profile).run(60_000)
    for _ in range(3):
        rig.parts.stream.inbox += request("mark", 77, "next", 0)
        rig.run(rig.parts.clock.ms + 1000)
    assert rig.app.batch.engine.phase_kind() == "cool"


def test_by_hand_the_alarm_of_the_phase_before_ends(tmp_path):
    points = course((10, "out"), (60, "in", 29.5), (60, "to", 28.0), (600, "to", 28.0))
    profile = profile_bytes(("rewarm", "rise", 2930, 0, 0, 20, 0), WORK)
    rig = AppRig(tmp_path, points, profile=profile).run(140_000)
    assert rig.app.sounder.playing == "too_cool"
    rig.parts.stream.inbox += request("mark", 7, "back", 0)
    rig.run(150_000)
    assert rig.app.sounder.playing == "none"
    assert rig.app.batch.engine.phase_kind() == "rewarm"


# --- volume ---------------------------------------------------------------------------


def levels(rig, start_ms):
    """Volumes set for the sounds since ``start_ms``."""
    return [level for ms, level in rig.parts.beeper.levels if ms >= start_ms]


class Leveled(AppRig):
    """Notes each volume that the beeper is given."""

    def __init__(self, folder, points, **options):
        super().__init__(folder, points, **options)
        clock, beeper = self.parts.clock, self.parts.beeper

        class Noting(type(beeper)):
            @property
            def volume(self):
                return self.levels[-1][1]

            @volume.setter
            def volume(self, level):
                self.levels.append((clock.ms, level))

        beeper.levels = []
        beeper.__class__ = Noting


@pytest.mark.parametrize(("volume", "level"), [("light", 0), ("quiet", 1), ("full", 3)])
def test_the_volume_is_set_and_kept_without_power(tmp_path, volume, level):
    rig = Leveled(tmp_path, COOLED).run(5000)
    rig.parts.stream.inbox += request("volume_set", volume, 0)
    rig.run(130_000)
    assert set(levels(rig, 20_000)) == {level}  # that it records is told by the light before
    again = Leveled(tmp_path, COOLED).run(130_000)
    assert set(levels(again, 20_000)) - {3} == {level} - {3}
    assert levels(again, 6000)[-1] == level


@pytest.mark.parametrize(("volume", "level"), [("light", 0), ("quiet", 2), ("middle", 2)])
def test_what_costs_the_batch_is_never_quiet_unless_nothing_is_to_sound(tmp_path, volume, level):
    open_circuit = catalogue.fault_bit("open")
    rig = Leveled(tmp_path, STEADY, faults=[(100_000, 200_000, open_circuit)]).run(50_000)
    rig.parts.stream.inbox += request("volume_set", volume, 0)
    rig.run(110_000)
    assert rig.app.sounder.playing == "probe_fault"
    assert levels(rig, 99_000)[-1] == level
    assert len(rig.sounded(99_000)) > 3, "the light shows it in any case"


def test_quiet_hours_end(tmp_path):
    rig = Leveled(tmp_path, [(0, 21.0)], profile=None).run(5000)
    rig.parts.stream.inbox += request("volume_set", "quiet", 2)
    rig.run(6000)
    for at_s, level in ((10, 1), (7190, 1), (7210, 3)):
        rig.parts.clock.ms = at_s * 1000
        rig.parts.stream.inbox += request("sound", "back")
        rig.run(at_s * 1000 + 2000)
        assert levels(rig, at_s * 1000) == [level]


def test_rubbish_in_its_file_is_full_volume_or_less(tmp_path):
    for raw, level in ((b"", 3), (b"\xff", 3), (b"\x01rest", 1)):
        (tmp_path / "volume").write_bytes(raw)
        assert AppRig(tmp_path, STEADY).app.sounder.volume == level


def test_the_answer_comes_before_the_patience_of_a_person_ends(tmp_path):
    """Within 1.2 s of letting go: by then it is clear that no further press follows."""
    rig = AppRig(tmp_path, STEADY, presses=presses(100, 1)).run(110_000)
    answer_ms = rig.sounded(100_200)[0][0]
    assert answer_ms - 100_200 <= 1200
