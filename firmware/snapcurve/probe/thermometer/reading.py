"""Readings with their age and their fault.

One spurious fault changes nothing but a missing sample; a fault that stays, or comes again
and again, is named. A reading waits for its successor: the median of three passes every
rise and fall unchanged and no single wild value, at the cost of a quarter of a second. Each
value has its age, so that an old one is never shown as new.
"""

from snapcurve.wire.catalogue import CENTI_NONE, fault_bit
from snapcurve.wire.const import const

from .max31856 import FAULT_CONFIG, NO_READING

_PERIOD_MS = const(250)
# The first conversion after new settings: up to 185 ms, plus 40 ms for each reading of the
# average after the first, at 50 Hz.
_FIRST_MS = const(500)
_STALE_AFTER_MS = const(2000)
_GAP_MS = const(1000)  # readings further apart are no neighbours
_RANGE_128THS = const(0x7FFF)  # what a curve can hold: +-255.99 °C
_TC_RANGE = fault_bit("tc_range")
# A fault: _BAD_OF_RECENT of the last _RECENT readings (two seconds) are bad. A fault that shows
# in three of four readings is found within seven.
_RECENT = const(8)
_BAD_OF_RECENT = const(5)
_FAULT_CLEARED_MS = const(1000)  # good readings for so long end it


class Thermometer:
    """Reads the converter every _PERIOD_MS.

    ``value_128ths``        the last good corrected reading in 1/128 °C, or NO_READING
    ``uncorrected_128ths``  the same before the correction
    ``value_ms``            when it was taken
    ``room_centi_c``        cold junction, the board's idea of the room, or CENTI_NONE
    ``faults``              bits of a fault that stays; 0 if all is well
    ``corrected``           maps an indicated to a corrected value, both in 1/128 °C, or None
    """

    def __init__(self, converter=None, corrected=None):
        self.corrected = corrected
        self._due_ms = 0
        self._recent = 0
        self._read_ms = -1
        self._good_since_ms = -1
        self.fit(converter)

    def fit(self, converter) -> None:
        """Read ``converter`` from now on; what another one read is forgotten."""
        self._converter = converter
        self._configured = False
        # The two newest good readings; the newest one waits for its successor.
        self._before = self._waiting = NO_READING
        self.value_128ths = self.uncorrected_128ths = NO_READING
        self._waiting_ms = self.value_ms = 0
        self.room_centi_c = CENTI_NONE
        self.faults = 0

    def age_ms(self, now_ms: int) -> int:
        """How old the last good reading is."""
        return now_ms - self.value_ms

    def value_c(self):
        """The last good corrected reading in °C, or None."""
        return None if self.value_128ths == NO_READING else self.value_128ths / 128

    def room_c(self):
        """The room's temperature in °C, or None."""
        return None if self.room_centi_c == CENTI_NONE else self.room_centi_c / 100

    def step(self, now_ms: int) -> bool:
        """Read if it is time; True if there is a new good reading."""
        if now_ms < self._due_ms:
            return False
        # On an even grid, but never trying to catch up after a long stop.
        self._due_ms += _PERIOD_MS
        if self._due_ms <= now_ms:
            self._due_ms = now_ms + _PERIOD_MS
        if not self._configured:
            self._converter.configure()
            self._configured = True
            # Until then the chip's results are from before the settings.
            self._due_ms = now_ms + _FIRST_MS
            return False
        converter = self._converter
        converter.read()
        if converter.cold_64ths != NO_READING:
            self.room_centi_c = converter.cold_64ths * 100 // 64
        if converter.faults & FAULT_CONFIG:
            self._configured = False
        faults = converter.faults
        if faults == 0 and not -_RANGE_128THS <= converter.hot_128ths <= _RANGE_128THS:
            faults = _TC_RANGE
        self._judge(now_ms, faults)
        return faults == 0 and self._take(now_ms, converter.hot_128ths)

    def due_ms(self) -> int:
        """When ``step`` wants to be called again."""
        return self._due_ms

    def _take(self, now_ms: int, indicated_128ths: int) -> bool:
        """Let a good reading in; True if it has let the one before it out."""
        first, second, second_ms = self._before, self._waiting, self._waiting_ms
        self._waiting = indicated_128ths
        self._waiting_ms = now_ms
        if now_ms - second_ms > _GAP_MS:
            second = NO_READING
        self._before = second
        if min(first, second) == NO_READING:
            return False
        middle = max(min(first, second), min(max(first, second), indicated_128ths))
        self.uncorrected_128ths = middle
        if self.corrected is not None:
            middle = max(-_RANGE_128THS, min(_RANGE_128THS, self.corrected(middle)))
        self.value_128ths = middle
        self.value_ms = second_ms
        return True

    def _judge(self, now_ms: int, faults: int) -> None:
        """Decide whether there is a fault that stays."""
        # A reading counts for all the time since the one before it.
        passed = 1
        if self._read_ms >= 0:
            passed = min(_RECENT, max(1, (now_ms - self._read_ms) // _PERIOD_MS))
        self._read_ms = now_ms
        recent = self._recent
        for _ in range(passed):
            recent = (recent << 1 | (1 if faults else 0)) & 0xFF
        self._recent = recent
        if not faults:
            if self._good_since_ms < 0:
                self._good_since_ms = now_ms
            if self.faults and now_ms - self._good_since_ms >= _FAULT_CLEARED_MS:
                self.faults = 0
                self._recent = 0
            return
        self._good_since_ms = -1
        bad = 0
        while recent:
            bad += recent & 1
            recent >>= 1
        if bad >= _BAD_OF_RECENT:
            self.faults = faults
        if self.age_ms(now_ms) > _STALE_AFTER_MS:
            self.value_128ths = self.uncorrected_128ths = NO_READING
            if self._converter.cold_64ths == NO_READING:
                self.room_centi_c = CENTI_NONE
