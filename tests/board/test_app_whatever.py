"""Whatever hands, host, flash, clock and probe do: the loop goes on, a lasting fault or an old
reading ends with the beeper on, and silence lasts only until something new happens.

The inputs are drawn by hypothesis; each minute of a run is a leg of the probe's course.
"""

import errno
from itertools import pairwise
from unittest import mock

import pytest
from app_rig import BATCH, AppRig, course
from board_fakes import MELT, profile_bytes, request
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from snapcurve.probe import sounds
from snapcurve.wire import catalogue

OPEN = catalogue.fault_bit("open")
FROZEN = catalogue.fault_bit("frozen")
LONG_MS = 150_000  # a life
NOT_OF_THE_PROBE = {  # what may be told although there is no reading
    *("store_fault", "store_full", "store_low", "test_early", "test_due", "test_late"),
}
FAULT_SOON_MS = 15_000  # by then a lasting fault has sounded; stopped conversions take 12 s
HOLDS = ("work", "hold", 3330, 2900, 3000, 20, 0)
SEEDING = profile_bytes(MELT, HOLDS)
THREE_STEP = profile_bytes(MELT, ("cool", "fall", 2700, 0, 0, 20, 30), HOLDS)
OTHER = profile_bytes(HOLDS, method="hold")
PROFILES = [SEEDING, THREE_STEP, OTHER, None]

LEGS = st.lists(
    st.tuples(
        st.sampled_from(["in", "to", "out"]),
        st.sampled_from([5.0, 24.0, 28.0, 29.5, 31.0, 34.5, 46.0, 55.0, 240.0]),
        st.integers(1, 40),
    ),
    min_size=1,
    max_size=6,
)
REQUESTS = (
    [request("mark", token, mark, token) for token, mark in enumerate(catalogue.MARKS)]
    + [request("mark", 100 + token, mark, 0) for token, mark in enumerate(catalogue.MARKS)]
    + [request("sound", name) for name in ("none", "too_warm", "reached", "probe_fault")]
    + [request("volume_set", volume, hours) for volume in catalogue.VOLUMES for hours in (0, 1)]
    + [request("clock_set", unix_s, 0) for unix_s in (0, 1, 1_800_000_000, 0xFFFFFFFF)]
    + [request("profile_put", raw) for raw in (SEEDING, OTHER, b"", b"\xff" * 60)]
    + [request("live_on", 100), request("live_off"), request("reading_get"), request("hello")]
    + [request("curves_list", 0), request("curve_read", 1, 0, 1024), request("bath", 5)]
    + [request("curve_erase", 1, 0, 0), request("calibration_put", b"")]
)
HOST = st.lists(
    st.tuples(
        st.integers(0, LONG_MS),
        st.sampled_from(REQUESTS) | st.binary(min_size=1, max_size=40),
    ),
    max_size=12,
)
PRESSES = st.lists(st.tuples(st.integers(0, LONG_MS), st.integers(50, 4000)), max_size=12)
# Milliseconds by which the whole board stands still, or the tick counter steps back.
JUMPS = st.lists(
    st.tuples(st.integers(0, LONG_MS), st.sampled_from([-40, 400, 2500, 30_000, 7_200_000])),
    max_size=3,
)
STORE_FAILS = st.none() | st.tuples(
    st.sampled_from(["append", "begin", "has_room", "save", "free", "end", "statvfs"]),
    st.integers(0, LONG_MS),
    st.integers(1, LONG_MS),
)
QUICK = settings(
    phases=(Phase.generate,),
    max_examples=12,
)


