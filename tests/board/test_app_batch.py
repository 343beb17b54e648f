"""The whole app through a batch: recording, alarms, button, dip test, faults."""

import pytest
from app_rig import BATCH, BATCH_ALARMS, HOLD, ROOM_C, AppRig, course
from board_fakes import MELT, WORK, events_of, profile_bytes, samples_of
from hypothesis import example, given, settings
from hypothesis import strategies as st

from snapcurve.probe.sounds import URGENT
from snapcurve.probe.tempering.estimate import Estimate
from snapcurve.wire import catalogue

STEADY = course((10, "out"), (900, "in", 29.5))
OPEN = catalogue.fault_bit("open")


def press(second, length_ms=200):
    return (int(second * 1000), int(second * 1000) + length_ms)


# --- recording ------------------------------------------------------------------------


def test_it_records_by_itself_and_ends_by_itself(tmp_path):
    """Away from the room at 11 s, back within 1.5 °C of it 80 s after the probe came out."""
    rig = AppRig(tmp_path, [*BATCH, (391_000, ROOM_C)])
    rig.run(10_000)
    assert not rig.app.recorder.running
    rig.run(20_000)
    assert rig.app.recorder.running
    rig.run(1_200_000)
    assert rig.app.recorder.ended == "room"
    blocks = rig.curve()
    assert [blocks[0][0], blocks[-1][0], blocks[-1][3][1]] == ["head", "end", "room"]
    samples = samples_of(blocks)
    assert None not in samples.values()
    assert max(samples.values()) / 128 == pytest.approx(29.6, abs=0.05)
    assert rig.names()[: len(BATCH_ALARMS)] == BATCH_ALARMS
    events = [event for event in events_of(blocks) if event[1] == "alarm"]
    assert [catalogue.ALARMS[event[2]] for event in events] == rig.names()


def test_no_second_curve_while_the_probe_is_still_warm(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=[press(60, 2500)]).run(300_000)
    assert rig.app.recorder.ended == "button"
    assert [row.curve for row in rig.app.store.rows] == [1]


def test_the_button_starts_and_a_long_press_ends(tmp_path):
    rig = AppRig(tmp_path, [(0, ROOM_C)], presses=[press(5), press(30, 2500)])
    rig.run(10_000)
    assert rig.app.recorder.running
    rig.run(40_000)
    assert (rig.app.recorder.running, rig.app.recorder.ended) == (False, "button")
    head, *_, end = rig.curve()
    assert head[3][10] == HOLD
    assert end[3][1] == "button"


def test_without_a_profile_it_records_and_keeps_quiet(tmp_path):
    rig = AppRig(tmp_path, BATCH, profile=None).run(270_000)
    assert rig.app.recorder.running
    assert rig.names() == []


# --- alarms ---------------------------------------------------------------------------


def test_alarms_of_a_small_batch(tmp_path):
    """The lag is unknown and nothing was molten before: in the window 16 s after going in."""
    rig = AppRig(tmp_path, BATCH).run(380_000)
    assert rig.names() == BATCH_ALARMS
    # From 90 s the bowl falls 0.018 °C/s; it leaves the window at 118 s and is back at 190 s.
    assert 12 < rig.when("reached") < 27
    assert 110 < rig.when("too_cool") < 130
    assert 186 < rig.when("back") < 206
    assert 272 < rig.when("probe_out") < 285


@pytest.mark.parametrize("before_s", [4.0, 6.0])
def test_taken_out_as_it_would_sound_it_keeps_quiet(tmp_path_factory, before_s):
    """The bowl has left the window and the alarm is due some seconds later: the first readings
    from the air must not set it off.
    """
    plain = AppRig(tmp_path_factory.mktemp("store"), BATCH).run(135_000)
    out_s = plain.when("too_cool") - before_s
    bowl_c = 29.5 - (out_s - 90) * 0.9 / 50
    points = course((10, "out"), (80, "in", 29.5), (out_s - 90, "to", bowl_c), (60, "out"))
    rig = AppRig(tmp_path_factory.mktemp("store"), points).run(int(out_s * 1000) + 60_000)
    assert rig.names() == ["reached", "probe_out"]


def test_called_each_millisecond_or_when_it_wants_it_says_the_same(tmp_path_factory):
    runs = [
        AppRig(tmp_path_factory.mktemp("store"), BATCH).run(150_000, each_ms)
        for each_ms in (1, None)
    ]
    assert runs[0].names() == runs[1].names() == ["reached", "too_cool"]
    for one, other in zip(runs[0].parts.alarms, runs[1].parts.alarms, strict=True):
        assert abs(one[0] - other[0]) <= 1000


