"""Run under MicroPython by heap.py: what modules and the start of the desk board take.

The desk board starts as always, through main.py; this module looks at the heap on the way. The
names of modules to load one by one come first, by standard input, so that they are not kept
here. One line each: name and bytes.
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
    print(name, seen[-1] - seen[-2])


for line in sys.stdin:
    __import__(line.strip())
    tell(line.strip())
from probe.app import App  # noqa: E402

tell("code: probe.app and all that it imports")
import boards.desk  # noqa: E402

tell("(desk) code: boards.desk")
Made = boards.desk.Parts


def parts(argv):
    made = Made(argv)
    tell("(desk) parts, flash mounted")
    return made


def run(app):
    for _ in range(100):
        app._parts.sleep_ms(app.step())
    tell("main.py and the objects of the app, some seconds after the start")
    print("total", seen[-1])
    print("script", seen[0])
    # What a reading, a block, a frame allocate and so what collecting costs.
    gc.disable()
    for name, work in (
        ("reading", lambda: app._on_reading(app.uptime.now())),
        ("live frame", lambda: app.link._answer(0x7E, 0, app.reading())),
        ("request and answer", lambda: app.link._requests.handle(1, ())),
    ):
        work()
        allocated = gc.mem_alloc()
        for _ in range(10):
            work()
        print("(allocates) " + name, (gc.mem_alloc() - allocated) // 10)
    sys.exit()


boards.desk.Parts = parts
App.run = run
import start as started  # noqa: E402, F401  # main.py, as desk.py calls it
