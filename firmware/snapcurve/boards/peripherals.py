"""What the boards of hardware have in common: their peripherals, given the pins.

Everything here is of MicroPython's ``machine`` module. Not yet run on hardware: see
hardware/README.md for what has been checked and how.

The stock interpreter has one file system on its flash, which its start-up formats when it
cannot be mounted. Recordings apart from it would need an interpreter with another start-up
file: a smaller file system in the front of the flash does not help, since littlefs refuses to
mount what was made for fewer blocks (tests/board/test_littlefs_size.py).
"""

import binascii
import os
import select
import sys
import time

import machine

from snapcurve.wire.const import const

_SPI_HZ = const(2000000)  # the converter takes up to 5 MHz
TC_TYPE = "T"  # of the probe, unless another was chosen
STORE = "/curves"
# Pulse width for each volume. The ground tone of a pulse train goes with sin(pi * duty):
# half a period is the loudest, and these are 20 dB and 10 dB below it.
DUTY = (0, 2090, 6712, 32768)
_RESTART_AFTER_MS = const(300)  # a batch must be guided again within 3 s
_BLOCK = const(64)  # bytes of a USB packet
# Bytes that nobody need have read: the interpreter's buffer and a packet on its way.
_HELD_BACK = const(320)
_WATCHDOG_MS = const(8000)  # the longest an RP2040 can wait is 8388


class Beeper:
    """Tone by PWM hardware; the light follows the same rhythm."""

    def __init__(self, pin: int, light: int):
        self._pin = pin
        self._pwm = machine.PWM(machine.Pin(pin))
        self._pwm.duty_u16(0)
        self._light = machine.Pin(light, machine.Pin.OUT, value=0)
        self.volume = 3  # a place in catalogue.VOLUMES

    def tone(self, hz: int) -> None:
        """Sound at ``hz``, 0: be silent."""
        if hz:
            self._pwm.freq(hz)
        self._pwm.duty_u16(DUTY[self.volume] if hz else 0)
        self._light(1 if hz else 0)

    def release(self) -> None:
        """Silent: the pin is an ordinary output again, and low."""
        self.tone(0)
        self._pwm.deinit()
        machine.Pin(self._pin, machine.Pin.OUT, value=0)


def _ready(poll) -> bool:
    """Whether a stream that is polled can be used now. ``ipoll`` allocates nothing."""
    for _ in poll.ipoll(0):
        return True
    return False


class UsbStream:
    """The wire over the board's USB serial port, the interpreter's standard input and output.

    Only the binary sides: the text sides change line ends. Bytes come in one by one, while the
    poll allows it: a read of more would block until all are there. They go out in blocks, behind
    the poll, which says only that one byte has room: a host that stops reading costs one write of
    half a second, the longest the interpreter waits for it. Then they go one by one, until so many
    have gone that the host must be reading again.
    """

    def __init__(self):
        self._in = sys.stdin.buffer
        self._out = sys.stdout.buffer
        self._readable = select.poll()
        self._readable.register(sys.stdin, select.POLLIN)
        self._writable = select.poll()
        self._writable.register(sys.stdout, select.POLLOUT)
        self._one = bytearray(1)
        self._singles = 0  # bytes to go one by one

    def read_into(self, buffer) -> int:
        """Bytes read, 0 if there are none now."""
        count = 0
        while count < len(buffer) and _ready(self._readable):
            if not self._in.readinto(self._one):
                break
            buffer[count] = self._one[0]
            count += 1
        return count

    def write(self, view) -> int:
        """Bytes taken, 0 if there is no room now."""
        count = 0
        while count < len(view) and _ready(self._writable):
            if self._singles:
                self._one[0] = view[count]
                wanted = 1
                taken = self._out.write(self._one) or 0
                self._singles -= taken
            else:
                block = view[count : count + _BLOCK]
                wanted = len(block)
                taken = self._out.write(block) or 0
            count += taken
            if taken < wanted:
                self._singles = _HELD_BACK
                break
        return count


def died(error) -> None:
    """The firmware has failed: start again, so that no interpreter reads frames as text."""
    time.sleep_ms(_RESTART_AFTER_MS)
    machine.reset()


class MachineParts:
    """What the app needs, from ``pins`` by role and the number of an SPI unit."""

    def __init__(self, board_name: str, pins, spi_unit: int):
        self.beeper = Beeper(pins["beeper"], pins["light"])
        cs = machine.Pin(pins["cs"], machine.Pin.OUT, value=1)
        # SPI mode 1, which both converters take.
        spi = machine.SPI(
            spi_unit,
            baudrate=_SPI_HZ,
            polarity=0,
            phase=1,
            sck=machine.Pin(pins["sck"]),
            mosi=machine.Pin(pins["mosi"]),
            miso=machine.Pin(pins["miso"]),
        )
        self.bus = (spi, cs)
        self.tc_type = TC_TYPE
        self._button = machine.Pin(pins["button"], machine.Pin.IN, machine.Pin.PULL_UP)
        self.stream = UsbStream()
        self.ticks_ms = time.ticks_ms
        self.tick_period = 1 << 30
        self.sleep_ms = time.sleep_ms
        self.board_id = binascii.crc32(machine.unique_id())
        self.board_name = board_name
        self.witness = None
        self.restarted = machine.reset_cause() != machine.PWRON_RESET
        self.store_root = STORE
        try:
            os.mkdir(STORE)
        except OSError:
            pass  # it is there already

    def pressed(self) -> bool:
        """Whether the button is down: it closes to ground."""
        return self._button() == 0

    def watch(self):
        """Start the watchdog; what feeds it."""
        return machine.WDT(timeout=_WATCHDOG_MS).feed

    def leave(self) -> None:
        """The firmware is left for the interpreter's prompt, which feeds no watchdog."""
        self.beeper.release()
