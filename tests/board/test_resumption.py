"""A batch that is broken off goes on after the restart, within 3 s and in the same phase."""

import errno
from itertools import pairwise

import pytest
from app_rig import BATCH, BATCH_ALARMS, AppRig, course
from board_fakes import COOL, MELT, WORK, events_of, profile_bytes, request, samples_of
from engine_play import NO_HURRY_S

from snapcurve.probe import crashes
from snapcurve.probe.app import App
from snapcurve.probe.resumption import NAME
from snapcurve.probe.tempering.profile import parse
from snapcurve.wire import catalogue

SEEDING = profile_bytes(MELT, COOL, WORK)
SOON_MS = 3000
POWER_BACK_MS = 15 * 60_000  # after this long a batch that lies in the room is over
OFF_MS = 400  # how long the board is off
# Melted, cooled into the window, then left to cool out of it.
WHOLE = course(
    (10, "out"),
    (60, "in", 40.0),
    (200, "to", 46.0),
    (300, "to", 26.5),
    (150, "to", 26.6),
    (100, "to", 29.5),
    (40, "to", 29.5),
    (100, "to", 28.0),
    (60, "to", 28.0),
)


def again(rig, restarted):
    """The board starts anew on the same flash, its uptime from zero, while the world goes on."""
    parts, was = rig.parts, rig.app
    parts.restarted = restarted
    parts.beeper.tone(0)
    parts.stream.inbox.clear()
    app = rig.app = App(parts)
    app.start()
    if was.settings.profile is not None:
        app.settings.profile = was.settings.profile
    return app


def broken_off(
    folder, at_ms, points=WHOLE, profile=SEEDING, restarted=True, gap_ms=OFF_MS, **more
):
    """A batch whose board loses its power at ``at_ms``, and is back ``gap_ms`` later."""
    rig = AppRig(folder, points, profile, **more).run(at_ms)
    before = (rig.app.batch.engine.phase_kind(), rig.app.batch.engine.state)
    rig.parts.clock.ms += gap_ms
    again(rig, restarted)
    return rig, before


@pytest.mark.parametrize("at_s", [30, 120, 200, 280, 400, 560, 700, 800, 940])
@pytest.mark.parametrize("restarted", [True, False])
def test_it_goes_on_in_the_same_phase(tmp_path, at_s, restarted):
    rig, (phase, state) = broken_off(tmp_path, at_s * 1000, restarted=restarted)
    start_ms = rig.parts.clock.ms
    rig.run(start_ms + SOON_MS)
    assert rig.app.recorder.running
    assert rig.app.recorder.curve == 2
    assert rig.app.batch.engine.phase_kind() == phase
    if state in ("near", "inside"):
        assert rig.app.batch.engine.state == state
    rig.run(start_ms + 10_000)
    rig.end()
    (resumed,) = [event for event in events_of(rig.curve(2)) if event[1] == "resumed"]
    assert resumed[5] == 1, "it does not say which curve it continues"
    assert resumed[0] <= SOON_MS
    assert len(samples_of(rig.curve(2))) >= 7


def test_a_sound_of_its_own_tells(tmp_path):
    rig, _ = broken_off(tmp_path, 300_000)
    assert rig.app.sounder.playing == "hello"
    rig.run(rig.parts.clock.ms + 100)
    assert rig.app.sounder.playing == "resumed"


@pytest.mark.parametrize("at_s", [100, 300, 500, 700, 860])
def test_the_alarms_are_those_of_a_batch_without_a_restart(tmp_path, at_s):
    """Not one more, not one less: the batch is guided on as if nothing had happened."""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    whole = AppRig(tmp_path / "a", WHOLE, SEEDING).run(1_000_000)
    rig, _ = broken_off(tmp_path / "b", at_s * 1000)
    rig.run(1_000_000)
    assert rig.names() == whole.names()
    assert len(whole.names()) >= 5


