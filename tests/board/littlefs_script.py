"""The store on real littlefs, under MicroPython: run by test_store_littlefs.py.

Plain asserts; the last line of the output is what was counted.
"""

import binascii

import vfs
from littlefs_flash import ROOT, fresh

from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import ROOM_FOR_BATCH, Store
from snapcurve.wire import catalogue
from snapcurve.wire.curve import BlockWriter

DAYS = 10


def opened():
    store = Store(ROOT)
    store.start()
    return store


def crc_of(store, row):
    buffer = bytearray(512)
    at = crc = 0
    while at < row.size:
        got = store.read_into(row, at, buffer, 0, 512)
        assert got > 0
        crc = binascii.crc32(memoryview(buffer)[:got], crc)
        at += got
    return crc


def write_block(store, writer, curve, block):
    for second in range(60):
        writer.sample((block - 1) * 60000 + second * 1000, 4000 + (second * block) % 37)
    store.append(writer.buffer, writer.finish_data(curve, block, 1000, 2100))


def short_life(store, told):
    """A short life; ``told`` takes what the store promised, as it promises it."""
    store.start()
    told["boot"] = store.boot
    store.save("profile", b"first profile")
    told["profile"] = b"first profile"
    writer = BlockWriter()
    for _ in range(2):
        curve = store.begin()
        told["curve"] = curve
        head = (1, store.boot, 0, 0, 0, 0, 1, 0, 0, 0, b"")
        store.append(
            writer.buffer, writer.finish_other("head", catalogue.CURVE_HEAD, head, curve, 0)
        )
        for block in range(1, 9):
            write_block(store, writer, curve, block)
            row = store.row(curve)
            told[curve] = (row.size, row.crc)
        store.end()
    told["new profile"] = True
    store.save("profile", b"second profile")
    told["profile"] = b"second profile"
    told["erasing"] = 1
    store.erase(store.row(1))
    del told[1]


def check_promises(told):
    """After a restart everything that was promised is there."""
    store = opened()
    assert store.boot > told.get("boot", 0)
    profile = store.load("profile")
    allowed = [told.get("profile", b"")]
    if "profile" not in told:
        allowed.append(b"first profile")
    if "new profile" in told:
        allowed.append(b"second profile")
    assert profile in allowed, profile
    for curve in (1, 2):
        row = store.row(curve)
        if curve in told:
            if row is None:
                assert told.get("erasing") == curve
                continue
            assert row.size >= told[curve][0]
            if row.size == told[curve][0]:
                assert row.crc == told[curve][1]
        if row is not None:
            assert crc_of(store, row) == row.crc
    # And life goes on: a new curve has a number of its own.
    number = store.begin()
    assert number > told.get("curve", 0)
    assert store.row(number) is store.rows[-1]
    assert len({row.curve for row in store.rows}) == len(store.rows)
    store.end()


def power_cuts():
    flash = fresh(24)
    told = {}
    before = flash.done
    short_life(Store(ROOT), told)
    operations = flash.done - before
    vfs.umount(ROOT)
    for cut in range(1, operations + 1):
        flash = fresh(24)
        flash.cut_at = flash.done + cut
        told = {}
        try:
            short_life(Store(ROOT), told)
            raise AssertionError("no cut at operation", cut)
        except OSError:
            assert flash.dead
        flash.restart()
        check_promises(told)
        vfs.umount(ROOT)
    return operations


def equal_after_restart():
    flash = fresh(48)
    store = opened()
    recorder = Recorder(store, (1, 2, 3), 7)
    facts = []
    for curve in range(3):
        recorder.start(0, (0, 0), 0, b"profile", False)
        for second in range(200 + curve):
            recorder.reading(4000 + second % 9)
            recorder.step(second * 1000, 2100)
        recorder.event(200000, "mark", 1, "work", 3000, curve)
        recorder.end(201000, "button")
        row = store.rows[-1]
        facts.append((row.curve, row.boot, row.size, row.crc, row.generation, row.blocks))
    flash.restart()
    again = opened()
    got = [(r.curve, r.boot, r.size, r.crc, r.generation, r.blocks) for r in again.rows]
    assert got == facts, (got, facts)
    for row in again.rows:
        assert crc_of(again, row) == row.crc
        again.erase(row) if row.curve == 2 else None
    flash.restart()
    assert [row.curve for row in opened().rows] == [1, 3]
    vfs.umount(ROOT)


