"""The files of a Pico's release under MicroPython's unix port, on a ``machine`` module that does
what the firmware can see of it. Started by test_release_runs.py; the wire is standard input and
output, and the first argument the board.
"""

import sys
import time

import vfs
from littlefs_flash import RamFlash

BLOCKS = 64


class Pin:
    OUT, IN, PULL_UP = 1, 0, 2

    def __init__(self, number, mode=-1, pull=-1, value=1):
        self._level = value

    def __call__(self, *level):
        if level:
            self._level = level[0]
        return self._level


class PWM:
    def __init__(self, pin):
        pass

    def freq(self, hz):
        pass

    def duty_u16(self, duty):
        pass

    def deinit(self):
        pass


class SPI:
    """A MAX31856 in still air: its registers, with last bits that move."""

    def __init__(self, unit, **settings):
        self._registers = bytearray(
            (0, 3, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0, 0, 0, 0, 0, 0, 0, 0)
        )

    def write(self, data):
        clears_itself = 0 if data[0] & 0x7F else 0x02
        self._registers[data[0] & 0x7F] = data[1] & ~clears_itself

    def write_readinto(self, out, into):
        self._registers[0x0A] = 21  # cold junction
        self._registers[0x0C:0x0F] = bytes((1, 0x50, 0x20 * (time.ticks_ms() & 3)))  # 21 °C
        into[1:] = self._registers


class WDT:
    def __init__(self, timeout):
        pass

    def feed(self):
        pass


class Machine:
    PWRON_RESET, WDT_RESET = 1, 3
    mem32 = {}  # noqa: RUF012
    Pin = Pin
    PWM = PWM
    SPI = SPI
    WDT = WDT

    @staticmethod
    def reset_cause():
        return 1

    @staticmethod
    def unique_id():
        return b"12345678"

    @staticmethod
    def reset():
        sys.exit(3)


flash = RamFlash(BLOCKS)
vfs.VfsLfs2.mkfs(flash)
vfs.mount(vfs.VfsLfs2(flash), "/curves")
sys.modules["machine"] = Machine
from snapcurve import boards  # noqa: E402

boards.FITTED = sys.argv[1]
import start  # noqa: E402, F401