@pytest.mark.parametrize("at_s", [600, 640, 660])
def test_a_dwell_goes_on_where_it_was(tmp_path, at_s):
    """Of its two minutes it is over later by at most what the file is behind, half a minute, and
    what the estimate needs to be sure again.
    """
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    whole = AppRig(tmp_path / "a", WHOLE, SEEDING).run(800_000)
    rig, before = broken_off(tmp_path / "b", at_s * 1000)
    assert before == ("cool", "dwell")
    rig.run(800_000)
    behind_s = rig.when("dwell_done") + at_s + OFF_MS / 1000 - whole.when("dwell_done")
    assert 0 <= behind_s <= 30 + NO_HURRY_S + OFF_MS / 1000


def test_an_alarm_that_still_holds_is_said_again(tmp_path):
    rig = AppRig(tmp_path, WHOLE, SEEDING)
    rig.run(955_000)
    assert rig.names()[-1] == "too_cool"
    rig.parts.clock.ms += 400
    again(rig, True)
    rig.run(rig.parts.clock.ms + 30_000)
    assert rig.names().count("too_cool") == 2


def test_a_failure_loses_no_sample_but_those_of_the_restart(tmp_path):
    """What waits is written before the restart: main.py calls rescue."""
    rig = AppRig(tmp_path, WHOLE, SEEDING).run(345_000)
    rig.app.recorder.rescue()
    rig.parts.clock.ms += 1500
    again(rig, True)
    rig.run(400_000)
    rig.end()
    first, second = samples_of(rig.curve(1)), samples_of(rig.curve(2))
    # 13 s passed before the first curve began; 1.5 s lie between the two.
    assert len(first) + len(second) >= 400 - 14 - 3


def test_a_power_cut_loses_no_more_than_a_block(tmp_path):
    rig, _ = broken_off(tmp_path, 345_000, restarted=False)
    rig.run(400_000)
    lost = 345 - 13 - len(samples_of(rig.curve(1)))
    assert 0 <= lost <= catalogue.BLOCK_FIRST_SAMPLES


@pytest.mark.parametrize("restarted", [True, False])
def test_a_batch_that_was_ended_does_not_go_on(tmp_path, restarted):
    rig = AppRig(tmp_path, WHOLE, SEEDING).run(300_000).end()
    assert not (tmp_path / NAME).exists()
    again(rig, restarted)
    rig.run(rig.parts.clock.ms + 2500)
    assert not rig.app.recorder.running


def test_switched_off_between_the_last_block_and_the_rest(tmp_path, monkeypatch):
    """The curve says that it ended, though the small file still says that it runs."""

    def no_power(_name):
        raise OSError(errno.EIO)

    rig = AppRig(tmp_path, WHOLE, SEEDING).run(300_000)
    monkeypatch.setattr(rig.app.store, "forget", no_power)
    rig.end()
    assert (tmp_path / NAME).exists()
    again(rig, True)
    rig.run(rig.parts.clock.ms + 1500)
    assert not rig.app.recorder.running
    assert not (tmp_path / NAME).exists()


def test_a_batch_taken_away_overnight_does_not_go_on(tmp_path):
    """The power was off, and the probe lies at the room's temperature: it is over."""
    points = [*course((10, "out"), (60, "in", 40.0), (200, "to", 46.0)), (300_000, 21.0)]
    rig, _ = broken_off(tmp_path, 260_000, points, restarted=False, gap_ms=60_000)
    rig.run(rig.parts.clock.ms + POWER_BACK_MS + 2000)
    assert not rig.app.recorder.running
    assert not (tmp_path / NAME).exists()
    assert rig.names().count("reached") == 1


def test_a_probe_put_back_in_goes_on(tmp_path):
    points = [*course((10, "out"), (60, "in", 40.0), (200, "to", 46.0)), (271_000, 21.0)]
    points += [(400_000, 21.0), (410_000, 44.0), (600_000, 44.0)]
    rig, (phase, _) = broken_off(tmp_path, 268_000, points, restarted=False, gap_ms=20_000)
    rig.run(395_000)
    assert not rig.app.recorder.running
    rig.run(412_000)
    assert rig.app.recorder.running
    assert rig.app.batch.engine.phase_kind() == phase != "none"


