"""A recorded curve in a folder, made by the board's own recorder."""

import random

from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store


def record(folder, seconds, seed=1, store=None):
    """Record ``seconds`` of a noisy, slowly falling temperature; the store."""
    if store is None:
        store = Store(str(folder))
        store.start()
    chance = random.Random(seed)
    recorder = Recorder(store, (0, 1, 0), 7)
    recorder.start(0, (1_800_000_000, 0), 0, b"profile" * 12, False)
    for second in range(seconds):
        recorder.reading(round(5760 - second * 0.2 + chance.gauss(0, 1.5)))
        recorder.step(second * 1000, 2100)
        if second % 150 == 149:
            recorder.event(second * 1000, "alarm", second // 150 % 8, "work", 3000, 0)
    recorder.end(seconds * 1000, "button")
    return store
