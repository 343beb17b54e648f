"""Run under MicroPython by heap.py: what each module and the start take of the heap.

Arguments: flash image, tape, converter; the modules come by standard input, so that their
names are not kept here. One line each: name and bytes.
"""

import gc
import sys


def used():
    gc.collect()
    gc.collect()
    return gc.mem_alloc()


def main():
    flash, tape, converter = sys.argv[1:4]
    start = before = used()
    for line in sys.stdin:
        name = line.strip()
        __import__(name)
        now = used()
        print(name, now - before)
        before = now
    import boards.desk

    now = used()
    print("(desk) modules", now - before)
    before = now
    parts = boards.desk.Parts(
        ["", "flash=" + flash, "tape=" + tape, "speed=max", "converter=" + converter]
    )
    now = used()
    print("(desk) parts, flash mounted", now - before)
    before = now
    from probe.app import App

    app = App(parts)
    app.start()
    for _ in range(100):
        parts.sleep_ms(app.step())
    now = used()
    print("objects of the app, a few seconds after the start", now - before)
    print("total", now)
    print("start", start)
    # What a reading, a block, a frame allocate and so what collecting costs.
    gc.disable()
    for name, work in (
        ("reading", lambda: app._on_reading(app.uptime.now())),
        ("live frame", lambda: app.link._answer(0x7E, 0, app.reading())),
        ("request and answer", lambda: app.link._requests.handle("hello", ())),
    ):
        work()
        before = gc.mem_alloc()
        for _ in range(10):
            work()
        print("(allocates) " + name, (gc.mem_alloc() - before) // 10)


main()
