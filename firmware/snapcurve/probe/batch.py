"""A batch: each reading is judged, and what follows is sounded and recorded as a curve."""

from snapcurve.wire import catalogue
from snapcurve.wire.const import const

from .tempering.dip_test import DipTest
from .tempering.engine import Engine
from .thermometer.max31856 import NO_READING

# Bits of the urgent sounds, in the order of sounds.URGENT.
_PROBE_FAULT = const(1)
_TOO_HOT = const(2)
_TEMPER_LOST = const(4)
_TOO_WARM = const(8)
_TOO_COOL = const(16)
_UNREADABLE = const(32)
_SAME_FAULT_MS = const(60000)


def lasting(before: int, engine, place: str, faults: int, unreadable: int) -> int:
    """The urgent sounds that have a cause now; ``before`` is the same a step ago.

    Nothing is cleared by name. Without a reading, or with the probe in the air, the chocolate
    is not known. Back in it, its state has no cause until the engine has confirmed it. Where
    the probe's place is not known, a cause stays.
    """
    always = _UNREADABLE if unreadable else 0
    if faults:
        return always | _PROBE_FAULT
    if place == "air":
        return always
    found = 0
    if engine.state == "too_warm":
        found = _TOO_WARM
    elif engine.state == "too_cool":
        found = _TOO_COOL
    if engine.hot:
        found |= _TOO_HOT
    if engine.lost:
        found |= _TEMPER_LOST
    fresh = 0
    if place == "chocolate":
        fresh = -1 if engine.confirmed else _TOO_HOT
    return always | found & (before | fresh)


