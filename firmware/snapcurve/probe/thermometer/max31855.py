"""Driver for the MAX31855 thermocouple converter, which is made for one type each.

Facts from the maker's data sheet: one 32-bit word holds both junctions and the faults.
The chip compensates the cold junction but takes the thermocouple for a straight line,
V = gain x (tip - cold). At the ice point a perfect type K probe then reads 0.77 °C too high.
So the line is undone here and replaced by the ITS-90 functions; the chip's steps of 0.25 °C
stay.

Faults: "open", "short_to_ground", "short_to_supply" as the chip reports them, "bus" for a
word no chip can send, "tc_range" for a voltage its thermocouple cannot give. There is no
"frozen": in steps of 0.25 °C a still bath shows the same word for minutes, too.
"""

from snapcurve.wire.catalogue import fault_bit
from snapcurve.wire.const import const

from . import its90
from .max31856 import NO_READING

# mV/°C of the chip's straight line. K: data sheet, p. 8. The others from memory; each is, as that
# of K, the type's mean slope from 0 to 1000 °C (T: to 400 °C).
GAIN_MV_PER_C = {"K": 0.041276, "T": 0.05218, "J": 0.057953, "N": 0.036256, "E": 0.076373}

_ALWAYS_ZERO = const(0x00020008)  # D17 and D3
_ANY_FAULT = const(0x00010000)  # D16; D2 to D0 count only together with it
_CAUSES = ((0x1, "open"), (0x2, "short_to_ground"), (0x4, "short_to_supply"))


def fault_of(word: int) -> "str | None":
    """The fault a 32-bit word reports, or None.

    A bus stuck low or high shows as all zeros or all ones, a word sampled at a wrong moment
    often in D17 or D3. (All zeros are also tip and cold junction at exactly 0 °C: no bench.)
    """
    if word == 0 or word & _ALWAYS_ZERO:
        return "bus"
    if not word & _ANY_FAULT:
        return None
    for bit, name in _CAUSES:
        if word & bit:
            return name
    return "bus"  # a fault without a cause


def hot_quarters_c(word: int) -> int:
    """Tip temperature by the chip's straight line, a signed number of 1/4 °C (D31 to D18)."""
    count = (word >> 18) & 0x3FFF
    return count - 0x4000 if count & 0x2000 else count


def cold_16ths_c(word: int) -> int:
    """Cold junction temperature, a signed number of 1/16 °C (D15 to D4)."""
    count = (word >> 4) & 0xFFF
    return count - 0x1000 if count & 0x800 else count


def relinearised_c(indicated_c: float, cold_c: float, kind: str = "K") -> float:
    """Tip temperature (°C) by ITS-90 from the chip's two temperatures (°C) of one word.

    T = inverse(E(cold) + gain x (indicated - cold)). Raises ValueError if the
    thermocouple type has no known gain or the voltage lies outside the type's range.
    """
    if kind not in GAIN_MV_PER_C:
        raise ValueError("there is no MAX31855 for type %r" % (kind,))
    measured_mv = GAIN_MV_PER_C[kind] * (indicated_c - cold_c)
    return its90.temperature_c(kind, its90.emf_mv(kind, cold_c) + measured_mv)


class Max31855:
    """One converter on an SPI bus, used like the Max31856.

    ``spi`` has ``write_readinto(out, into)``, ``cs`` is called with 0 or 1: the interfaces
    of machine.SPI and machine.Pin; SPI mode 0 or 1. Raises ValueError for a type without a
    known gain.

    After ``read``: ``hot_128ths`` (1/128 °C in steps of about 0.25 °C, NO_READING on a
    fault), ``cold_64ths`` (1/64 °C, NO_READING on a fault of the bus), ``fault`` (a name
    or None) and ``faults`` (its bit or 0).
    """

    name = "MAX31855"

    def __init__(self, spi, cs, tc_type: str = "K"):
        relinearised_c(25.0, 25.0, tc_type)
        self._spi = spi
        self._cs = cs
        self.tc_type = tc_type
        self._out = bytearray(4)
        self._in = bytearray(4)
        self.fault: "str | None" = None
        self.faults = 0
        self.hot_128ths = NO_READING
        self.cold_64ths = NO_READING

    def configure(self) -> None:
        """Nothing to set: type and filter are fixed in the chip."""

    def _fetch(self) -> int:
        self._cs(0)
        self._spi.write_readinto(self._out, self._in)
        self._cs(1)
        got = self._in
        return (got[0] << 24) | (got[1] << 16) | (got[2] << 8) | got[3]

    def read(self) -> None:
        """Fetch one word. Hot and cold junction must be of one conversion to undo the line."""
        word = self._fetch()
        self.hot_128ths = NO_READING
        self.cold_64ths = NO_READING
        fault = fault_of(word)
        if fault == "bus":  # a spark on the line is no fault
            word = self._fetch()
            fault = fault_of(word)
        if fault != "bus":
            cold_16ths = cold_16ths_c(word)
            self.cold_64ths = cold_16ths * 4
            if fault is None:
                try:
                    hot_c = relinearised_c(hot_quarters_c(word) / 4, cold_16ths / 16, self.tc_type)
                    self.hot_128ths = round(hot_c * 128)
                except ValueError:
                    fault = "tc_range"
        self.fault = fault
        self.faults = fault_bit(fault) if fault else 0