@pytest.mark.parametrize("wrap_s", [0.016, 20, 119.9, 150, 260.001, 275])
def test_a_wrap_of_the_ticks_in_mid_batch_changes_nothing(tmp_path_factory, wrap_s):
    plain = AppRig(tmp_path_factory.mktemp("store"), BATCH).run(380_000)
    first_tick = (1 << 30) - int(wrap_s * 1000)
    wrapped = AppRig(tmp_path_factory.mktemp("store"), BATCH, first_tick=first_tick).run(380_000)
    assert wrapped.parts.ticks_ms() < 380_000
    assert wrapped.parts.alarms == plain.parts.alarms
    assert wrapped.parts.beeper.log == plain.parts.beeper.log
    assert wrapped.curve() == plain.curve()


def test_nothing_threshold_like_while_the_probe_is_out(tmp_path):
    """It falls through the whole window on its way to the room."""
    rig = AppRig(tmp_path, course((10, "out"), (100, "in", 45.0), (300, "out")))
    rig.run(400_000)
    assert rig.names() == ["probe_out"]


def test_melting_in_bursts(tmp_path):
    """Out for each burst; the threshold passed meanwhile is told after the next insertion."""
    legs = [(10, "out")]
    for celsius in (34, 39, 43, 45.6):
        legs += [(25, "in", celsius), (60, "out")]
    rig = AppRig(tmp_path, course(*legs), profile=profile_bytes(MELT, WORK)).run(345_000)
    assert rig.names() == [
        "probe_out",
        "probe_in",
        "probe_out",
        "probe_in",
        "near",
        "probe_out",
        "probe_in",
        "reached",
        "probe_out",
    ]
    assert 265 < rig.when("reached") < 277


class ToldPlace(Estimate):
    """An estimate that says what the test wants, reading by reading."""

    place, trusted, doubtful = "unknown", True, False

    def __init__(self, between):
        super().__init__()
        self.between = between  # (place, trusted) for the half minute between
        self.readings = 0
        self.chocolate_c, self.spread_c, self.immersed_s = 31.0, 0.0, 3600.0

    def update(self, _now_ms, _z, _junction, _phase):
        self.readings += 1
        inside = self.readings % 20 < 4  # for three quarters of a second at a time
        self.place, self.trusted = ("chocolate", True) if inside else self.between


@pytest.mark.parametrize(
    "between", [("air", False), ("entering", False), ("unknown", False), ("chocolate", False)]
)
def test_what_was_half_seen_does_not_count_after_an_absence(tmp_path, between):
    """In for a moment at a time: the threshold is beyond, but never seen long enough."""
    profile = profile_bytes(("melt", "rise", 2500, 0, 0, 0, 0), WORK)
    rig = AppRig(tmp_path, STEADY, profile=profile)
    rig.app.batch.estimate = ToldPlace(between)
    rig.run(300_000)
    assert set(rig.names()) <= {"probe_out", "probe_in"}
    rig.app.batch.estimate.between = ("chocolate", True)
    rig.run(310_000)
    assert "reached" in rig.names()


# --- button and dip test --------------------------------------------------------------


def test_a_press_silences_what_sounds(tmp_path):
    rig = AppRig(tmp_path, BATCH, presses=[press(131)]).run(130_000)
    assert rig.app.sounder.playing == "too_cool"
    rig.run(180_000)
    assert rig.app.sounder.playing == "none"
    assert rig.sounded(132_000) == []
    rig.run(210_000)
    assert len(rig.sounded(132_000)) == 2  # back


def test_silence_does_not_survive_a_new_alarm(tmp_path):
    points = course(
        (10, "out"),
        (60, "in", 29.5),
        (30, "to", 28.5),
        (60, "to", 28.5),
        (60, "to", 31),
        (60, "to", 31),
    )
    rig = AppRig(tmp_path, points, presses=[press(125)]).run(160_000)
    assert rig.sounded(126_000) == []
    rig.run(255_000)
    assert rig.names() == ["reached", "too_cool", "back", "too_warm"]
    assert rig.app.sounder.playing == "too_warm"


def test_an_urgent_alarm_ends_when_its_cause_does(tmp_path):
    rig = AppRig(tmp_path, BATCH).run(180_000)
    assert rig.app.sounder.playing == "too_cool"
    rig.run(215_000)
    assert rig.app.sounder.playing == "none"


def test_a_press_in_silence_marks_a_dip_test_and_its_clock_runs(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=[press(100)]).run(600_000)
    assert rig.names() == ["reached", "test_early", "test_due", "test_late"]
    for name, seconds in (("test_early", 180), ("test_due", 300), ("test_late", 420)):
        assert rig.when(name) == pytest.approx(100.3 + seconds, abs=0.3)
    rig.end()
    marks = [event for event in events_of(rig.curve()) if event[1] == "mark"]
    assert [(catalogue.MARKS[mark[2]], mark[3]) for mark in marks] == [("dip_test", "work")]
    assert marks[0][4] == pytest.approx(2950, abs=20)


def test_acknowledged_the_reminder_does_not_come(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=[press(100), press(400.6)]).run(800_000)
    assert rig.names() == ["reached", "test_early", "test_due"]


