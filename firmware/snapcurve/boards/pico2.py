"""Raspberry Pi Pico 2 (RP2350): the Pico's pins, another address of the watchdog. Not yet
run on hardware."""

from snapcurve.wire.const import const

from .peripherals import died
from .pico import PINS, PicoParts

__all__ = ("PINS", "Parts", "died")
_WATCHDOG_CTRL = const(0x400D8000)  # RP2350 data sheet


class Parts(PicoParts):
    """What the app needs."""

    def __init__(self, argv):
        super().__init__("pico2", _WATCHDOG_CTRL)
