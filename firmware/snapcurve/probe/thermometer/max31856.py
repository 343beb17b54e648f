"""Driver for the MAX31856 thermocouple converter, at register level.

Facts from the maker's data sheet (register map, bits, power-up values, number formats).
The chip compensates the cold junction and linearises by ITS-90 itself.

Each reading fetches all sixteen registers in one transfer, so results, fault status and
configuration are of the same moment: a chip that lost its settings in a dip of the supply is
noticed with the next sample. So is one whose limits or cold-junction offset were altered, which
this driver leaves as they are at power-up: an offset would shift every reading by up to 8 °C.

A transfer that cannot be the chip's is made again at once, for a spark on the line is no fault.
All eight fault bits at once are none of the chip's either (its tip cannot be too cold and too
hot): the line was left high from somewhere on.

A chip that stops converting goes on showing its last result. A real conversion moves in its
last bits, so the same hot and cold words time after time are a fault ("frozen").
"""

from snapcurve.wire.catalogue import fault_bit
from snapcurve.wire.const import const

_CR0 = const(0x00)
_CR1 = const(0x01)
_WRITE = const(0x80)
_REGISTERS = const(16)

_CR0_AUTO = const(0x80)
_CR0_OPEN_DETECT = const(0x10)  # OCFAULT = 01: test for an open circuit, leads below 5 kOhm
_CR0_FAULT_CLEAR = const(0x02)
_CR0_50_HZ = const(0x01)
TYPES = "BEJKNRST"  # position = the chip's type code
AVERAGES = (1, 2, 4, 8, 16)  # position = the chip's averaging code

# Power-up values of MASK, CJHF and CJLF, which this driver never writes: a bus that is stuck,
# or sampled one clock off, cannot show them.
_IDENTITY = (0xFF, 0x7F, 0xC0)
_IDENTITY_AT = const(3)  # in what is read, which begins with a byte of no meaning
# The same of LTHFTH to LTLFTL and CJTO, which are written only to put them right.
_KEPT = b"\x7f\xff\x80\x00\x00"
_KEPT_AT = const(6)
_OFFSET = const(10)
_ALL_FAULTS = const(0xFF)

FAULT_BUS = fault_bit("bus")
FAULT_CONFIG = fault_bit("config")
FAULT_FROZEN = fault_bit("frozen")
_FROZEN_READS = const(40)  # the same words for ten seconds
NO_READING = -0x8000


def decode_hot(high: int, middle: int, low: int) -> int:
    """LTCBH, LTCBM, LTCBL as a signed number of 1/128 °C (five spare bits dropped)."""
    raw = (high << 16) | (middle << 8) | low
    if raw & 0x800000:
        raw -= 0x1000000
    return raw >> 5


def decode_cold(high: int, low: int) -> int:
    """CJTH, CJTL as a signed number of 1/64 °C (two spare bits dropped)."""
    raw = (high << 8) | low
    if raw & 0x8000:
        raw -= 0x10000
    return raw >> 2


class Max31856:
    """One converter on an SPI bus.

    ``spi`` has ``write_readinto(out, into)`` and ``write(out)``, ``cs`` is called with 0
    or 1: the interfaces of machine.SPI and machine.Pin. The chip wants SPI mode 1 or 3.

    After ``read``: ``hot_128ths`` (1/128 °C, NO_READING on a fault), ``cold_64ths``
    (1/64 °C) and ``faults`` (bits of catalogue.FAULTS).
    """

    name = "MAX31856"

    def __init__(self, spi, cs, tc_type: str = "K", mains_hz: int = 50, averages: int = 4):
        self.tc_type = tc_type
        self._spi = spi
        self._cs = cs
        self._cr1 = (AVERAGES.index(averages) << 4) | TYPES.index(tc_type)
        self._mains = _CR0_50_HZ if mains_hz == 50 else 0
        self._cr0 = _CR0_AUTO | _CR0_OPEN_DETECT | self._mains
        self._command = bytearray(2)
        self._out = bytearray(1 + _REGISTERS)
        self._in = bytearray(1 + _REGISTERS)
        self._last_hot = self._last_cold = NO_READING
        self._same = 0  # how often they have come again
        self._altered = False  # registers that this driver leaves alone
        self.hot_128ths = NO_READING
        self.cold_64ths = NO_READING
        self.faults = FAULT_CONFIG

    def _write(self, register: int, value: int) -> None:
        self._command[0] = register | _WRITE
        self._command[1] = value
        self._cs(0)
        self._spi.write(self._command)
        self._cs(1)

    def configure(self) -> None:
        """Write the settings: conversions off, then mains filter and averaging, then on."""
        self._write(_CR0, _CR0_FAULT_CLEAR | self._mains)
        self._write(_CR1, self._cr1)
        if self._altered:
            for at in range(len(_KEPT)):
                self._write(_KEPT_AT - 1 + at, _KEPT[at])
            self._altered = False
        self._write(_CR0, self._cr0)

    def _fetch(self) -> bool:
        """Read all registers; whether this can be the chip's answer."""
        self._cs(0)
        self._spi.write_readinto(self._out, self._in)
        self._cs(1)
        got = self._in
        for at in range(len(_IDENTITY)):
            if got[_IDENTITY_AT + at] != _IDENTITY[at]:
                return False
        return got[_REGISTERS] != _ALL_FAULTS

    def read(self) -> None:
        """Fetch hot junction, cold junction and faults."""
        got = self._in
        self.hot_128ths = NO_READING
        if not self._fetch() and not self._fetch():
            self.cold_64ths = NO_READING
            self.faults = FAULT_BUS
            return
        self.cold_64ths = decode_cold(got[11], got[12])
        # Bit by bit the catalogue's first eight faults are the chip's fault status register.
        self.faults = got[16]
        if got[1] & ~_CR0_FAULT_CLEAR != self._cr0 or got[2] != self._cr1:
            self.faults |= FAULT_CONFIG
        for at in range(len(_KEPT)):
            if got[_KEPT_AT + at] != _KEPT[at]:
                self._altered = True
                self.faults |= FAULT_CONFIG
        if got[_OFFSET]:
            self.cold_64ths = NO_READING
        hot = decode_hot(got[13], got[14], got[15])
        if hot == self._last_hot and self.cold_64ths == self._last_cold:
            self._same += 1
            if self._same >= _FROZEN_READS:
                self.faults |= FAULT_FROZEN
        else:
            self._last_hot = hot
            self._last_cold = self.cold_64ths
            self._same = 0
        if self.faults == 0:
            self.hot_128ths = hot