class Life:
    """A rig to which everything happens at its time."""

    def __init__(self, folder, legs, profile=SEEDING, presses=(), faults=(), first_tick=0):
        points = course(*((s, what) if what == "out" else (s, what, c) for what, c, s in legs))
        self.end_ms = points[-1][0]
        spans = [(start, start + length) for start, length in presses]
        self.rig = AppRig(
            folder, points, profile, presses=spans, faults=list(faults), first_tick=first_tick
        )
        self.todo = []
        self.steps = 0

    def at(self, ms, action):
        self.todo.append((ms, action))

    def hear(self, host):
        for ms, raw in host:
            self.at(ms, lambda raw=raw: self.rig.parts.stream.inbox.extend(raw))

    def jump(self, jumps):
        def by(length_ms):
            self.rig.parts.clock.ms += max(length_ms, 0)
            self.rig.parts.clock.first_tick += min(length_ms, 0)

        for ms, length_ms in jumps:
            self.at(ms, lambda length_ms=length_ms: by(length_ms))

    def fail(self, fails):
        if fails is None:
            return
        name, from_ms, length_ms = fails
        store = self.rig.app.store

        def failing(*_args):
            raise OSError(errno.EIO)

        if name == "statvfs":
            patch = mock.patch("os.statvfs", failing)
        else:
            patch = mock.patch.object(store, name, failing)
        self.at(from_ms, patch.start)
        self.at(from_ms + length_ms, patch.stop)

    def run(self, until_ms):
        """Step as the app asks for, doing what is due before each step."""
        clock, app = self.rig.parts.clock, self.rig.app
        self.todo.sort(key=lambda row: row[0])
        try:
            while clock.ms < until_ms:
                while self.todo and self.todo[0][0] <= clock.ms:
                    self.todo.pop(0)[1]()
                sleep_ms = app.step()
                assert 0 <= sleep_ms <= 250, "four readings a second"
                clock.ms += max(1, sleep_ms)
                self.steps += 1
                assert self.steps < 400_000, "the loop does not sleep any more"
        finally:
            mock.patch.stopall()
        return self

    def alarms_since(self, ms):
        return [name for at_ms, name, *_ in self.rig.parts.alarms if at_ms >= ms]


@QUICK
@given(LEGS, PRESSES, HOST, JUMPS, STORE_FAILS, st.sampled_from(PROFILES))
def test_nothing_stops_the_loop(tmp_path_factory, legs, presses, host, jumps, fails, profile):
    life = Life(tmp_path_factory.mktemp("store"), legs, profile, presses)
    life.hear(host)
    life.jump(jumps)
    life.fail(fails)
    life.run(max(life.end_ms, LONG_MS))
    life.run(life.rig.parts.clock.ms + 1)  # a jump may be due just then
    life.run(life.rig.parts.clock.ms + 5000)
    assert life.rig.app.thermometer.age_ms(life.rig.app.uptime.now()) <= 1000
    assert life.rig.parts.beeper.log, "it has said hello at least"


@QUICK
@given(LEGS, PRESSES, HOST, JUMPS, STORE_FAILS, st.sampled_from([OPEN, FROZEN]))
def test_a_lasting_fault_or_an_old_reading_ends_with_the_beeper_on(
    tmp_path_factory, legs, presses, host, jumps, fails, fault
):
    """FROZEN: the converter converts no more, and its last value would look like news."""
    torn_ms = LONG_MS + 7_200_000 * sum(length > 100_000 for _, length in jumps)
    # Whoever presses when it has sounded has heard it, and it is silent; it sounds after 1.25 s.
    presses = [(at_ms, length) for at_ms, length in presses if at_ms + length < LONG_MS + 1000]
    life = Life(
        tmp_path_factory.mktemp("store"), legs, SEEDING, presses, [(torn_ms, 1 << 40, fault)]
    )
    life.hear(host)
    life.jump(jumps)
    life.fail(fails)
    life.run(torn_ms + 1)
    life.run(life.rig.parts.clock.ms + 1)  # a jump may be due just then
    life.run(life.rig.parts.clock.ms + FAULT_SOON_MS)
    app, parts = life.rig.app, life.rig.parts
    assert app.thermometer.faults
    since = life.alarms_since(torn_ms)
    assert since.count("probe_fault") == 1
    assert set(since[since.index("probe_fault") + 1 :]) <= NOT_OF_THE_PROBE
    assert app.reading(app.uptime.now())[3] == catalogue.CENTI_NONE, "an old value is shown as new"
    assert app.reading(app.uptime.now())[5] == catalogue.CENTI_NONE
    # It repeats for ever: within each half minute, and nothing else that repeats takes its place.
    start_ms = parts.clock.ms
    its_turn_ms = [start_ms]
    while parts.clock.ms < start_ms + 120_000:
        if app.sounder.playing == "probe_fault":
            its_turn_ms.append(parts.clock.ms)
        else:
            assert app.sounder.playing in NOT_OF_THE_PROBE
        life.run(parts.clock.ms + 500)
    assert max(b - a for a, b in pairwise([*its_turn_ms, parts.clock.ms])) < 5000
    on_ms = [ms for ms, hz in parts.beeper.log if hz and ms >= start_ms - 35_000]
    assert max(b - a for a, b in pairwise(on_ms)) < 35_000


