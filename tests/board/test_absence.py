"""The probe is forgotten outside, and the batch ends: put back, it goes on where it was."""

from itertools import pairwise

import pytest
from app_rig import ROOM_C, AppRig, course
from board_fakes import MELT, events_of, profile_bytes

from snapcurve.probe import sounds
from snapcurve.probe.tempering.profile import parse
from snapcurve.wire import catalogue

HOLDS = ("work", "hold", 3330, 2900, 3000, 20, 0)
COOL = ("cool", "fall", 2700, 0, 0, 20, 30)
SEEDING = profile_bytes(MELT, HOLDS)
THREE_STEP = profile_bytes(MELT, COOL, HOLDS, method="three-step")
HOLDING = profile_bytes(HOLDS, method="hold")
MELTED = (10, "out"), (60, "in", 40.0), (150, "to", 46.0)
HELD = (*MELTED, (200, "to", 29.6), (120, "to", 29.5))
HELD_S = 540
FORGOTTEN_S = 25 * 60
ENDED_S = 15 * 60  # by then the batch has ended


def forgotten(folder, before, *after, out_s=FORGOTTEN_S, profile=SEEDING, **more):
    """A batch up to the moment at which the probe goes back in, after ``out_s`` outside."""
    points = course(*before, (out_s, "out"), *after)
    rig = AppRig(folder, points, profile, **more)
    in_s = sum(leg[0] for leg in before) + out_s
    rig.run((in_s - out_s + ENDED_S) * 1000)
    assert (rig.app.recorder.running, rig.app.recorder.ended) == (False, "room")
    rig.in_ms = in_s * 1000
    return rig.run(rig.in_ms)


def since(rig):
    """Alarms since the probe went back in."""
    return [name for ms, name, *_ in rig.parts.alarms if ms >= rig.in_ms]


def continued(rig, number=2):
    """Which curve the curve ``number`` continues, None if it begins a batch."""
    rig.end()
    events = [event for event in events_of(rig.curve(number)) if event[1] == "resumed"]
    return events[0][5] if events else None


def sounded_after(rig, name, start_ms, end_ms):
    """Whether the beeper played ``name`` then: its lengths, one after the other."""
    log = [row for row in rig.parts.beeper.log if start_ms <= row[0] <= end_ms]
    lengths = [b[0] - a[0] for a, b in pairwise(log)]
    wanted = [ms for _, ms in sounds.tones(sounds.find(name)[1])]
    return any(lengths[at : at + len(wanted)] == wanted for at in range(len(lengths)))


@pytest.mark.parametrize(
    ("before", "profile"),
    [(HELD, SEEDING), (((10, "out"), (120, "in", 29.5)), HOLDING)],
    ids=["seeded", "held"],
)
def test_put_back_too_cool_it_goes_on_and_says_so(tmp_path, before, profile):
    rig = forgotten(tmp_path, before, (120, "in", 27.0), profile=profile)
    assert rig.names()[-2:] == ["reached", "probe_out"]
    rig.run(rig.in_ms + 60_000)
    assert (rig.app.batch.engine.phase_kind(), rig.app.batch.engine.state) == ("work", "too_cool")
    assert since(rig)[0] == "too_cool"
    assert rig.app.sounder.playing == "too_cool"
    assert sounded_after(rig, "resumed", rig.in_ms, rig.in_ms + 40_000)
    assert continued(rig) == 1


def test_put_back_into_its_window_it_goes_on_in_silence(tmp_path):
    rig = forgotten(tmp_path, HELD, (120, "in", 29.5), (60, "to", 28.0), (60, "to", 28.0))
    rig.run(rig.in_ms + 115_000)
    assert since(rig) == []
    assert (rig.app.batch.engine.phase_kind(), rig.app.batch.engine.state) == ("work", "inside")
    rig.run(rig.in_ms + 240_000)
    assert since(rig) == ["too_cool"]
    assert continued(rig) == 1


def test_in_the_phase_in_which_it_was(tmp_path):
    """Three-step: forgotten at 35 °C on the way down to the low point."""
    rig = forgotten(tmp_path, (*MELTED, (120, "to", 35.0)), (120, "in", 26.9), profile=THREE_STEP)
    assert rig.names() == ["near", "reached", "probe_out"]
    rig.run(rig.in_ms + 110_000)
    assert [name for name in since(rig) if name != "near"][:2] == ["reached", "dwell_done"]
    assert rig.app.batch.engine.phase_kind() == "work"


