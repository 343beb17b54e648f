"""The loop: every part has a step, called in order, and says when it wants the next.

Everything comes in through ``parts`` (see boards/): the app runs the same on a board, on
the desk and in a test that moves the clock millisecond by millisecond.
"""

from snapcurve.wire import catalogue, codec
from snapcurve.wire.const import const
from snapcurve.wire.errors import WireError
from snapcurve.wire.frame import FrameWriter
from snapcurve.wire.version import __version__

from . import causes, live, stored
from .button import Button
from .link import Link
from .marks import Marks
from .recorder import Recorder
from .requests import Requests
from .resuming import Resuming
from .sounder import Sounder
from .store import Store
from .tempering.engine import Engine
from .tempering.estimate import Estimate
from .thermometer.max31856 import NO_READING
from .thermometer.reading import Thermometer
from .ticks import Uptime

VERSION = tuple([int(part) for part in __version__.split(".")])
_LONGEST_SLEEP_MS = const(250)
_CURVE_PART = catalogue.message_number("curve_read_answer")
VOLUME = "volume"
_STUCK = const(4)  # "button" of catalogue.TROUBLES


class App:
    """The whole probe.

    ``parts`` has ``converter``, ``beeper``, ``pressed``, ``stream``, ``store_root``,
    ``ticks_ms``, ``tick_period``, ``sleep_ms``, ``board_id``, ``board_name``,
    ``restarted`` (by a reset, not by switching on), ``watch`` (starts the watchdog and gives
    what feeds it) and ``witness`` (None, or called with each alarm; the desk board tells the
    rehearsal).
    """

    def __init__(self, parts):
        self._parts = parts
        self.version = VERSION
        self.board_id = parts.board_id
        self.board_name = parts.board_name
        self.uptime = Uptime(parts.ticks_ms, parts.tick_period)
        self.store = Store(parts.store_root)
        self.thermometer = Thermometer(parts.converter)
        self.converter = (parts.converter.name, parts.converter.tc_type)
        self.estimate = Estimate()
        self.engine = Engine()
        self.sounder = Sounder(parts.beeper)
        self.button = Button(parts.pressed)
        self.marks = Marks(self, self._raise, self._note_mark, self._start_curve, self._end_curve)
        self.recorder = Recorder(self.store, VERSION, parts.board_id)
        writer = FrameWriter()
        # A part of a curve is read straight to its place in the answer.
        part_at = writer.PAYLOAD_AT + codec.fixed_size(catalogue.message_record(_CURVE_PART))
        chunk = writer.body[part_at : part_at + catalogue.CURVE_CHUNK_MAX]
        self.link = Link(parts.stream, Requests(self, chunk), writer)
        self.resuming = Resuming(self)
        self.profile = None
        self._calibrated_unix_s = 0
        self._unreadable = 0  # bits of catalogue.TROUBLES
        self._held_off_ms = 0  # until then no curve begins by itself
        self._clock_offset_ms = -1  # unix ms at start-up, -1: not set
        self._fault = 0
        self._out = False
        self._alarms = []
        self._lasting = 0  # the urgent sounds that have a cause, as bits of causes.NAMES
        self._now_ms = 0

    def start(self) -> None:
        """Open the store, take the stored profile, say hello."""
        self._now_ms = self.uptime.now()
        try:
            self.store.start()
            self.sounder.play(self._now_ms, "hello")
        except OSError:
            self._store_fault()
        raw = self.store.load(VOLUME)
        if raw:
            self.sounder.volume = min(raw[0], len(catalogue.VOLUMES) - 1)
        self.profile, bad_profile = stored.profile_of(self.store)
        self._calibrated_unix_s, bad_calibration = stored.calibrate(
            self.store, self.thermometer, self.estimate
        )
        self._unreadable = bad_profile | bad_calibration
        self._tell_unreadable(self._now_ms)
        self.resuming.start(self._parts.store_root, self._parts.restarted)

    def run(self) -> None:
        """Step for ever, and show the watchdog that we do."""
        feed = self._parts.watch()
        while True:
            self._parts.sleep_ms(self.step())
            feed()

    def step(self) -> int:
        """Do what is due; milliseconds until there is more to do."""
        now_ms = self._now_ms = self.uptime.now()
        if self.thermometer.step(now_ms):
            self._on_reading(now_ms)
        self._check_fault(now_ms)
        self.resuming.step(now_ms)
        self._keep_curve(now_ms)
        self.marks.step(now_ms)
        self.link.step(now_ms)
        engine = self.engine
        self._lasting = causes.lasting(
            self._lasting,
            engine.state,
            engine.confirmed,
            engine.hot,
            engine.lost,
            self.estimate.place,
            self._fault,
            self._unreadable != 0,
        )
        self.sounder.keep(now_ms, self._lasting)
        self.sounder.step(now_ms)
        due_ms = min(
            self.thermometer.due_ms(),
            self.button.due_ms(),
            self.recorder.due_ms(),
            self.link.due_ms(),
            self.sounder.due_ms(),
        )
        return max(0, min(due_ms - self.uptime.now(), _LONGEST_SLEEP_MS))

    # --- readings -------------------------------------------------------------------

    def _value_c(self):
        value = self.thermometer.value_128ths
        return None if value == NO_READING else value / 128

    def _room_c(self):
        room = self.thermometer.room_centi_c
        return None if room == catalogue.CENTI_NONE else room / 100

    def feels(self):
        """What the probe says, what the room is at (°C or None), and where the probe is."""
        return self._value_c(), self._room_c(), self.estimate.place

    def _on_reading(self, now_ms: int) -> None:
        estimate = self.estimate
        estimate.update(now_ms, self._value_c(), self._room_c())
        if not self.recorder.running:
            return
        self.recorder.reading(self.thermometer.value_128ths)
        if estimate.place == "air":
            if not self._out:
                self._out = True
                self._raise(now_ms, "probe_out", self.engine.phase_kind())
            self.engine.pause(True)
        elif estimate.place == "chocolate":
            if self._out:
                self._out = False
                self._raise(now_ms, "probe_in", self.engine.phase_kind())
            if not estimate.trusted:
                self.engine.pause()
                return
            if estimate.slipping:
                return  # perhaps just taken out: the next readings will tell
            alarms = self._alarms
            self.engine.step(
                now_ms,
                estimate.chocolate_c,
                estimate.rate_c_per_s,
                alarms,
                estimate.spread_c,
                estimate.patch_c,
                estimate.inside_s,
            )
            if self.resuming.returned and self._is_anew(alarms):
                alarms.clear()
                self._close_curve(now_ms, "room")
                self._start_curve(now_ms, False)
            while alarms:
                self._raise(now_ms, *alarms.pop(0))
        else:
            self.engine.pause()

    def _is_anew(self, alarms) -> bool:
        """Whether what was put back in after a long absence turns out to be a new batch: it
        melts, and was never in its window again."""
        engine = self.engine
        for alarm, _ in alarms:
            if alarm == "temper_lost":
                return True
            if alarm != "too_warm":
                self.resuming.returned = False
        if engine.confirmed and engine.state == "inside":
            self.resuming.returned = False
        return False

    def _check_fault(self, now_ms: int) -> None:
        faults = self.thermometer.faults
        if faults == self._fault:
            return
        before, self._fault = self._fault, faults
        kind = self.engine.phase_kind()
        self._note(now_ms, "fault", faults, kind, catalogue.CENTI_NONE, 0)
        if faults and not before:
            self.estimate.lost()
            self.engine.pause(True)
            self._raise(now_ms, "probe_fault", kind)
        elif before and not faults:
            self._raise(now_ms, "probe_ok", kind)

    def estimate_centi_c(self) -> int:
        """What the chocolate is at in 1/100 °C, or CENTI_NONE."""
        if self.estimate.place not in ("chocolate", "entering"):
            return catalogue.CENTI_NONE
        return max(-30000, min(30000, round(self.estimate.chocolate_c * 100)))

    def _raise(self, now_ms: int, alarm: str, phase: str) -> None:
        """Sound an alarm, record it, tell whoever watches."""
        self.sounder.play(now_ms, alarm)
        code = catalogue.ALARMS.index(alarm)
        estimate = self.estimate_centi_c()
        if self._parts.witness is not None:
            self._parts.witness(now_ms, alarm, phase, estimate)
        self._note(now_ms, "alarm", code, phase, estimate, 0)

    def go_on(self, now_ms: int, by_hand: bool, curve: int, *where) -> None:
        """A batch that was broken off goes on ``where`` it was (engine.resume), recorded as
        the continuation of ``curve``."""
        self._start_curve(now_ms, by_hand)
        self.engine.resume(*where)
        self.sounder.play(now_ms, "resumed")
        self._note(now_ms, "resumed", 0, self.engine.phase_kind(), catalogue.CENTI_NONE, curve)

    # --- curve ----------------------------------------------------------------------

    def _clock_now(self, now_ms: int):
        if self._clock_offset_ms < 0:
            return 0, 0
        unix_ms = self._clock_offset_ms + now_ms
        if unix_ms // 1000 > 0xFFFFFFFF:
            return 0, 0  # a host's clock gone wild: beyond what a curve can hold
        return unix_ms // 1000, unix_ms % 1000

    def _start_curve(self, now_ms: int, by_hand: bool) -> None:
        raw = b"" if self.profile is None else self.profile.raw
        self.engine.start(self.profile)
        self.marks.begin()
        self.resuming.returned = False
        self._out = False
        try:
            if self.recorder.start(
                now_ms, self._clock_now(now_ms), self._calibrated_unix_s, raw, by_hand
            ):
                self.sounder.play(now_ms, "recording")
            else:
                self._raise(now_ms, "store_full", self.engine.phase_kind())
        except OSError:
            self._store_fault()
        if self.thermometer.value_128ths != NO_READING:
            self.recorder.reading(self.thermometer.value_128ths)
        self._tell_unreadable(now_ms)

    def _end_curve(self, now_ms: int, reason: str) -> None:
        if reason == "room":
            self.resuming.rest(now_ms)
        self.engine.start(None)
        self.marks.dip_test.stop()
        if self.sounder.playing != "stopped":  # not while it answers a long press
            self.sounder.silence()
            self.sounder.play(now_ms, "stopped")
        self._close_curve(now_ms, reason)

    def _close_curve(self, now_ms: int, reason: str) -> None:
        try:
            self.recorder.end(now_ms, reason)
        except OSError:
            self._store_fault()

    def _note(self, now_ms: int, kind: str, code: int, phase: str, estimate: int, number: int):
        """Record an event; a store that fails stops nothing of what the caller is about."""
        try:
            self.recorder.event(now_ms, kind, code, phase, estimate, number)
        except OSError:
            self._store_fault()

    def _keep_curve(self, now_ms: int) -> None:
        feels = self.feels()
        if self.recorder.running:
            try:
                self.recorder.step(now_ms, self.thermometer.room_centi_c)
            except OSError:
                self._store_fault()
            if self.recorder.warning:
                warning, self.recorder.warning = self.recorder.warning, ""
                self._raise(now_ms, warning, self.engine.phase_kind())
            reason = self.recorder.wants_to_end(now_ms, *feels)
            if reason:
                self._end_curve(now_ms, reason)
        elif now_ms < self._held_off_ms:
            self.recorder.disarm()
        elif self.recorder.wants_to_start(now_ms, *feels) and not self.resuming.returns(now_ms):
            self._start_curve(now_ms, False)

    def _store_fault(self) -> None:
        """The flash will not take it: say so once, and guide the batch without a curve."""
        try:
            self.recorder.abandon("store_full")
        except OSError:
            pass
        self._raise(self._now_ms, "store_fault", self.engine.phase_kind())

    def _note_mark(self, now_ms: int, mark: str, number: int) -> None:
        code = catalogue.MARKS.index(mark)
        estimate = self.estimate_centi_c()
        self._note(now_ms, "mark", code, self.engine.phase_kind(), estimate, number)

    def mark(self, mark: str, number: int) -> int:
        """Note ``mark`` in the curve; when it was noted, -1 if there is no such phase or dip."""
        return self._now_ms if self.marks.mark(self._now_ms, mark, number) else -1

    # --- for the link ---------------------------------------------------------------

    def moment(self, at_ms: int = -1):
        """``at_ms`` (-1: now) as (uptime_s, uptime_ms)."""
        if at_ms < 0:
            at_ms = self._now_ms
        return at_ms // 1000, at_ms % 1000

    def set_clock(self, unix_s: int, unix_ms: int) -> None:
        """The host says what time it is now."""
        self._clock_offset_ms = unix_s * 1000 + unix_ms - self._now_ms
        try:
            self.recorder.clock_set(self._now_ms, unix_s, unix_ms)
        except OSError:
            self._store_fault()

    def use_profile(self, profile) -> None:
        """Keep ``profile``; a running curve ends and a new one begins with it."""
        if self.profile is not None and self.profile.raw == profile.raw:
            return
        self.store.save_profile(profile.raw)
        self.profile = profile
        self._unreadable &= ~stored.BAD_PROFILE
        if self.recorder.running:
            self._close_curve(self._now_ms, "button")
            self._start_curve(self._now_ms, False)

    def use_calibration(self, raw: bytes) -> None:
        """Keep ``raw`` as the calibration and correct by it. WireError while a curve runs,
        which is of one calibration."""
        if raw == self.store.calibration():
            return
        if self.recorder.running:
            raise WireError("still_recording")
        self.store.save_calibration(raw)
        self._calibrated_unix_s = stored.correct(raw, self.thermometer, self.estimate)
        self._unreadable &= ~stored.BAD_CALIBRATION

    def troubles(self) -> int:
        """What is wrong with the board itself, as bits of catalogue.TROUBLES."""
        return self._unreadable | (_STUCK if self.button.stuck else 0)

    def _tell_unreadable(self, now_ms: int) -> None:
        """Nothing that is stored and cannot be read is passed over in silence."""
        if self._unreadable:
            self._raise(now_ms, "unreadable", self.engine.phase_kind())

    def hold_off(self, length_ms: int) -> None:
        """Begin no curve by yourself for so long, nor afterwards before the probe was back in
        the room."""
        self._held_off_ms = self._now_ms + length_ms

    def set_volume(self, volume: int, hours: int) -> None:
        """From now on, or for so many ``hours``: a place in catalogue.VOLUMES."""
        if not hours:
            self.store.save(VOLUME, bytes([volume]))
        self.sounder.set_volume(volume, self._now_ms + hours * 3600000 if hours else 0)

    def sound(self, name: str) -> None:
        """Let a sound be heard once, by name; "none" silences."""
        if name == "none":
            self.sounder.silence()
        else:
            self.sounder.play(self._now_ms, name, True)

    def reading(self):
        """The values of catalogue.READING."""
        return live.reading(self)
