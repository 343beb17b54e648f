"""A probe that is dipped into the melt several times and then into the bowl that is worked: what
it shows, and what each reading makes the firmware allocate. Runs on both interpreters.
"""

import gc
import math

READINGS_PER_S = 4
ROOM_C = 21.0
MELT_C = 45.0
WORK_C = 31.0
LAG_IN_AIR_S = 60.0
LAG_IN_CHOCOLATE_S = 4.0
# Seconds, what is around the probe, and its lag in that.
MELT = ((30, MELT_C, LAG_IN_CHOCOLATE_S), (60, ROOM_C, LAG_IN_AIR_S))
COURSE = ((10, ROOM_C, LAG_IN_AIR_S),) + MELT * 4 + ((61, WORK_C, LAG_IN_CHOCOLATE_S),)
LENGTH_S = sum([part[0] for part in COURSE]) - 1


def shown_c():
    """What the probe shows, one value a reading."""
    value_c = ROOM_C
    for seconds, around_c, lag_s in COURSE:
        for _ in range(seconds * READINGS_PER_S):
            yield value_c
            value_c += (around_c - value_c) * (1 - math.exp(-1 / (lag_s * READINGS_PER_S)))


def profile():
    """One for that: milk by seeding."""
    from snapcurve.probe.tempering.profile import parse
    from snapcurve.wire.catalogue import PHASE, PROFILE_HEAD
    from snapcurve.wire.codec import pack

    head = pack(PROFILE_HEAD, ("Generic milk", "seeding", 5000, 180, 300, 420))
    phases = (("melt", "rise", 4500, 0, 0, 20, 0), ("work", "hold", 3330, 2900, 3000, 20, 0))
    return parse(head + b"".join([pack(PHASE, row) for row in phases]))


class Counted:
    """Counts the bytes that each reading of ``app`` allocates in estimate, engine and recorder,
    by where the estimate says the probe is."""

    def __init__(self, app):
        self._estimate = app.batch.estimate
        self._work = app.batch.judge
        self._found = {}  # place -> [readings, bytes, most, the last]
        app.batch.judge = self._on_reading

    def _on_reading(self, now_ms):
        gc.disable()
        before = gc.mem_alloc()
        self._work(now_ms)
        size = gc.mem_alloc() - before
        gc.enable()
        row = self._found.setdefault(self._estimate.place, [0, 0, 0, 0])
        row[0] += 1
        row[1] += size
        row[2] = max(row[2], size)
        row[3] = size

    def tell(self):
        """Print a line for each place: its name, the mean, the most and the last."""
        for place in sorted(self._found):
            count, size, most, last = self._found[place]
            print("reading", place, size // count, most, last)
