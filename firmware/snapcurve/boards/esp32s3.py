"""A generic ESP32-S3 board with 8 MB of flash and its own USB connector: its pins, which are
those of hardware/wiring.csv (a test compares them), and its watchdog. Not yet run on
hardware. It is slower to restart than a Pico: its first loader alone takes some 0.3 s."""

import machine

from snapcurve.wire.const import const

from .peripherals import MachineParts, died

__all__ = ("PINS", "Parts", "died")
PINS = {
    "sck": 12,
    "mosi": 11,
    "miso": 13,
    "cs": 10,
    "beeper": 6,
    "button": 7,
    "light": 17,
}
_SPI_UNIT = const(1)  # the interpreter's name for the chip's SPI2, whose own pins these are
# The watchdog cannot be stopped; an hour is enough to install.
_LONG_WATCHDOG_MS = const(3600000)


class Parts(MachineParts):
    """What the app needs."""

    def __init__(self, argv):
        super().__init__("esp32s3", PINS, _SPI_UNIT)

    def leave(self) -> None:
        """See MachineParts; the watchdog waits longer."""
        super().leave()
        machine.WDT(timeout=_LONG_WATCHDOG_MS)
