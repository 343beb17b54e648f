"""Run under MicroPython with objects of 32 bits by heap32.mjs, which calls one of STEPS after the
other and collects between them (that port collects only while no Python runs).
"""

from boards.desk_chip import ChipModel
from boards.desk_tape import Tape

ROWS = ("0,21,21", "600,21,21")
STORE = "/store"


class Clock:
    """Stands still between steps."""

    def __init__(self):
        self.now_ms = 0

    def now(self):
        return self.now_ms


class Silent:
    """Stands for the beeper, and for a line on which nobody is."""

    volume = 3

    def tone(self, hz):
        pass

    def read_into(self, buffer):
        return 0

    def write(self, view):
        return len(view)


class Parts:
    """Filled in by ``parts_made``."""


clock = Clock()
parts = Parts()
made = []


def code():
    import probe.app  # noqa: F401


def parts_made():
    from probe.thermometer.max31856 import Max31856

    tape = Tape()
    for row in ROWS:
        tape.add(row)
    tape.ended = True
    chip = ChipModel(clock.now, tape)
    parts.converter = Max31856(chip, chip.cs, "K")
    parts.beeper = parts.stream = Silent()
    parts.pressed = lambda: False
    parts.store_root = STORE
    parts.ticks_ms = clock.now
    parts.tick_period = 1 << 29
    parts.board_id = 1
    parts.board_name = "words of 32 bits"
    parts.restarted = False
    parts.witness = None


def app_made():
    from probe.app import App

    made.append(App(parts))


def app_started():
    made[0].start()


def some_steps():
    for _ in range(10):
        clock.now_ms += made[0].step()


STEPS = (code, parts_made, app_made, app_started) + (some_steps,) * 10
__all__ = ("STEPS",)