def test_the_button_begins_a_new_batch_instead(tmp_path):
    points = [*course((10, "out"), (60, "in", 40.0), (200, "to", 46.0)), (300_000, 21.0)]
    rig, _ = broken_off(
        tmp_path, 260_000, points, restarted=False, gap_ms=60_000, presses=((330_000, 330_300),)
    )
    rig.run(340_000)
    assert rig.app.recorder.running
    assert rig.app.batch.engine.phase_kind() == "melt"
    assert [event[1] for event in events_of(rig.curve(2)) if event[1] == "resumed"] == []


@pytest.mark.parametrize("raw", [b"", b"x", bytes(4), bytes(6), b"\xff" * 5])
def test_a_file_of_anything_stops_nothing(tmp_path, raw):
    (tmp_path / NAME).write_bytes(raw)
    rig = AppRig(tmp_path, BATCH)
    again(rig, True)
    rig.run(380_000)
    assert [name for name in rig.names() if name in BATCH_ALARMS] == BATCH_ALARMS


def test_a_profile_changed_meanwhile_stops_nothing(tmp_path):
    """The phase that the file names may not exist in the new profile."""
    rig, _ = broken_off(tmp_path, 900_000)
    rig.app.settings.profile = parse(profile_bytes(WORK, method="hold"))
    rig.run(rig.parts.clock.ms + 5000)
    assert rig.app.recorder.running


def test_the_flash_is_written_only_when_something_changes(tmp_path, monkeypatch):
    rig = AppRig(tmp_path, WHOLE, SEEDING)
    saved = []
    real = rig.app.store.save
    monkeypatch.setattr(
        rig.app.store, "save", lambda name, raw: (saved.append(name), real(name, raw))
    )
    rig.run(1_000_000)
    assert 3 <= saved.count(NAME) <= 12


# --- why it was reset -----------------------------------------------------------------


def test_a_reset_by_the_watchdog_is_recorded_once(tmp_path):
    rig, _ = broken_off(tmp_path, 300_000)
    assert crashes.last(rig.app.store) == (1, 1, crashes.WATCHDOG.encode())
    again(rig, False)
    assert crashes.last(rig.app.store) == (1, 1, crashes.WATCHDOG.encode())


def test_a_failure_is_not_taken_for_the_watchdog(tmp_path):
    rig = AppRig(tmp_path, WHOLE, SEEDING).run(300_000)
    crashes.record(str(tmp_path), "ValueError: x")
    again(rig, True)
    assert crashes.last(rig.app.store) == (1, 1, b"ValueError: x")
    again(rig, True)
    assert crashes.last(rig.app.store) == (2, 2, crashes.WATCHDOG.encode())


def test_a_reset_after_the_prompt_is_no_failure(tmp_path):
    rig = AppRig(tmp_path, WHOLE, SEEDING).run(5000)
    crashes.left(str(tmp_path))
    again(rig, True)
    assert crashes.last(rig.app.store) == (0, 0, b"")
    again(rig, True)
    assert crashes.last(rig.app.store)[1] == 1, "only the first reset belongs to the prompt"


def test_the_host_can_ask(tmp_path):
    rig, _ = broken_off(tmp_path, 300_000)
    rig.run(rig.parts.clock.ms + 1000)
    crashes.record(str(tmp_path), "ValueError: x at y.py:3")
    rig.parts.stream.inbox += request("crash_get", sequence=5)
    rig.run(rig.parts.clock.ms + 500)
    assert rig.parts.stream.answers() == [
        ("crash_get_answer", 5, [2, 2, b"ValueError: x at y.py:3"])
    ]


def test_the_watchdog_is_fed_by_every_step(tmp_path):
    """From a batch's loop: the longest pause between two feedings is far below 8 s."""
    rig = AppRig(tmp_path, BATCH)
    clock = rig.parts.clock

    class Enough(BaseException):
        pass

    def sleep_ms(length_ms):
        clock.ms += max(1, length_ms)
        if clock.ms > 200_000:
            raise Enough

    rig.parts.sleep_ms = sleep_ms
    with pytest.raises(Enough):
        rig.app.run()
    fed = rig.parts.fed_ms
    assert max(after - before for before, after in pairwise(fed)) <= 300