class Batch:
    """The running batch, if ``recorder.running``.

    ``engine`` walks its phases and ``dip_test`` times its blades. ``returned``: it went on
    after a long absence of the probe (resumption.py), and may still turn out to be a new one.
    ``witness`` is None or is called with each alarm.
    """

    def __init__(self, settings, thermometer, estimate, sounder, recorder, witness):
        self._settings = settings
        self._thermometer = thermometer
        self._sounder = sounder
        self._witness = witness
        self.estimate = estimate
        self.recorder = recorder
        self.engine = Engine()
        self.dip_test = DipTest()
        self.returned = False
        self._out = False
        self._faults = 0
        self._same_fault_ms = 0  # one that comes back until then is the same one
        self._alarms = []
        self._urgent = 0
        self._held_off_ms = 0  # until then no batch begins by itself
        self._clock_offset_ms = -1  # unix ms at start-up, -1: not set

    # --- readings -------------------------------------------------------------------

    def probe(self):
        """What the probe and the room are at (°C or None), and where the probe is."""
        room_c = self.estimate.room_c()
        if room_c is None:
            room_c = self._thermometer.room_c()
        return self._thermometer.value_c(), room_c, self.estimate.place

    def estimate_centi_c(self) -> int:
        """What the chocolate is at in 1/100 °C, or CENTI_NONE."""
        if self.estimate.place not in ("chocolate", "entering"):
            return catalogue.CENTI_NONE
        return max(-30000, min(30000, round(self.estimate.chocolate_c * 100)))

    def judge(self, now_ms: int) -> None:
        """Take the thermometer's new reading."""
        estimate = self.estimate
        engine = self.engine
        junction = self._thermometer.room_centi_c
        estimate.update(
            now_ms,
            self._thermometer.value_128ths,
            None if junction == catalogue.CENTI_NONE else junction * 128 // 100,
            engine.bowl(),
        )
        if not self.recorder.running:
            return
        self.recorder.reading(self._thermometer.value_128ths)
        if estimate.place == "air":
            if not self._out:
                self._out = True
                self.alarm(now_ms, "probe_out")
            engine.pause(True)
            return
        if estimate.place != "chocolate":
            engine.pause()
            return
        if self._out:
            self._out = False
            self.alarm(now_ms, "probe_in")
        if not estimate.trusted:
            engine.pause()
            return
        if estimate.doubtful:
            engine.cooled(estimate.chocolate_c)
            return
        alarms = self._alarms
        engine.step(
            now_ms,
            estimate.chocolate_c,
            estimate.rate_c_per_s,
            alarms,
            estimate.spread_c,
            estimate.patch_c,
            estimate.immersed_s,
        )
        if self.returned and self._is_anew(alarms):
            alarms.clear()
            self.begin_anew(now_ms, "room")
        while alarms:
            self.alarm(now_ms, *alarms.pop(0))

    def _is_anew(self, alarms) -> bool:
        """Whether what came back turns out to be a new batch: it melts, and was never in its
        window again."""
        engine = self.engine
        for alarm, _ in alarms:
            if alarm == "temper_lost":
                return True
            if alarm != "too_warm":
                self.returned = False
        if engine.confirmed and engine.state == "inside":
            self.returned = False
        return False

    def check_faults(self, now_ms: int) -> None:
        """Note a fault that comes or goes."""
        faults = self._thermometer.faults
        if faults == self._faults:
            return
        before, self._faults = self._faults, faults
        self._note(now_ms, "fault", faults)
        if faults and not before:
            self.estimate.lost()
            self.engine.pause(True)
            if now_ms >= self._same_fault_ms:
                self.alarm(now_ms, "probe_fault")
                self._same_fault_ms = 0
        elif before and not faults:
            if self._same_fault_ms == 0:
                self.alarm(now_ms, "probe_ok")
            self._same_fault_ms = now_ms + _SAME_FAULT_MS

    def urgent(self) -> int:
        """The urgent sounds that have a cause now."""
        place, unreadable = self.estimate.place, self._settings.unreadable
        self._urgent = lasting(self._urgent, self.engine, place, self._faults, unreadable)
        return self._urgent

    def alarm(self, now_ms: int, name: str, phase: str = "") -> None:
        """Sound and record an alarm of ``phase``, the present one if empty."""
        phase = phase or self.engine.phase_kind()
        estimate = self.estimate_centi_c()
        self._sounder.play(now_ms, name)
        if self._witness is not None:
            self._witness(now_ms, name, phase, estimate)
        self._note(now_ms, "alarm", catalogue.ALARMS.index(name), phase, estimate)

    # --- beginning and end ----------------------------------------------------------

    def step(self, now_ms: int) -> bool:
        """Record what is due, end a batch that is over; whether one would begin by itself."""
        recorder = self.recorder
        if not recorder.running:
            if now_ms < self._held_off_ms:
                recorder.disarm()
                return False
            return recorder.wants_to_start(now_ms, *self.probe())
        try:
            recorder.step(now_ms, self._thermometer.room_centi_c)
        except OSError:
            self.store_failed(now_ms)
        if recorder.warning:
            warning, recorder.warning = recorder.warning, ""
            self.alarm(now_ms, warning)
        reason = recorder.wants_to_end(now_ms, *self.probe())
        if reason:
            self.end(now_ms, reason)
        return False

    def hold_off(self, until_ms: int) -> None:
        """Begin no batch by yourself until then, nor afterwards before the probe was back in
        the room."""
        self._held_off_ms = until_ms

    def start(self, now_ms: int, by_hand: bool) -> None:
        """Begin a batch with the stored profile."""
        settings = self._settings
        self.engine.start(settings.profile)
        self.dip_test.begin()
        self.returned = False
        self._out = False
        started = self._recorded(
            now_ms,
            self.recorder.start,
            now_ms,
            self._clock(now_ms),
            settings.calibrated_unix_s,
            b"" if settings.profile is None else settings.profile.raw,
            by_hand,
        )
        if started:
            self._sounder.play(now_ms, "recording", by_hand)
        elif started is False:
            self.alarm(now_ms, "store_full")
        if self._thermometer.value_128ths != NO_READING:
            self.recorder.reading(self._thermometer.value_128ths)
        self.check_settings(now_ms)

    def resume(self, now_ms: int, by_hand: bool, curve: int, *where) -> None:
        """A batch that was broken off goes on ``where`` it was (engine.resume), recorded as
        the continuation of ``curve``."""
        self.start(now_ms, by_hand)
        self.engine.resume(*where)
        self._sounder.play(now_ms, "resumed")
        self._note(now_ms, "resumed", 0, number=curve)

    def end(self, now_ms: int, reason: str) -> None:
        """End the batch and its curve."""
        self.engine.start(None)
        self.dip_test.stop()
        if self._sounder.playing != "stopped":  # not while it answers a long press
            self._sounder.silence()
            if reason != "button":  # that was answered while it was still down
                self._sounder.play(now_ms, "stopped")
        self._recorded(now_ms, self.recorder.end, now_ms, reason)

    def begin_anew(self, now_ms: int, reason: str) -> None:
        """End the curve; the batch goes on as a new one."""
        self._recorded(now_ms, self.recorder.end, now_ms, reason)
        self.start(now_ms, False)

    # --- what is recorded -----------------------------------------------------------

    def _recorded(self, now_ms: int, work, *values):
        """What ``work(*values)`` gives; None if the store fails, which stops nothing else."""
        try:
            return work(*values)
        except OSError:
            self.store_failed(now_ms)
            return None

    def store_failed(self, now_ms: int) -> None:
        """Say so once, and guide the batch without a curve."""
        try:
            self.recorder.abandon(self.recorder.ended or "store_full")
        except OSError:
            pass
        self.alarm(now_ms, "store_fault")

    def _note(
        self, now_ms, kind, code, phase="", estimate_centi_c=catalogue.CENTI_NONE, number=0
    ) -> None:
        phase = phase or self.engine.phase_kind()
        self._recorded(
            now_ms, self.recorder.event, now_ms, kind, code, phase, estimate_centi_c, number
        )

    def note_mark(self, now_ms: int, mark: str, number: int) -> None:
        """Record a mark."""
        code = catalogue.MARKS.index(mark)
        self._note(now_ms, "mark", code, "", self.estimate_centi_c(), number)

    def check_settings(self, now_ms: int) -> None:
        """Sound that a stored setting cannot be read."""
        if self._settings.unreadable:
            self.alarm(now_ms, "unreadable")

    def step_dip_test(self, now_ms: int) -> None:
        """Sound what is due of the dip test."""
        profile = self._settings.profile
        alarm = None if profile is None else self.dip_test.step(now_ms, profile)
        if alarm:
            self.alarm(now_ms, alarm)

    def set_clock(self, now_ms: int, unix_s: int, unix_ms: int) -> None:
        """It is ``unix_s`` and ``unix_ms`` now."""
        self._clock_offset_ms = unix_s * 1000 + unix_ms - now_ms
        self._recorded(now_ms, self.recorder.clock_set, now_ms, unix_s, unix_ms)

    def _clock(self, now_ms: int):
        """``(unix_s, unix_ms)``; zeros if not set, or later than a curve can hold."""
        unix_ms = self._clock_offset_ms + now_ms
        if self._clock_offset_ms < 0 or unix_ms // 1000 > 0xFFFFFFFF:
            return 0, 0
        return unix_ms // 1000, unix_ms % 1000
