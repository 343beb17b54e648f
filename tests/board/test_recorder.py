"""When a curve begins and ends, and what is in it."""

import binascii
from pathlib import Path

import pytest
from board_fakes import blocks_of, events_of, samples_of
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store
from snapcurve.wire import catalogue

ROOM_C = 21.0
MINUTE_MS = 60_000
NONE = catalogue.CENTI_NONE


class Rig:
    """Recorder and store in a folder."""

    def __init__(self, folder):
        self.folder = Path(folder)
        self.store = Store(str(folder))
        self.store.start()
        self.recorder = Recorder(self.store, (1, 2, 3), 0xABCD)

    def start(self, now_ms=0, by_hand=False, clock=(0, 0), profile=b"profile"):
        return self.recorder.start(now_ms, clock, 77, profile, by_hand)

    def run(self, start_ms, end_ms, value=None, each_ms=250):
        for now_ms in range(start_ms, end_ms, each_ms):
            if value is not None:
                self.recorder.reading(value)
            self.recorder.step(now_ms, 2100)

    def blocks(self, number=1):
        return blocks_of((self.folder / f"c{number:05d}").read_bytes())


@pytest.fixture
def rig(tmp_path):
    return Rig(tmp_path)


# --- start and stop -------------------------------------------------------------------


def wanted(recorder, series, place="air"):
    """First ms at which it wants to start, over ``(ms, value_c, room_c)``."""
    return next(
        (ms for ms, *values in series if recorder.wants_to_start(ms, *values, place)), None
    )


def still(value_c, end_ms, start_ms=0, room_c=ROOM_C):
    return [(ms, value_c, room_c) for ms in range(start_ms, end_ms, 250)]


@pytest.mark.parametrize(
    ("value_c", "start_ms"), [(25.0, 3000), (45.0, 3000), (5.0, 3000), (24.9, None), (21.0, None)]
)
def test_it_starts_three_seconds_away_from_the_room(rig, value_c, start_ms):
    assert wanted(rig.recorder, still(value_c, 60_000)) == start_ms


def test_a_touch_is_no_start(rig):
    series = []
    for second in range(0, 60, 4):
        start_ms = second * 1000
        series += still(30.0, start_ms + 2750, start_ms)
        series += still(22.0, start_ms + 4000, start_ms + 2750)
    assert wanted(rig.recorder, series) is None


@pytest.mark.parametrize(("value_c", "room_c"), [(None, ROOM_C), (45.0, None), (None, None)])
def test_without_reading_or_room_it_does_not_start(rig, value_c, room_c):
    assert wanted(rig.recorder, still(value_c, 60_000, room_c=room_c)) is None


def test_a_probe_still_warm_from_the_bowl_starts_no_second_curve(rig):
    rig.start()
    rig.recorder.end(1000, "button")
    assert wanted(rig.recorder, still(40.0, 600_000, 1000)) is None
    assert wanted(rig.recorder, still(None, 610_000, 600_000)) is None
    assert wanted(rig.recorder, still(40.0, 700_000, 610_000)) is None
    assert wanted(rig.recorder, still(22.0, 701_000, 700_000)) is None
    assert wanted(rig.recorder, still(40.0, 710_000, 701_000)) == 704_000


def ends(recorder, series, place="air"):
    """``(ms, reason)`` of the first wish to end, over ``(ms, value_c, room_c)``."""
    for ms, value_c, room_c in series:
        if value_c is not None:
            recorder.reading(int(value_c * 128))
        recorder.step(ms, 2100)
        reason = recorder.wants_to_end(ms, value_c, room_c, place)
        if reason:
            return ms, reason
    return None


def test_back_at_the_room_for_ten_minutes(rig):
    rig.start()
    series = still(40.0, 60_000) + still(22.4, 3_000_000, 60_000)
    assert ends(rig.recorder, series) == (60_000 + 10 * MINUTE_MS, "room")


