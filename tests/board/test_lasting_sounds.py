"""Urgent sounds last as long as their cause: through the whole app, and the rule by itself."""

from itertools import product
from types import SimpleNamespace

import pytest
from app_rig import AppRig, course
from board_fakes import MELT, profile_bytes, request

from snapcurve.probe import sounds
from snapcurve.probe.batch import lasting
from snapcurve.probe.sounds import URGENT as NAMES
from snapcurve.wire import catalogue

OPEN = catalogue.fault_bit("open")
HOLDS = ("work", "hold", 3330, 2900, 3000, 20, 0)
HOLDING = profile_bytes(HOLDS, method="hold")
SEEDING = profile_bytes(MELT, HOLDS)
URGENT_HZ = {sounds.find(name)[2] for name in NAMES}
QUIET_AFTER_S = 20  # the way out is seen within that
IN = (10, "out"), (60, "in", 29.5)
COURSES = {
    "too_cool": (HOLDING, [*IN, (60, "to", 28.0), (60, "to", 28.0)]),
    "too_warm": (HOLDING, [*IN, (60, "to", 31.5), (60, "to", 31.5)]),
    "temper_lost": (HOLDING, [*IN, (60, "to", 37.0), (60, "to", 37.0)]),
    "too_hot": (SEEDING, [(10, "out"), (60, "in", 46), (60, "to", 51.5), (60, "to", 51.5)]),
}
SOUNDS_S = 185  # by then it does


def playing(rig, seconds):
    """Everything that sounds or repeats in the next ``seconds``."""
    seen, end_ms = set(), rig.parts.clock.ms + seconds * 1000
    while rig.parts.clock.ms < end_ms:
        seen.add(rig.app.sounder.playing)
        rig.run(rig.parts.clock.ms + 250)
    return seen


def sounding(folder, name, *legs, **more):
    """A batch in which ``name`` sounds at SOUNDS_S and then ``legs`` follow, from 190 s on."""
    profile, before = COURSES[name]
    rig = AppRig(folder, course(*before, *legs), profile, **more).run(SOUNDS_S * 1000)
    assert rig.app.sounder.playing == name
    return rig.run(190_000)


@pytest.mark.parametrize("name", COURSES)
def test_it_stops_when_the_bowl_is_where_it_belongs(tmp_path, name):
    good_c = 44.0 if name == "too_hot" else 29.5
    rig = sounding(tmp_path, name, (60, "to", good_c), (300, "to", good_c))
    rig.run(290_000)
    assert not playing(rig, 250) & set(NAMES)


@pytest.mark.parametrize("name", COURSES)
def test_it_stops_while_the_probe_is_out_and_comes_back_with_it(tmp_path, name):
    bowl_c = COURSES[name][1][-1][2]
    rig = sounding(tmp_path, name, (120, "out"), (90, "in", bowl_c))
    rig.run((190 + QUIET_AFTER_S) * 1000)
    assert rig.app.batch.estimate.place == "air"
    assert not playing(rig, 120 - QUIET_AFTER_S) & set(NAMES)
    assert name in playing(rig, 80)


@pytest.mark.parametrize(("name", "mended_c"), [("too_cool", 29.5), ("too_warm", 29.5)])
def test_mended_while_the_probe_was_out_it_does_not_come_back(tmp_path, name, mended_c):
    """Only what was looked at anew counts: the state of before is no cause."""
    rig = sounding(tmp_path, name, (60, "out"), (120, "in", mended_c))
    rig.run((190 + QUIET_AFTER_S) * 1000)
    assert not playing(rig, 150) & set(NAMES)
    assert rig.names()[-2:] == ["probe_in", "back"]


@pytest.mark.parametrize("name", COURSES)
def test_silenced_it_stays_silent_until_its_cause_has_gone_and_comes_again(tmp_path, name):
    bowl_c = COURSES[name][1][-1][2]
    rig = sounding(
        tmp_path, name, (200, "to", bowl_c), (60, "out"), (90, "in", bowl_c),
        presses=[(190_500, 190_700)],
    )  # fmt: skip
    rig.run(191_500)
    assert playing(rig, 195) == {"none"}
    assert name in playing(rig, 60 + 80)


@pytest.mark.parametrize("name", ["too_cool", "too_hot"])
def test_a_board_that_stood_still_for_a_moment_has_forgotten_neither(tmp_path_factory, name):
    """Where the probe is must be found anew; nothing was seen to have gone."""
    bowl_c = COURSES[name][1][-1][2]
    for presses, wanted in (((), {name}), ([(190_500, 190_700)], {"none"})):
        folder = tmp_path_factory.mktemp("store")
        rig = sounding(folder, name, (200, "to", bowl_c), presses=presses).run(195_000)
        rig.parts.clock.ms += 1700
        rig.run(rig.parts.clock.ms + 1200)  # the first reading waits for two more
        assert rig.app.batch.estimate.place == "unknown"
        assert playing(rig, 60) == wanted


@pytest.mark.parametrize("name", COURSES)
def test_without_a_reading_only_that_is_told(tmp_path, name):
    bowl_c = COURSES[name][1][-1][2]
    rig = sounding(tmp_path, name, (300, "to", bowl_c), faults=[(195_000, 300_000, OPEN)])
    rig.run(200_000)
    assert rig.names()[-1] == "probe_fault"
    assert playing(rig, 99) == {"probe_fault"}
    rig.run(305_000)
    assert "probe_fault" not in playing(rig, 10)
    assert name in playing(rig, 60)


def test_a_sound_that_is_shown_is_played_once(tmp_path):
    rig = AppRig(tmp_path, [(0, 21.0)], profile=None).run(5000)
    rig.parts.stream.inbox += request("sound", "too_warm")
    rig.run(120_000)
    assert len(rig.sounded(5000)) == 3


# --- the rule -------------------------------------------------------------------------


def names(bits):
    return {name for place, name in enumerate(NAMES) if bits >> place & 1}


EVERY = list(
    product(
        range(1 << len(NAMES)),
        catalogue.ENGINE_STATES,
        (False, True),
        (False, True),
        (False, True),
        catalogue.PLACES,
        (0, OPEN),
        (False, True),
    )
)


def test_every_cause_in_every_state_place_and_fault():
    for before, state, confirmed, hot, lost, place, faults, unreadable in EVERY:
        engine = SimpleNamespace(state=state, confirmed=confirmed, hot=hot, lost=lost)
        found = names(lasting(before, engine, place, faults, unreadable))
        where = (names(before), state, confirmed, hot, lost, place, faults, unreadable, found)
        assert ("probe_fault" in found) == bool(faults), where
        assert ("unreadable" in found) == unreadable, where
        chocolate = found - {"probe_fault", "unreadable"}
        if faults or place == "air":
            assert not chocolate, where
        may = {"too_hot"} if hot else set()
        may |= {"temper_lost"} if lost else set()
        may |= {state} & {"too_warm", "too_cool"}
        assert chocolate <= may, where
        if place in ("unknown", "entering") and not faults:
            assert chocolate == may & names(before), where
        if place == "chocolate" and not faults:
            assert chocolate >= may & (names(before) | {"too_hot"}), where
            assert not confirmed or chocolate == may, where


def test_the_most_important_comes_first():
    assert sorted(NAMES, key=lambda name: -sounds.find(name)[3])[0] == NAMES[0]
