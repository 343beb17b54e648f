"""A whole app on fake parts, and the course of temperature of a small batch."""

import math

from board_fakes import WORK, Parts, World, blocks_of, profile_bytes

from snapcurve.probe.app import App
from snapcurve.probe.tempering.profile import parse

ROOM_C = 21.0
HOLD = profile_bytes(WORK, method="hold")


def moved(start_ms, from_c, to_c, seconds, lag_s=4.0):
    """Points of a probe of ``lag_s`` that was moved to a place of ``to_c``."""
    return [
        (start_ms + 500 * half, to_c + (from_c - to_c) * math.exp(-half / 2 / lag_s))
        for half in range(1, 2 * seconds + 1)
    ]


def course(*legs, start_c=ROOM_C):
    """Points from legs ``(seconds, "in", celsius)``, ``(seconds, "out")`` or
    ``(seconds, "to", celsius)`` (chocolate that drifts with the probe in it).
    """
    points, now_ms, now_c = [(0, start_c)], 0, start_c
    for seconds, what, *goal in legs:
        if what == "in":
            points += moved(now_ms, now_c, goal[0], seconds)
        elif what == "out":
            points += moved(now_ms, now_c, ROOM_C, seconds, 45.0)
        else:
            points.append((now_ms + seconds * 1000, goal[0]))
        now_ms, now_c = now_ms + seconds * 1000, points[-1][1]
    return points


# In the room, into the bowl, cooling out of the window, warmed back, out of the bowl.
BATCH = course(
    (10, "out"),
    (80, "in", 29.5),
    (50, "to", 28.6),
    (30, "to", 28.6),
    (40, "to", 29.6),
    (60, "to", 29.6),
    (120, "out"),
)
BATCH_ALARMS = ["reached", "too_cool", "back", "probe_out"]


class AppRig:
    """The app and time that passes as it asks for; ``each_ms`` steps it each so many ms."""

    def __init__(self, folder, points, profile=HOLD, **options):
        world = World(points, ROOM_C, options.pop("faults", ()))
        self.parts = Parts(folder, world, **options)
        self.app = App(self.parts)
        self.app.start()
        self.app.settings.profile = parse(profile) if profile else None

    def run(self, until_ms, each_ms=None):
        clock = self.parts.clock
        while clock.ms < until_ms:
            sleep_ms = self.app.step()
            assert 0 <= sleep_ms <= 250
            clock.ms += min(each_ms or max(1, sleep_ms), until_ms - clock.ms)
        return self

    def end(self):
        """A long press ends the recording: its file is whole."""
        self.parts.press(2500)
        self.run(self.parts.clock.ms + 3000)
        assert not self.app.recorder.running
        return self

    def names(self):
        return [alarm for _, alarm, *_ in self.parts.alarms]

    def when(self, name):
        """Seconds at which the alarm came first."""
        return next(ms for ms, alarm, *_ in self.parts.alarms if alarm == name) / 1000

    def sounded(self, start_ms=0):
        return [(ms, hz) for ms, hz in self.parts.beeper.log if ms >= start_ms and hz]

    def curve(self, number=1):
        with open(f"{self.parts.store_root}/c{number:05d}", "rb") as file:
            return blocks_of(file.read())