def full_flash():
    """Small flash, filled: the warning comes while one more batch fits, the curve is closed
    properly before the flash is full, a restart finds it, erasing gives room again."""
    flash = fresh(40)
    store = opened()
    recorder = Recorder(store, (1, 2, 3), 7)
    assert recorder.start(0, (0, 0), 0, b"", False)
    assert recorder.warning == ""
    now_ms, said = 0, []
    # Values that jump as far as they can make the longest blocks.
    while recorder.curve:
        now_ms += 1000
        recorder.reading(-30000 if now_ms % 2000 else 30000)
        recorder.step(now_ms, 2100)
        if recorder.warning:
            said.append((recorder.warning, store.free()))
            recorder.warning = ""
    assert [word for word, _ in said] == ["store_low", "store_full"], said
    assert said[0][1] >= ROOM_FOR_BATCH
    assert said[1][1] > 0
    assert recorder.running
    assert recorder.ended == "store_full"
    row = store.rows[-1]
    assert not row.open
    recorder.end(now_ms, "button")
    size, crc = row.size, row.crc
    assert size > 10000
    assert crc_of(store, row) == crc
    assert not recorder.start(now_ms, (0, 0), 0, b"", False)  # what is there stays
    recorder.end(now_ms, "button")
    flash.restart()
    again = opened()  # counters are saved all the same
    assert [(row.size, row.crc) for row in again.rows] == [(size, crc)]
    again.erase(again.rows[0])
    assert again.has_room()
    assert again.begin() > row.curve
    again.end()
    vfs.umount(ROOT)
    return size


def failing_flash():
    """Flash that is full all the same, in mid-block: the curve closes, a restart finds it."""
    flash = fresh(16)
    store = opened()
    store.has_room = lambda: True
    store.free_at_least = lambda: 1 << 20
    recorder = Recorder(store, (1, 2, 3), 7)
    recorder.start(0, (0, 0), 0, b"", False)
    now_ms, failed = 0, False
    while not failed and now_ms < 40000000:
        now_ms += 1000
        recorder.reading(-30000 if now_ms % 2000 else 30000)
        try:
            recorder.step(now_ms, 2100)
        except OSError:
            failed = True
    assert failed
    row = store.rows[-1]
    try:
        recorder.abandon("store_full")
    except OSError:
        pass
    assert not row.open
    size, crc = row.size, row.crc
    assert size > 10000
    assert crc_of(store, row) == crc
    flash.restart()
    # The counters may not fit any more, but the curve is found and can be collected.
    again = Store(ROOT)
    try:
        again.start()
    except OSError:
        pass
    assert (again.rows[0].size, again.rows[0].crc) == (size, crc)
    again.erase(again.rows[0])
    assert again.begin() > row.curve
    again.end()
    vfs.umount(ROOT)


def wear(days):
    """Four hours each day, collected and erased; erases in all, and of the hottest block.

    A restart each day, as from a power bank; the flash is a small one, so that the wear of
    each block is that of the worst case.
    """
    flash = fresh(48)
    before = flash.erases
    for _ in range(days):
        store = opened()
        recorder = Recorder(store, (1, 2, 3), 7)
        recorder.start(0, (0, 0), 0, b"profile", False)
        for second in range(4 * 3600):
            recorder.reading(4000 + second % 9)
            recorder.step(second * 1000, 2100)
        recorder.end(4 * 3600000, "button")
        store.erase(store.rows[0])
        erases, erased = flash.erases, flash.erased
        flash = flash.restart()
        flash.erases, flash.erased = erases, erased
    vfs.umount(ROOT)
    return flash.erases - before, max(flash.erased)


equal_after_restart()
failing_flash()
erases, hottest = wear(DAYS)
print("cuts", power_cuts(), "full", full_flash())
print("erases", erases // DAYS, "hottest", hottest, "days", DAYS)