def test_leaving_the_room_again_starts_the_wait_anew(rig):
    rig.start()
    series = still(22.0, 500_000) + still(28.0, 510_000, 500_000) + still(22.0, 2_000_000, 510_000)
    assert ends(rig.recorder, series) == (510_000 + 10 * MINUTE_MS, "room")


def test_begun_by_hand_it_may_stay_at_the_room_longer(rig):
    rig.start(by_hand=True)
    assert ends(rig.recorder, still(21.0, 3_000_000)) == (20 * MINUTE_MS, "room")


def test_nothing_to_read_for_a_quarter_of_an_hour(rig):
    rig.start()
    series = still(40.0, 60_000) + still(None, 3_000_000, 60_000)
    ms, reason = ends(rig.recorder, series)
    assert reason == "fault"
    assert 15 <= (ms - 59_000) / MINUTE_MS <= 15 + 1 / 60


def test_the_longest_curve(rig):
    """Twelve hours: a probe forgotten in a warm bowl fills no flash over a weekend."""
    longest_ms = 12 * 60 * MINUTE_MS
    rig.start()
    series = [(ms, 40.0, ROOM_C) for ms in range(0, longest_ms + 10_000, 1000)]
    assert ends(rig.recorder, series) == (longest_ms, "longest")


# --- what is in it --------------------------------------------------------------------


def test_head_and_end(rig):
    assert rig.start(3_600_123, clock=(1_800_000_000, 456))
    rig.recorder.end(3_605_623, "button")
    head, end = rig.blocks()
    assert head == (
        "head",
        1,
        0,
        [0xABCD, 1, 3600, 123, 1_800_000_000, 456, 1, 2, 3, 77, b"profile"],
    )
    assert end == ("end", 1, 1, [5500, "button"])
    assert (rig.recorder.running, rig.recorder.curve, rig.recorder.ended) == (False, 0, "button")


def test_a_sample_each_second_is_the_mean_of_its_readings(rig):
    rig.start()
    for second in range(130):
        for part, value in enumerate((4000, 4001, 4003, 4004)):
            rig.recorder.reading(value + second)
            rig.recorder.step(second * 1000 + part * 250 + 1, 2100)
    rig.recorder.end(130_000, "button")
    blocks = rig.blocks()
    assert [kind for kind, *_ in blocks] == ["head", "data", "data", "end"]
    assert [block for _, _, block, _ in blocks] == list(range(4))
    samples = samples_of(blocks)
    assert list(samples) == list(range(0, 130_000, 1000))
    # At each grid point: the three readings before it and the one at it.
    assert samples[0] == 4000
    assert all(samples[second * 1000] == 4002 + second - 1 for second in range(1, 130))


def test_a_block_is_written_when_half_full_and_replaced_when_full(rig):
    """No more than a minute waits; the file never has the same samples twice."""
    rig.start()
    seen = []
    for second in range(200):
        rig.recorder.reading(4000 + second)
        rig.recorder.step(second * 1000, 2100)
        blocks = rig.blocks()
        samples = samples_of(blocks)
        assert list(samples) == list(range(0, len(samples) * 1000, 1000))
        assert second + 1 - len(samples) < catalogue.BLOCK_FIRST_SAMPLES
        (row,) = rig.store.rows
        assert row.crc == binascii.crc32((rig.folder / "c00001").read_bytes())
        if len(samples) != (seen[-1:] or [0])[0]:
            seen.append(len(samples))
    assert seen == [60, 120, 180]
    rig.recorder.clock_set(200_000, 1_800_000_000, 0)
    rig.recorder.end(201_000, "button")
    blocks = rig.blocks()
    assert [kind for kind, *_ in blocks] == ["head", "data", "data", "clock", "end"]
    assert len(samples_of(blocks)) == 200


