"""Run under MicroPython by heap.py: what modules and the start of the desk board take, and what
readings allocate.

The desk board starts as always, through main.py; this module looks at the heap on the way. The
names of modules to load one by one come first, by standard input, so that they are not kept
here. One line each: ``heap BYTES NAME``, ``allocates BYTES NAME`` and those of dipped.py.
"""

import gc
import sys


def used():
    gc.collect()
    gc.collect()
    return gc.mem_alloc()


seen = [used()]  # at the start, and after each thing told


def tell(name):
    seen.append(used())
    print("heap", seen[-1] - seen[-2], name)


for line in sys.stdin:
    __import__("snapcurve." + line.strip())
    tell(line.strip())
from snapcurve.probe.app import App  # noqa: E402

tell("code: probe.app and all that it imports")

from snapcurve.boards import desk  # noqa: E402

tell("(desk) code: boards/desk")
Made = desk.Parts
IN_THE_AIR_MS = 5000


def parts(argv):
    made = Made(argv)
    tell("(desk) parts, flash mounted")
    return made


def run_until(app, end_ms):
    while app.uptime.now() < end_ms:
        app._parts.sleep_ms(app.step())


def allocations(app):
    gc.disable()
    for name, work in (
        ("a live reading sent", lambda: app.link._answer(0x7E, 0, app.reading(app.uptime.now()))),
        ("a request and its answer", lambda: app.link._requests.handle(0, 1, ())),
    ):
        work()
        allocated = gc.mem_alloc()
        for _ in range(10):
            work()
        print("allocates", (gc.mem_alloc() - allocated) // 10, name)


def run(app):
    run_until(app, IN_THE_AIR_MS)
    tell("main.py and the objects of the app, some seconds after the start")
    print("heap", seen[-1], "total")
    print("heap", seen[0], "script")
    from dipped import LENGTH_S, Counted, profile

    app.settings.use_profile(profile())
    counted = Counted(app)
    run_until(app, LENGTH_S * 1000)
    counted.tell()
    allocations(app)
    sys.exit()


desk.Parts = parts
App.run = run
import start as started  # noqa: E402, F401  # main.py, as desk.py calls it
