"""The whole app when its flash, its host or its clock lets it down; and how it ends."""

import errno
import os

import pytest
from app_rig import BATCH, BATCH_ALARMS, AppRig, course
from board_fakes import (
    Parts,
    World,
    blocks_of,
    events_of,
    request,
    samples_of,
)

from snapcurve.probe import store as stores
from snapcurve.probe.app import App
from snapcurve.probe.store import ROOM_FOR_BATCH, ROOM_TO_CLOSE
from snapcurve.wire import catalogue

STEADY = course((10, "out"), (900, "in", 29.5))


def failing(*_args):
    raise OSError(errno.ENOSPC)


# --- the flash fails ------------------------------------------------------------------


@pytest.mark.parametrize("at_s", [0, 9, 40, 100, 150, 250])
def test_a_store_that_fails_stops_no_alarm(tmp_path, monkeypatch, at_s):
    """Said once, and the batch is guided to its end all the same."""
    rig = AppRig(tmp_path, BATCH).run(at_s * 1000)
    monkeypatch.setattr(rig.app.store, "append", failing)
    rig.run(380_000)
    names = rig.names()
    assert names.count("store_fault") == 1
    assert [name for name in names if name != "store_fault"] == BATCH_ALARMS
    assert len(rig.sounded()) > 20
    assert rig.app.thermometer.age_ms(380_000) <= 500
    assert (rig.app.recorder.running, rig.app.recorder.curve) == (True, 0)


def test_what_was_written_before_it_failed_stays(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, STEADY).run(100_000)
    monkeypatch.setattr(rig.app.store, "append", failing)
    rig.run(200_000)
    assert rig.names() == ["reached", "store_fault"]
    assert len(samples_of(rig.curve())) == 60
    (row,) = rig.app.store.rows
    assert not row.open


def test_the_next_batch_tries_the_store_again(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, [*BATCH, (391_000, 21.0), (1_200_000, 21.0), (1_201_000, 29.5)])
    rig.run(50_000)
    monkeypatch.setattr(rig.app.store, "append", failing)
    rig.run(1_150_000)
    assert not rig.app.recorder.running
    monkeypatch.undo()
    rig.run(1_300_000)
    assert rig.app.recorder.curve == 2


@pytest.mark.parametrize("what", ["begin", "has_room"])
def test_no_curve_can_be_begun(tmp_path, monkeypatch, what):
    rig = AppRig(tmp_path, BATCH)
    monkeypatch.setattr(rig.app.store, what, failing)
    rig.run(380_000)
    assert rig.names() == ["store_fault", *BATCH_ALARMS]


def test_a_full_store_is_told_once_and_stops_no_alarm(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, BATCH)
    monkeypatch.setattr(rig.app.store, "has_room", lambda: False)
    rig.run(380_000)
    assert rig.names() == ["store_full", *BATCH_ALARMS]


def test_a_flash_that_fills_up_warns_in_time_and_closes_the_curve(tmp_path, monkeypatch):
    """With room for one more batch, then with none left; the batch is guided to its end."""
    rig = AppRig(tmp_path, BATCH)
    # Each look finds less, and after each block it is looked at.
    free = [4 * ROOM_FOR_BATCH, 2 * ROOM_FOR_BATCH - 1, ROOM_FOR_BATCH, ROOM_TO_CLOSE - 1]
    monkeypatch.setattr(stores, "_ROOM_STEP", 1)
    monkeypatch.setattr(rig.app.store, "free", lambda: free.pop(0) if len(free) > 1 else free[0])
    rig.run(380_000)
    names = rig.names()
    assert [name for name in names if name.startswith("store")] == ["store_low", "store_full"]
    assert [name for name in names if not name.startswith("store")] == BATCH_ALARMS
    assert rig.app.recorder.running
    (row,) = rig.app.store.rows
    assert not row.open
    blocks = blocks_of((tmp_path / "c00001").read_bytes())
    kind, _, _, (_, reason) = blocks[-1]
    assert (kind, reason) == ("end", "store_full")
    assert len(samples_of(blocks)) == 360
    low = catalogue.ALARMS.index("store_low")
    assert [event[1:3] for event in events_of(blocks)].count(["alarm", low]) == 1


@pytest.mark.parametrize(
    ("fits", "warned"), [(0, ["store_full"]), (1, ["store_low"]), (2, ["store_low"]), (3, [])]
)
def test_room_is_checked_before_a_batch(tmp_path, monkeypatch, fits, warned):
    rig = AppRig(tmp_path, STEADY)
    monkeypatch.setattr(rig.app.store, "free", lambda: fits * ROOM_FOR_BATCH + 1)
    rig.run(60_000)
    assert [name for name in rig.names() if name.startswith("store")] == warned
    assert rig.app.recorder.running


def test_collected_and_erased_the_next_batch_is_recorded(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, [(0, 21.0), (5000, 21.0), (6000, 29.5)], presses=[(60_000, 62_500)])
    monkeypatch.setattr(rig.app.store, "has_room", lambda: False)
    rig.run(70_000)
    assert (rig.app.recorder.running, rig.app.recorder.curve) == (False, 0)
    monkeypatch.undo()
    rig.parts.world.points = [(0, 21.0), (90_000, 21.0), (91_000, 29.5)]
    rig.run(120_000)
    assert rig.app.recorder.curve == 1