@pytest.mark.parametrize(
    ("values", "mean"),
    [([1, 2], 2), ([-1, -2], -1), ([-3, -3, -4], -3), ([5], 5), ([32767] * 4, 32767)],
)
def test_the_mean_is_rounded_to_the_nearest(rig, values, mean):
    rig.start()
    for value in values:
        rig.recorder.reading(value)
    rig.recorder.step(0, 2100)
    rig.recorder.end(100, "button")
    assert samples_of(rig.blocks()) == {0: mean}


def test_a_second_without_reading_is_a_gap(rig):
    rig.start()
    rig.run(0, 5000, 4000)
    rig.run(5000, 9000)
    rig.run(9000, 12_000, 4100)
    rig.recorder.end(12_000, "button")
    samples = samples_of(rig.blocks())
    gaps = [ms for ms, value in samples.items() if value is None]
    assert list(samples) == list(range(0, 12_000, 1000))
    # The readings between 4.0 and 5.0 s belong to the sample at 5.0 s.
    assert gaps == [6000, 7000, 8000]


@pytest.mark.parametrize("stop_ms", [400, 1700, 9300, 125_000])
def test_after_a_long_stop_the_grid_is_even_and_the_past_is_a_gap(rig, stop_ms):
    rig.start()
    rig.run(0, 10_000, 4000)
    rig.run(10_000 + stop_ms, 15_000 + stop_ms, 4100)
    rig.recorder.end(15_000 + stop_ms, "button")
    samples = samples_of(rig.blocks())
    assert list(samples) == list(range(0, 15_000 + stop_ms, 1000))
    stopped = [ms for ms in samples if 10_000 <= ms <= 9000 + stop_ms]
    assert all(samples[ms] is None for ms in stopped)
    assert all(value is not None for ms, value in samples.items() if ms not in stopped)


def test_events_keep_their_order_and_more_than_a_block_holds_are_kept(rig):
    rig.start()
    for index in range(50):
        rig.recorder.event(100 + index, "mark", 1, "work", NONE, index)
    rig.recorder.end(1000, "button")
    events = events_of(rig.blocks())
    assert [event[0] for event in events] == [100 + index for index in range(50)]
    assert [event[5] for event in events] == list(range(50))


def test_many_events_between_samples_fit_the_block(rig):
    """The worst block: samples that jump and as many events as there may be."""
    rig.start()
    for second in range(200):
        rig.recorder.reading(-30_000 if second % 2 else 30_000)
        rig.recorder.step(second * 1000, 2100)
        if second % 4 == 0:
            rig.recorder.event(second * 1000, "fault", 0x7FF, "work", 3000, 65535)
    rig.recorder.end(200_000, "button")
    blocks = rig.blocks()
    assert len(samples_of(blocks)) == 200
    assert len(events_of(blocks)) == 50


def test_without_a_curve_events_are_nothing(rig):
    rig.recorder.event(100, "mark", 1, "work", NONE, 0)
    assert not list(rig.folder.glob("c0*"))


def test_the_clock_is_noted_in_its_place(rig):
    rig.start(10_000)
    rig.run(10_000, 15_000, 4000)
    rig.recorder.clock_set(15_250, 1_800_000_000, 250)
    rig.run(15_500, 20_000, 4000)
    rig.recorder.end(20_000, "button")
    blocks = rig.blocks()
    assert [kind for kind, *_ in blocks] == ["head", "data", "clock", "data", "end"]
    assert blocks[2][3] == [5250, 1_800_000_000, 250]
    assert list(samples_of(blocks)) == list(range(0, 10_000, 1000))


def test_the_clock_without_a_curve_is_nothing(rig):
    rig.recorder.clock_set(0, 1_800_000_000, 0)
    assert not list(rig.folder.glob("c0*"))


def test_a_block_is_on_the_flash_each_minute(rig):
    rig.start()
    rig.run(0, 60_000, 4000)
    assert [kind for kind, *_ in rig.blocks()] == ["head", "data"]


