"""Run under MicroPython by heap.py: what each module and the start take of the heap.

Arguments: flash image, tape, converter. One line each: name and bytes.
"""

import gc
import sys

MODULES = (
    "wire.errors", "wire.version", "wire.catalogue", "wire.codec", "wire.curve", "wire.frame",
    "probe.ticks", "probe.button", "probe.sounds", "probe.sounder", "probe.store",
    "probe.recorder", "probe.tempering.profile", "probe.requests", "probe.link",
    "probe.tempering.dip_test", "probe.tempering.engine", "probe.tempering.lag_filter",
    "probe.tempering.estimate", "probe.thermometer.max31856", "probe.thermometer.reading",
    "probe.resuming", "probe.app",
)  # fmt: skip


def used():
    gc.collect()
    gc.collect()
    return gc.mem_alloc()


def main():
    flash, tape, converter = sys.argv[1:4]
    start = before = used()
    for name in MODULES:
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