def test_a_second_mark_starts_the_clock_anew(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=[press(100), press(200)]).run(400_000)
    assert rig.names() == ["reached", "test_early"]
    assert rig.when("test_early") == pytest.approx(380.3, abs=0.3)


def test_after_the_end_no_dip_test_sounds(tmp_path):
    rig = AppRig(tmp_path, STEADY, presses=[press(100), press(150, 2500)]).run(700_000)
    assert rig.names() == ["reached"]
    assert rig.sounded(160_000) == []


# --- faults ---------------------------------------------------------------------------


def test_a_probe_that_is_unplugged_and_plugged_in(tmp_path):
    rig = AppRig(tmp_path, STEADY, faults=[(100_000, 160_000, OPEN)]).run(150_000)
    assert rig.app.batch.estimate.place == "unknown"
    rig.run(300_000)
    assert rig.names()[:3] == ["reached", "probe_fault", "probe_ok"]
    assert 101 < rig.when("probe_fault") <= 102.3
    assert 160 < rig.when("probe_ok") <= 162.3
    assert rig.app.sounder.playing == "none"
    assert rig.app.batch.estimate.place == "chocolate"
    rig.end()
    blocks = rig.curve()
    gaps = [ms for ms, value in samples_of(blocks).items() if value is None]
    assert len(gaps) == pytest.approx(60, abs=2)
    faults = [event[2] for event in events_of(blocks) if event[1] == "fault"]
    assert faults == [OPEN, 0]


def test_a_fault_repeats_until_silenced(tmp_path):
    rig = AppRig(tmp_path, STEADY, faults=[(100_000, 900_000, OPEN)], presses=[press(200)])
    rig.run(199_000)
    assert rig.app.sounder.playing == "probe_fault"
    assert len(rig.sounded(150_000)) > 5
    rig.run(600_000)
    assert rig.sounded(201_000) == []
    assert rig.app.thermometer.faults == OPEN


def test_spurious_faults_change_no_alarm(tmp_path_factory):
    clean = AppRig(tmp_path_factory.mktemp("store"), BATCH).run(380_000)
    faults = [(ms, ms + 260, OPEN) for ms in range(30_000, 260_000, 7000)]
    rig = AppRig(tmp_path_factory.mktemp("store"), BATCH, faults=faults).run(380_000)
    assert rig.names() == clean.names() == BATCH_ALARMS
    for one, other in zip(rig.parts.alarms, clean.parts.alarms, strict=True):
        assert abs(one[0] - other[0]) <= 3000


def test_no_chip_at_all(tmp_path):
    rig = AppRig(tmp_path, STEADY)
    rig.parts.spi.write_readinto = lambda _out, into: into.__setitem__(slice(None), bytes(17))
    rig.run(60_000)
    assert rig.names() == ["probe_fault"]
    assert rig.app.sounder.playing == "probe_fault"
    assert not rig.app.recorder.running


@example([("in", 55.0, 40)], [], 0)
@example([("in", 29.5, 40), ("to", 24.0, 20), ("to", 55.0, 40)], [], 200)
@settings(max_examples=25)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["in", "to", "out"]),
            st.sampled_from([5.0, 24.0, 28.0, 29.5, 31.0, 46.0, 55.0, 240.0]),
            st.integers(1, 40),
        ),
        max_size=6,
    ),
    st.lists(st.tuples(st.integers(0, 120_000), st.integers(50, 4000)), max_size=5),
    st.integers(0, 3000),
)
def test_whatever_came_before_a_lasting_fault_ends_with_the_beeper_on(
    tmp_path_factory, legs, presses, tear_ms
):
    """And no course of temperature or presses stops the loop."""
    points = course(*((s, what) if what == "out" else (s, what, c) for what, c, s in legs))
    end_ms = points[-1][0]
    rig = AppRig(
        tmp_path_factory.mktemp("store"),
        points,
        profile=profile_bytes(MELT, WORK),
        presses=[(start, start + length) for start, length in presses if start < end_ms],
        faults=[(end_ms + tear_ms, 1 << 40, OPEN)],
    )
    rig.run(max([end_ms, *(start + length for start, length in presses)]) + tear_ms + 10_000)
    heard, until_ms = [], rig.parts.clock.ms + 40_000
    while rig.parts.clock.ms < until_ms:
        rig.run(rig.parts.clock.ms + 250)
        heard.append(rig.app.sounder.playing)
    assert rig.app.thermometer.faults == OPEN
    assert "probe_fault" in rig.names()
    silenced = any(
        start + length > end_ms + tear_ms for start, length in presses if start < end_ms
    )
    # No other sound that repeats takes its place, and none takes turns with it.
    assert not set(heard) & ({*URGENT} - {"probe_fault"})
    assert silenced or heard.count("probe_fault") >= len(heard) - 12, "three seconds of others"