def test_due_is_the_next_point_of_the_grid(rig):
    assert rig.recorder.due_ms() > 1 << 40  # never, and beyond any uptime
    rig.start(500)
    assert rig.recorder.due_ms() == 500
    rig.run(500, 2600, 4000)
    assert rig.recorder.due_ms() == 3500


# --- a store that fails ---------------------------------------------------------------


def test_no_room_is_told_and_the_batch_runs_without_a_curve(rig):
    rig.store.has_room = lambda: False
    assert not rig.start()
    assert (rig.recorder.running, rig.recorder.curve) == (True, 0)
    series = still(40.0, 60_000) + still(22.0, 3_000_000, 60_000)
    assert ends(rig.recorder, series) == (60_000 + 10 * MINUTE_MS, "room")
    rig.recorder.end(660_000, "room")
    assert (rig.recorder.running, rig.recorder.ended) == (False, "room")
    assert not list(rig.folder.glob("c0*"))


def test_abandoned_the_batch_runs_on_and_what_was_written_stays(rig):
    rig.start()
    rig.run(0, 61_000, 4000)
    rig.recorder.abandon("store_full")
    assert (rig.recorder.running, rig.recorder.curve) == (True, 0)
    rig.run(61_000, 90_000, 4000)
    rig.recorder.event(90_000, "mark", 0, "work", NONE, 0)
    rig.recorder.end(91_000, "button")
    assert [kind for kind, *_ in rig.blocks()] == ["head", "data"]
    assert len(samples_of(rig.blocks())) == 60


def test_the_next_curve_holds_nothing_of_an_abandoned_one(rig):
    rig.start()
    rig.run(0, 5000, 4000)
    rig.recorder.event(5000, "mark", 0, "work", NONE, 0)
    rig.recorder.abandon("store_full")
    rig.recorder.end(6000, "button")
    rig.start(7000)
    rig.run(7000, 10_000, 5000)
    rig.recorder.end(10_000, "button")
    assert set(samples_of(rig.blocks(2)).values()) == {5000}
    assert events_of(rig.blocks(2)) == []


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["step", "step", "reading", "event", "clock"]), st.integers(0, 5000)
        ),
        max_size=80,
    )
)
def test_whatever_comes_the_curve_can_be_read(tmp_path_factory, actions):
    rig = Rig(tmp_path_factory.mktemp("store"))
    rig.start()
    now_ms, events = 0, 0
    for action, amount in actions:
        now_ms += amount
        if action == "step":
            rig.recorder.step(now_ms, 2100)
        elif action == "reading":
            rig.recorder.reading(amount)
        elif action == "event":
            rig.recorder.event(now_ms, "mark", 1, "work", NONE, events)
            events += 1
        else:
            rig.recorder.clock_set(now_ms, 1, 0)
    rig.recorder.end(now_ms, "button")
    blocks = rig.blocks()
    assert [block for _, _, block, _ in blocks] == list(range(len(blocks)))
    assert [event[5] for event in events_of(blocks)] == list(range(events))
    samples = list(samples_of(blocks))
    assert samples == [1000 * index for index in range(len(samples))]


def test_a_cup_in_ice_water_is_recorded_reading_by_reading(rig):
    profile = b"House milk".ljust(32, b"\0") + bytes([catalogue.METHODS.index("cup")])
    rig.start(profile=profile)
    rig.run(0, 20_000, each_ms=1000)  # a stopped loop leaves gaps, not old values
    for index in range(200):
        rig.recorder.reading(4000 + index)
        rig.recorder.step(20_000 + index * 250, 2100)
    rig.recorder.end(70_000, "button")
    samples = samples_of(rig.blocks())
    assert list(samples) == list(range(0, 70_000, 250))
    assert [samples[20_000 + index * 250] for index in range(200)] == list(range(4000, 4200))
    assert samples[10_000] is None
