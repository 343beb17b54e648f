"""A MAX31856 at register level, for the desk board.

It answers the SPI transfers of the real chip: power-up values, conversion time, fault bits,
number formats, and the rule that the mains filter may change only while conversions are off
(else the chip delivers rubbish).

Its last bits move from conversion to conversion, as a real chip's do, the same way on every
interpreter, so that a rehearsal can be repeated.
"""

from snapcurve.wire.const import const

_POWER_UP = (0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0, 0, 0, 0, 0, 0, 0)
_AUTO = const(0x80)
_OPEN_DETECT = const(0x30)
_50_HZ = const(0x01)
_OPEN = const(0x01)
_VOLTAGE = const(0x02)  # conversions stop until it is gone
# What a tape may ask for beyond the chip's own fault bits (wire.catalogue.FAULTS).
_BUS = const(0x100)
_FROZEN = const(0x400)
_SHAKE = (-1, 0, 0, 1)
_TYPES = "BEJKNRST"  # by the low bits of the second register


def _mistaken_c(probe_c: float, cold_c: float, kind: str, taken_for: str) -> float:
    """What a thermocouple ``kind`` shows that is taken for another."""
    from snapcurve.probe.thermometer import its90  # a board loads it for the other converter only

    measured_mv = its90.emf_mv(kind, probe_c) - its90.emf_mv(kind, cold_c)
    return its90.temperature_c(taken_for, its90.emf_mv(taken_for, cold_c) + measured_mv)


def shaken(at_ms: int) -> int:
    """A number that jumps about with ``at_ms``, 0 to 65520, the same wherever it runs."""
    mixed = (at_ms * 75 + 74) % 65537
    return (mixed * mixed + at_ms) % 65521


class ChipModel:
    """``world.at(ms)`` gives ``(probe_c, cold_junction_c, fault_bits)``; ``kind`` is the type of
    the thermocouple that is fitted.

    ``shake`` False: no noise, for tests of the number formats.
    Has ``write_readinto``, ``write`` (as machine.SPI) and ``cs`` (as machine.Pin called).
    """

    def __init__(self, now_ms, world, shake: bool = True, kind: str = "K"):
        self._now_ms = now_ms
        self._shake = shake
        self._dead = False
        self._world = world
        self._kind = kind
        self._registers = bytearray(_POWER_UP)
        self._auto_since_ms = 0
        self._spoilt = False
        self._latched_ms = -1

    def cs(self, level: int) -> None:
        """Select line. Registers are fetched whole, so there is nothing to end."""

    def first_ms(self) -> int:
        """The first conversion after automatic mode was switched on."""
        return self.conversion_ms() + (87 if self._registers[0] & _50_HZ else 73)

    def conversion_ms(self) -> int:
        """One conversion in automatic mode with the present averaging and filter."""
        averages = 1 << min(self._registers[1] >> 4, 4)
        if self._registers[0] & _50_HZ:
            return 98 + 40 * (averages - 1)
        return 82 + 33 * (averages - 1)

    def write(self, data) -> None:
        """A write transfer: address with the top bit set, then values."""
        address = data[0]
        if not address & 0x80:
            return
        address &= 0x7F
        for value in data[1:]:
            self._write_register(address, value)
            address += 1

    def _write_register(self, address: int, value: int) -> None:
        registers = self._registers
        if address > 0x0B:
            return  # results and status cannot be written
        if address == 0:
            running = registers[0] & _AUTO
            if running and (registers[0] ^ value) & _50_HZ:
                self._spoilt = True
            if value & _AUTO and not running:
                self._auto_since_ms = self._now_ms()
                self._spoilt = False
                self._latched_ms = -1
            value &= ~0x02  # the fault-clear bit clears itself
        registers[address] = value

    def write_readinto(self, out, into) -> None:
        """A read transfer from address ``out[0]``; reading goes on through the registers."""
        self._convert()
        address = out[0] & 0x7F
        into[0] = 0xFF
        for index in range(1, len(into)):
            into[index] = 0xFF if self._dead else self._registers[(address + index - 1) & 0x0F]

    def _convert(self) -> None:
        """Latch the newest conversion that is complete by now."""
        registers = self._registers
        if not registers[0] & _AUTO:
            return
        length_ms = self.conversion_ms()
        first_ms = self._auto_since_ms + self.first_ms()
        passed_ms = self._now_ms() - first_ms
        if passed_ms < 0:
            return
        at_ms = first_ms + passed_ms // length_ms * length_ms
        if at_ms == self._latched_ms:
            return
        self._latched_ms = at_ms
        probe_c, cold_c, faults = self._world.at(at_ms)
        self._dead = bool(faults & _BUS)
        if faults & _OPEN and not registers[0] & _OPEN_DETECT:
            faults &= ~_OPEN
        registers[0x0F] = faults & 0xFF
        if faults & (_VOLTAGE | _FROZEN):
            return  # the results stay as they are
        taken_for = _TYPES[registers[1] & 7]
        if self._spoilt:
            probe_c = -270.0
        elif taken_for != self._kind:
            probe_c = _mistaken_c(probe_c, cold_c, self._kind, taken_for)
        hot = int(probe_c * 128 + (0.5 if probe_c >= 0 else -0.5))
        cold = int(cold_c * 64 + (0.5 if cold_c >= 0 else -0.5))
        if self._shake:
            noise = shaken(at_ms)
            hot += _SHAKE[noise & 3]
            cold += _SHAKE[noise >> 2 & 3]
        registers[0x0A:0x0C] = ((cold << 2) & 0xFFFF).to_bytes(2, "big")
        registers[0x0C:0x0F] = ((hot << 5) & 0xFFFFFF).to_bytes(3, "big")
