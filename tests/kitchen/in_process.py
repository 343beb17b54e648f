"""The board's own app in this process, fed by a rough batch: quick, for a look at many.

What counts is measured on real MicroPython (``python -m tests.benchmarks alarms``).
"""

import tempfile

from snapcurve.couvertures.profile import compile_profile
from snapcurve.probe.app import App
from snapcurve.probe.tempering.profile import parse

from .batch import RoughBatch

LIGHT_PRIORITY = 1  # sounds up to this are the light alone


class _Bus:
    """Nothing answers on it; a _Converter is fitted afterwards."""

    def write(self, data):
        """Nothing listens."""

    def write_readinto(self, out, into):
        """All ones."""
        into[:] = b"\xff" * len(into)


class _Converter:
    def __init__(self, world):
        self._world = world
        self.hot_128ths = self.cold_64ths = self.faults = 0

    def configure(self):
        """Nothing to set."""

    def read(self):
        """The next step of the world."""
        self._world.advance()
        _, seen_c, self.faults, junction_c = self._world.seen[-1]
        self.hot_128ths = round(seen_c * 128)
        self.cold_64ths = round(junction_c * 64)


class _Beeper:
    """``begun`` is called when the first tone of a sound comes: one that is silenced in the pause
    before its turn never sounds."""

    volume = 3

    def __init__(self):
        self.begun = None

    def tone(self, hz):
        """Silent."""
        if hz and self.begun is not None:
            begun, self.begun = self.begun, None
            begun()


class _Stream:
    def read_into(self, buffer):
        return 0

    def write(self, view):
        return len(view)


class _Parts:
    board_id, board_name, tick_period, restarted = 1, "kitchen", 1 << 30, False
    tc_type = "T"

    def __init__(self, world, folder, witness):
        self.now_ms = 0
        self.bus = (_Bus(), lambda level: None)
        self.beeper = _Beeper()
        self.stream = _Stream()
        self.store_root = folder
        self.witness = witness
        self._world = world

    def pressed(self):
        return self._world.cook.button

    def ticks_ms(self):
        return self.now_ms

    def sleep_ms(self, length_ms):
        self.now_ms += length_ms


class Played:
    """A rough batch through the app by ``method``; ``each(app, world)`` is called each reading.

    ``audible`` counts what began to sound, repeats and answers to presses included.
    """

    def __init__(self, world, each=None, method="seeding"):
        self.world = world
        self.sounds = []  # (seconds, name): each time something begins to sound
        self.audible = 0
        with tempfile.TemporaryDirectory(dir="/dev/shm") as folder:
            parts = _Parts(world, folder, self._witness)
            self.app = app = App(parts)
            app.start()
            app.thermometer.fit(_Converter(world))
            app.settings.profile = parse(compile_profile(world.couverture, method))
            begin = app.sounder._begin

            def counted(at_ms, row):
                begin(at_ms, row)
                parts.beeper.begun = lambda: self._begun(at_ms, row)

            app.sounder._begin = counted
            seen = 0
            while not world.done:
                parts.now_ms += app.step()
                if each is not None and len(world.seen) > seen:
                    seen = len(world.seen)
                    each(app, world)

    def _begun(self, at_ms, row):
        self.sounds.append((at_ms / 1000, row[0]))
        self.audible += row[3] > LIGHT_PRIORITY

    def _witness(self, now_ms, alarm, phase, estimate_centi_c):
        self.world.heard(now_ms, ["alarm", alarm, phase, str(estimate_centi_c)])


def played(number, **options):
    """Rough batch ``number`` through the app in this process."""
    return Played(RoughBatch(number), **options)
