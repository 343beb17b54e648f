"""The whole firmware under MicroPython, fed with the bytes of a file as its wire.

Run by test_fuzzed_frames.py with the heap of a board; the first argument is the file. Prints
what was counted.
"""

import gc
import sys

COLLECT_EACH_BYTES = 8192  # as main.py has it, and as there before anything is loaded
gc.threshold(COLLECT_EACH_BYTES)

from snapcurve.boards import desk  # noqa: E402
from snapcurve.probe.app import App  # noqa: E402

STEP_MS = 7


class Feed:
    """The wire: a file in, nothing kept of what goes out."""

    source = sys.stdin  # never asked here

    def __init__(self, path):
        self._file = open(path, "rb")  # noqa: SIM115
        self.taken = 0
        self.given = 0
        self.ended = False

    def read_into(self, buffer):
        count = self._file.readinto(buffer)
        self.ended = not count
        self.taken += count
        return count

    def write(self, view):
        self.given += len(view)
        return len(view)


def main():
    feed = Feed(sys.argv[1])
    desk.Stream = lambda text: feed
    parts = desk.Parts(sys.argv[1:])
    app = App(parts)
    app.start()
    first = worst = rounds = 0
    while not feed.ended:
        try:
            app.step()
        except KeyboardInterrupt:  # a request for the prompt among the noise: as if it came back
            app.link._requests.leaving = False
        parts._clock.now_ms += STEP_MS
        rounds += 1
        if rounds % 5000 == 0:
            gc.collect()
            worst = max(worst, gc.mem_alloc())
            first = first or worst
    assert app.link.abandoned == 0
    reader = app.link._reader
    print("taken", feed.taken, "given", feed.given, "rounds", rounds)
    print("first", first, "memory", worst)
    print("good", reader.good, "damaged", reader.damaged, "oversize", reader.oversize)


main()
