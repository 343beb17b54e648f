"""Raspberry Pi Pico (RP2040): its pins, which are those of hardware/wiring.csv (a test
compares them), and its watchdog. Not yet run on hardware."""

import machine

from snapcurve.wire.const import const

from .peripherals import MachineParts, died

__all__ = ("PINS", "Parts", "died")
PINS = {
    "sck": 18,
    "mosi": 19,
    "miso": 16,
    "cs": 17,
    "beeper": 15,
    "button": 14,
    "light": 13,
}
_SPI_UNIT = const(0)
# The watchdog cannot be stopped by the interpreter's means. CTRL of the watchdog and the bit
# that switches it on; a register's second address clears bits (RP2040 data sheet).
_WATCHDOG_CTRL = const(0x40058000)
_CLEAR_BITS = const(0x3000)
_WATCHDOG_ENABLE = const(1 << 30)


class PicoParts(MachineParts):
    """The Pico's parts; ``watchdog_ctrl`` is the address of that register."""

    def __init__(self, board_name: str, watchdog_ctrl: int):
        super().__init__(board_name, PINS, _SPI_UNIT)
        self._watchdog_ctrl = watchdog_ctrl
        # A reset by program counts as one by the watchdog, which carries it out.
        self.restarted = machine.reset_cause() == machine.WDT_RESET

    def leave(self) -> None:
        """See MachineParts; the watchdog stops."""
        super().leave()
        machine.mem32[self._watchdog_ctrl + _CLEAR_BITS] = _WATCHDOG_ENABLE


class Parts(PicoParts):
    """What the app needs."""

    def __init__(self, argv):
        super().__init__("pico", _WATCHDOG_CTRL)