def test_forgotten_before_it_had_melted_it_melts_on(tmp_path):
    rig = forgotten(tmp_path, ((10, "out"), (60, "in", 40.0)), (60, "in", 40.0), (100, "to", 46.0))
    rig.run(rig.in_ms + 160_000)
    assert since(rig)[-1] == "reached"
    assert rig.app.batch.engine.phase_kind() == "work"


# --- a new batch ----------------------------------------------------------------------


def test_what_is_warmer_than_a_batch_in_temper_can_be_is_a_new_one(tmp_path):
    rig = forgotten(tmp_path, HELD, (60, "in", 40.0), (100, "to", 46.0))
    rig.run(rig.in_ms + 30_000)
    assert (rig.app.batch.engine.phase_kind(), rig.app.batch.engine.state) == ("melt", "approach")
    rig.run(rig.in_ms + 159_000)
    assert since(rig) == ["near", "reached"]
    assert continued(rig) is None


def test_pieces_that_melt_are_found_to_be_a_new_one(tmp_path):
    """The first burst leaves them where a batch in temper may be, the next does not: nothing
    cries that the temper is lost."""
    rig = forgotten(
        tmp_path, HELD, (30, "in", 31.5), (30, "out"), (25, "in", 36.0), (60, "out"),
        (60, "in", 43.0), (60, "to", 46.0), (20, "to", 46.0),
    )  # fmt: skip
    rig.run(rig.in_ms + 280_000)
    told = [name for name in since(rig) if not name.startswith("probe")]
    assert told == ["too_warm", "near", "reached"]
    assert rig.app.batch.engine.phase_kind() == "work"
    assert continued(rig, 3) is None


def test_back_in_its_window_a_temper_that_is_lost_is_told(tmp_path):
    rig = forgotten(tmp_path, HELD, (60, "in", 29.5), (60, "to", 37.0), (60, "to", 37.0))
    rig.run(rig.in_ms + 175_000)
    assert since(rig) == ["too_warm", "temper_lost"]
    assert continued(rig) == 1


def test_the_button_begins_a_new_one(tmp_path):
    press_ms = (HELD_S + FORGOTTEN_S - 20) * 1000
    rig = forgotten(tmp_path, HELD, (60, "in", 27.0), presses=[(press_ms, press_ms + 200)])
    rig.run(rig.in_ms + 50_000)
    assert rig.app.batch.engine.phase_kind() == "melt"
    assert continued(rig) is None


def test_after_an_hour_and_more_it_is_a_new_one(tmp_path):
    rig = forgotten(tmp_path, HELD, (60, "in", 27.0), out_s=80 * 60)
    rig.run(rig.in_ms + 50_000)
    assert rig.app.batch.engine.phase_kind() == "melt"
    assert continued(rig) is None


def test_another_couverture_is_a_new_one(tmp_path):
    rig = forgotten(tmp_path, HELD, (60, "in", 29.5))
    rig.app.settings.use_profile(parse(THREE_STEP))
    rig.run(rig.in_ms + 50_000)
    assert rig.app.batch.engine.phase_kind() == "melt"
    assert continued(rig) is None


def test_ended_by_hand_it_does_not_go_on(tmp_path):
    points = course(*HELD, (FORGOTTEN_S, "out"), (60, "in", 29.5))
    rig = AppRig(tmp_path, points, SEEDING, presses=[(530_000, 532_500)])
    rig.run((HELD_S + FORGOTTEN_S + 50) * 1000)
    assert rig.app.recorder.running
    assert rig.app.batch.engine.phase_kind() == "melt"
    assert continued(rig) is None


def test_a_probe_that_is_only_touched_goes_on_with_nothing(tmp_path):
    """Warm from a hand and in the air all the time."""
    points = course(*HELD, (1000, "out"))
    points += [(1_541_000, ROOM_C + 6.0), (1_543_000, ROOM_C + 6.0)]
    points += [(1_543_000 + 1000 * s, ROOM_C + 6.0 * 0.978**s) for s in range(1, 200)]
    rig = AppRig(tmp_path, points, SEEDING).run(1_700_000)
    assert not rig.app.recorder.running
    assert rig.app.reading(rig.app.uptime.now())[5] == catalogue.CENTI_NONE