def test_the_other_converter_sees_an_open_circuit_too(tmp_path):
    """A MAX31855 has no sign of stopped conversions but the same value for ever, which a
    still bath in steps of a quarter of a degree has as well; a torn wire it reports."""
    faults = [(100_000, 1 << 40, OPEN)]
    rig = AppRig(tmp_path, course((60, "in", 29.5)), faults=faults, converter="MAX31855")
    rig.run(99_000)
    assert rig.app.batch.estimate.chocolate_c == pytest.approx(29.5, abs=0.3)
    rig.run(115_000)
    assert rig.app.sounder.playing == "probe_fault"


@QUICK
@given(
    LEGS,
    st.lists(st.integers(0, LONG_MS), min_size=1, max_size=8),
    st.booleans(),
    st.integers(0, 3),
)
def test_silence_ends_with_the_next_alarm(tmp_path_factory, legs, silences_ms, by_host, volume):
    """After any silencing every new alarm is heard: its own rhythm comes out of the beeper, or
    a more important one does."""
    presses = [] if by_host else [(ms, 200) for ms in silences_ms]
    life = Life(tmp_path_factory.mktemp("store"), legs, SEEDING, presses)
    life.rig.app.sounder.volume = volume
    if by_host:
        life.hear([(ms, request("mark", n, "silence", 0)) for n, ms in enumerate(silences_ms)])
    app = life.rig.app
    heard = []
    play = app.sounder.play

    def noted(now_ms, name, shown=False):
        play(now_ms, name, shown)
        heard.append((now_ms, name, app.sounder.playing))

    app.sounder.play = noted
    life.run(max(life.end_ms, LONG_MS))
    played = [(ms, name) for ms, name, _ in heard]
    for ms, name, *_ in life.rig.parts.alarms:
        assert (ms, name) in played, "an alarm without a sound"
    assert all(playing != "none" for _, _, playing in heard)
    on_ms = [ms for ms, hz in life.rig.parts.beeper.log if hz]
    for ms, name, playing in heard:
        if playing != name:
            # It waits behind a more important one, which nobody has silenced since.
            assert sounds.find(playing)[3] >= sounds.find(name)[3]
        elif ms < life.rig.parts.clock.ms - 1000 and not any(
            abs(press_ms - ms) < 1500 for press_ms in silences_ms
        ):
            assert any(ms - 1000 <= tone_ms <= ms + 1000 for tone_ms in on_ms)


@settings(max_examples=15)
@given(LEGS, PRESSES, HOST, st.integers(1, LONG_MS))
def test_a_wrap_of_the_ticks_changes_nothing(tmp_path_factory, legs, presses, host, wrap_ms):
    """The same life with and without: the same alarms, sounds, answers and bytes."""
    found = []
    for first_tick in (0, (1 << 30) - wrap_ms):
        folder = tmp_path_factory.mktemp("store")
        life = Life(folder, legs, SEEDING, presses, first_tick=first_tick)
        life.hear(host)
        life.run(LONG_MS + 5000)  # by then no press lasts
        parts = life.rig.end().parts
        files = {path.name: path.read_bytes() for path in sorted(folder.iterdir())}
        found.append((parts.alarms, parts.beeper.log, bytes(parts.stream.outbox), files))
    assert found[0] == found[1]


@pytest.mark.parametrize("wrap_s", [5, 90.1, 200])
def test_a_wrap_in_a_batch_with_a_dip_test_and_skipped_phases(tmp_path_factory, wrap_s):
    presses = [(100_000, 200), (130_000, 200), (130_400, 200), (130_800, 200)]
    found = []
    for first_tick in (0, (1 << 30) - int(wrap_s * 1000)):
        folder = tmp_path_factory.mktemp("store")
        spans = [(start, start + length) for start, length in presses]
        rig = AppRig(folder, BATCH, THREE_STEP, presses=spans, first_tick=first_tick)
        rig.run(390_000)
        rig.end()
        found.append((rig.parts.alarms, rig.parts.beeper.log, rig.curve()))
    assert found[0] == found[1]
    assert found[0][0]
