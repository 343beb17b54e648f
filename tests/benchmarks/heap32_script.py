"""Run under MicroPython with objects of 32 bits by heap32.mjs, which calls one of STEPS after
the other and collects between them (that port collects only while no Python runs).
"""

from dipped import LENGTH_S, READINGS_PER_S, ROOM_C, Counted, profile, shown_c

from snapcurve.boards.desk.chip import ChipModel

IN_THE_AIR_MS = 5000
PIECE_MS = 1000  # what this leaves to collect fits beside the rest
STORE = "/store"


class Clock:
    """Stands still between steps."""

    def __init__(self):
        self.now_ms = 0

    def now(self):
        return self.now_ms


class Dipped:
    """What the converter feels."""

    def __init__(self):
        self._values_c = shown_c()
        self._taken = 0
        self._value_c = ROOM_C

    def at(self, ms):
        while self._taken * 1000 <= ms * READINGS_PER_S:
            self._value_c = next(self._values_c)
            self._taken += 1
        return self._value_c, ROOM_C, 0


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
    import snapcurve.probe.app  # noqa: F401


def parts_made():
    chip = ChipModel(clock.now, Dipped())
    parts.bus = (chip, chip.cs)
    parts.tc_type = "K"
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
    from snapcurve.probe.app import App

    made.append(App(parts))


def app_started():
    made[0].start()


def run_until(end_ms):
    while clock.now_ms < end_ms:
        clock.now_ms += made[0].step()


def in_the_air():
    run_until(IN_THE_AIR_MS)


def batch():
    made[0].settings.use_profile(profile())
    made.append(Counted(made[0]))


def piece():
    run_until(clock.now_ms + PIECE_MS)


def told():
    made[1].tell()


STEPS = [
    ("code", code),
    ("parts", parts_made),
    ("objects of the app", app_made),
    ("started", app_started),
    ("after some seconds", in_the_air),
    ("", batch),
]
STEPS += [("", piece)] * (LENGTH_S - IN_THE_AIR_MS // 1000)
STEPS += [("", told)]
