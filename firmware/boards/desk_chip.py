"""A MAX31856 at register level, for the desk board.

It answers the same SPI transfers as the real chip: power-up values, conversion time,
fault bits, number formats, and the rule that the mains filter may change only while
conversions are off (a chip treated otherwise delivers rubbish, and so does this one).
"""

_POWER_UP = (0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0, 0, 0, 0, 0, 0, 0)
_AUTO = 0x80
_OPEN_DETECT = 0x30
_50_HZ = 0x01
_OPEN = 0x01


class ChipModel:
    """``world.at(ms)`` gives ``(probe_c, cold_junction_c, fault_bits)``.

    Has ``write_readinto``, ``write`` (as machine.SPI) and ``cs`` (as machine.Pin called).
    """

    def __init__(self, now_ms, world):
        self._now_ms = now_ms
        self._world = world
        self._registers = bytearray(_POWER_UP)
        self._auto_since_ms = 0
        self._spoilt = False
        self._latched_ms = -1

    def cs(self, level: int) -> None:
        """Select line. Registers are fetched whole, so there is nothing to end."""

    def first_ms(self) -> int:
        """The first conversion after automatic mode was switched on: it takes longer."""
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
            into[index] = self._registers[(address + index - 1) & 0x0F]

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
        if faults & _OPEN and not registers[0] & _OPEN_DETECT:
            faults &= ~_OPEN
        if self._spoilt:
            probe_c = -270.0
        hot = int(probe_c * 128 + (0.5 if probe_c >= 0 else -0.5)) << 5
        cold = int(cold_c * 64 + (0.5 if cold_c >= 0 else -0.5)) << 2
        registers[0x0A] = (cold >> 8) & 0xFF
        registers[0x0B] = cold & 0xFF
        registers[0x0C] = (hot >> 16) & 0xFF
        registers[0x0D] = (hot >> 8) & 0xFF
        registers[0x0E] = hot & 0xFF
        registers[0x0F] = faults