def test_a_long_press_ends_a_batch_whose_store_has_failed(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, STEADY, presses=[(150_000, 152_500)]).run(100_000)
    monkeypatch.setattr(rig.app.store, "append", failing)
    rig.run(160_000)
    assert (rig.app.recorder.running, rig.app.recorder.ended) == (False, "button")
    assert rig.app.batch.engine.state == "idle"


def test_it_fails_on_the_very_last_block(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, STEADY, presses=[(50_000, 52_500)]).run(49_000)
    monkeypatch.setattr(rig.app.store, "append", failing)
    rig.run(60_000)
    assert rig.names() == ["reached", "store_fault"]
    assert (rig.app.recorder.running, rig.app.batch.engine.state) == (False, "idle")


@pytest.mark.parametrize(
    "ask",
    [
        request("clock_set", 1_800_000_000, 0),
        b"".join(request("mark", token, "note", token) for token in range(20)),
    ],
)
def test_it_fails_while_the_host_asks(tmp_path, monkeypatch, ask):
    """After half a block nothing more is written behind it, and the loop goes on."""
    rig = AppRig(tmp_path, BATCH).run(100_000)
    monkeypatch.setattr(rig.app.store, "append", failing)
    rig.parts.stream.inbox += ask
    rig.run(105_000)
    monkeypatch.undo()
    rig.run(380_000)
    assert (rig.app.recorder.running, rig.app.recorder.curve) == (True, 0)
    assert [name for name in rig.names() if name != "store_fault"] == BATCH_ALARMS
    (row,) = rig.app.store.rows
    assert row.size == (tmp_path / "c00001").stat().st_size


def test_a_flash_that_cannot_be_read_at_the_start(tmp_path, monkeypatch):
    parts = Parts(tmp_path, World(BATCH))
    app = App(parts)
    monkeypatch.setattr(app.store, "start", failing)
    app.start()
    for _ in range(400):
        parts.clock.ms += max(1, app.step())
    assert next(alarm for _, alarm, *_ in parts.alarms) == "store_fault"
    assert parts.beeper.log
    assert app.thermometer.faults == 0


def test_a_failing_counter_file_does_not_hide_the_profile(tmp_path, monkeypatch):
    first = AppRig(tmp_path, BATCH)
    first.app.settings.use_profile(first.app.settings.profile)
    first.app.store.save("profile", first.app.settings.profile.raw)
    app = App(Parts(tmp_path, World(BATCH)))
    replace = os.replace

    def failing_counters(new, old):
        if old.endswith("counters"):
            raise OSError(errno.ENOSPC)
        replace(new, old)

    monkeypatch.setattr(os, "replace", failing_counters)
    app.start()
    assert app.settings.profile.raw == first.app.settings.profile.raw


@pytest.mark.parametrize("raw", [b"", b"\xff" * 80, b"rubbish"])
def test_a_profile_of_another_firmware_is_no_profile(tmp_path, raw):
    (tmp_path / "profile").write_bytes(raw)
    app = App(Parts(tmp_path, World(BATCH)))
    app.start()
    assert app.settings.profile is None


# --- host and clock -------------------------------------------------------------------


def test_a_host_that_stops_reading_changes_nothing(tmp_path):
    rig = AppRig(tmp_path, BATCH)
    rig.parts.stream.inbox += request("live_on", 100) + request("hello") * 50
    rig.run(20_000)
    rig.parts.stream.room = 13
    rig.run(380_000)
    assert rig.names() == BATCH_ALARMS


def test_fuzz_on_the_wire_changes_no_alarm(tmp_path):
    rig = AppRig(tmp_path, BATCH)
    for second in range(1, 380):
        rig.parts.stream.inbox += bytes((second * index * 7 + index) & 0xFF for index in range(90))
        rig.run(second * 1000)
    rig.run(380_000)
    assert rig.names() == BATCH_ALARMS


def test_a_stop_of_the_whole_board_is_a_gap_and_no_alarm(tmp_path):
    """An erase may stop it for 400 ms, and something worse for 20 s."""
    rig = AppRig(tmp_path, STEADY)
    for stop_ms, at_s in ((400, 60), (1200, 80), (20_000, 100)):
        rig.run(at_s * 1000)
        rig.parts.clock.ms += stop_ms
    rig.run(300_000)
    assert rig.names() == ["reached"]
    rig.end()
    samples = samples_of(rig.curve())
    assert sum(value is None for value in samples.values()) <= 21
    assert list(samples) == [1000 * index for index in range(len(samples))]


def test_after_two_weeks_of_uptime_it_still_sleeps(tmp_path):
    """Nothing due is later than any uptime, or the loop would never sleep again."""
    rig = AppRig(tmp_path, [(0, 21.0)], profile=None)
    rig.run(10_000)
    for _ in range(4):
        rig.parts.clock.ms += 5 * 24 * 3_600_000
        rig.app.step()
    rig.run(rig.parts.clock.ms + 2000)
    start_ms = rig.parts.clock.ms
    steps = 0
    while rig.parts.clock.ms < start_ms + 10_000:
        sleep_ms = rig.app.step()
        rig.parts.clock.ms += sleep_ms
        steps += 1
        assert steps < 2000, "the loop does not sleep any more"
    assert rig.app.uptime.now() == rig.parts.clock.ms
