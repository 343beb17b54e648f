"""Readings with their age and their fault.

One spurious fault changes nothing but a missing sample; a fault that stays is named. An
old value is never shown as new: whoever asks gets the age with it.
"""

from wire.catalogue import CENTI_NONE, fault_bit

from .max31856 import FAULT_CONFIG, NO_READING

PERIOD_MS = 250
# The first conversion after new settings takes longer than the others: up to 185 ms, plus
# 40 ms for each reading of the average after the first, at 50 Hz.
FIRST_MS = 500
FAULT_AFTER_MS = 1500  # a fault seen for so long is real
FAULT_CLEARED_MS = 1000  # good readings for so long end it
STALE_AFTER_MS = 2000
RANGE_128THS = 0x7FFF  # what a curve can hold: +-255.99 °C
_STALE = fault_bit("stale")


class Thermometer:
    """Reads the converter every PERIOD_MS and keeps what the rest needs.

    ``value_128ths``  the last good corrected reading in 1/128 °C, or NO_READING
    ``value_ms``      when it was taken
    ``room_centi_c``  cold junction, the board's idea of the room, or CENTI_NONE
    ``faults``        bits of a fault that stays; 0 if all is well
    """

    def __init__(self, converter, corrected=None):
        """``corrected`` maps an indicated to a corrected value, both in 1/128 °C."""
        self._converter = converter
        self._corrected = corrected
        self._due_ms = 0
        self._configured = False
        self._bad_since_ms = -1
        self._good_since_ms = -1
        self.value_128ths = NO_READING
        self.value_ms = 0
        self.room_centi_c = CENTI_NONE
        self.faults = 0

    def age_ms(self, now_ms: int) -> int:
        """How old the last good reading is."""
        return now_ms - self.value_ms

    def step(self, now_ms: int) -> bool:
        """Read if it is time; True if there is a new good reading."""
        if now_ms < self._due_ms:
            return False
        # On an even grid, but never trying to catch up after a long stop.
        self._due_ms += PERIOD_MS
        if self._due_ms <= now_ms:
            self._due_ms = now_ms + PERIOD_MS
        if not self._configured:
            self._converter.configure()
            self._configured = True
            # Whatever the chip holds until then is from before the settings.
            self._due_ms = now_ms + FIRST_MS
            return False
        converter = self._converter
        converter.read()
        if converter.cold_64ths != NO_READING:
            self.room_centi_c = converter.cold_64ths * 100 // 64
        if converter.faults & FAULT_CONFIG:
            self._configured = False
        if converter.faults == 0 and abs(converter.hot_128ths) <= RANGE_128THS:
            self._good(now_ms, converter.hot_128ths)
            return True
        self._bad(now_ms, converter.faults or _STALE)
        return False

    def due_ms(self) -> int:
        """When ``step`` wants to be called again."""
        return self._due_ms

    def _good(self, now_ms: int, indicated_128ths: int) -> None:
        if self._corrected is not None:
            indicated_128ths = self._corrected(indicated_128ths)
        self.value_128ths = indicated_128ths
        self.value_ms = now_ms
        self._bad_since_ms = -1
        if self._good_since_ms < 0:
            self._good_since_ms = now_ms
        if self.faults and now_ms - self._good_since_ms >= FAULT_CLEARED_MS:
            self.faults = 0

    def _bad(self, now_ms: int, faults: int) -> None:
        self._good_since_ms = -1
        if self._bad_since_ms < 0:
            self._bad_since_ms = now_ms
        if now_ms - self._bad_since_ms >= FAULT_AFTER_MS:
            self.faults = faults
        if self.age_ms(now_ms) > STALE_AFTER_MS:
            self.value_128ths = NO_READING
            if self._converter.cold_64ths == NO_READING:
                self.room_centi_c = CENTI_NONE
