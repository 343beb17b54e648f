"""A MAX31855 for the desk board (see probe/thermometer/max31855.py)."""

from snapcurve.probe.thermometer import its90
from snapcurve.probe.thermometer.max31855 import GAIN_MV_PER_C
from snapcurve.wire.const import const

from .chip import shaken

_CONVERSION_MS = const(100)  # the longest, by the data sheet
_BUS = const(0x100)
_FROZEN = const(0x400)
_ANY_FAULT = const(0x10000)
# Fault bits of a tape (wire.catalogue.FAULTS) and the chip's own.
_CAUSES = ((0x0001, 0x1), (0x0800, 0x2), (0x1000, 0x4))
_HOTTEST, _COLDEST = 0x1FFF, -0x2000


class Max31855Model:
    """``world.at(ms)`` gives ``(probe_c, cold_junction_c, fault_bits)``; ``kind`` is
    the type of the thermocouple that is fitted, and the chip's own.

    Has ``write_readinto`` (as machine.SPI) and ``cs`` (as machine.Pin called).
    """

    def __init__(self, now_ms, world, kind: str = "K"):
        self._now_ms = now_ms
        self._world = world
        self._kind = kind
        self._latched_ms = -1
        self._word = 0

    def cs(self, level: int) -> None:
        """Select line: the word is latched while it is low."""
        if level == 0:
            self._convert()

    def write_readinto(self, out, into) -> None:
        """A transfer, whatever goes in. Behind the four bytes of the word nothing comes."""
        word = self._word.to_bytes(4, "big")
        for index in range(len(into)):
            into[index] = word[index] if index < 4 else 0

    def _convert(self) -> None:
        at_ms = self._now_ms() // _CONVERSION_MS * _CONVERSION_MS
        if at_ms == self._latched_ms:
            return
        self._latched_ms = at_ms
        probe_c, cold_c, faults = self._world.at(at_ms)
        if faults & _FROZEN:
            return
        if faults & _BUS:
            self._word = 0xFFFFFFFF
            return
        kind = self._kind
        measured_mv = its90.emf_mv(kind, probe_c) - its90.emf_mv(kind, cold_c)
        shown_c = cold_c + measured_mv / GAIN_MV_PER_C[kind]
        # Noise of about a fifth of a step, as far as the steps let it be seen.
        shown_c += (shaken(at_ms) % 11 - 5) / 100
        quarters = int(shown_c * 4 + (0.5 if shown_c >= 0 else -0.5))
        quarters = max(_COLDEST, min(_HOTTEST, quarters))
        sixteenths = int(cold_c * 16 + (0.5 if cold_c >= 0 else -0.5))
        word = (quarters & 0x3FFF) << 18 | (sixteenths & 0xFFF) << 4
        for bit, cause in _CAUSES:
            if faults & bit:
                word |= _ANY_FAULT | cause
        self._word = word
