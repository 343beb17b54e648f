"""The store on real littlefs, under MicroPython: run by test_store_littlefs.py.

Plain asserts; the last line of the output is what was counted.
"""

import binascii

import vfs

from probe.recorder import Recorder
from probe.store import Store
from wire import catalogue
from wire.curve import BlockWriter

BLOCK = 4096
PROGRAM = 256
ROOT = "/flash"


class RamFlash:
    """NOR flash in memory: erasing sets bits, programming clears them, both are counted.

    Power goes with operation number ``cut_at``: that one is half done, and from then on
    nothing is read or written by this object; ``restart`` gives one with the same content.
    Without power it allocates nothing, since the files it leaves behind are closed by the
    garbage collector.
    """

    def __init__(self, blocks, data=None):
        self.blocks = blocks
        self.data = bytearray(b"\xff" * (blocks * BLOCK)) if data is None else data
        self.done = 0
        self.erases = 0
        self.cut_at = -1
        self.dead = False

    def readblocks(self, block, buffer, offset=0):
        if self.dead:
            return -5
        at = block * BLOCK + offset
        buffer[:] = self.data[at : at + len(buffer)]
        return 0

    def writeblocks(self, block, buffer, offset=0):
        if self.dead:
            return -5
        self._count()
        at = block * BLOCK + offset
        for index in range(len(buffer) // 2 if self.dead else len(buffer)):
            self.data[at + index] &= buffer[index]
        return -5 if self.dead else 0

    def _count(self):
        self.done += 1
        self.dead = self.done == self.cut_at

    def ioctl(self, request, argument):
        if request == 4:
            return self.blocks
        if request == 5:
            return BLOCK
        if request == 6:
            if self.dead:
                return -5
            self._count()
            self.erases += 1
            length = BLOCK // 2 if self.dead else BLOCK
            at = argument * BLOCK
            self.data[at : at + length] = b"\xff" * length
            return -5 if self.dead else 0
        return 0

    def mount(self):
        vfs.mount(vfs.VfsLfs2(self, progsize=PROGRAM), ROOT)

    def restart(self):
        """Power goes and comes back; whatever was open is forgotten."""
        self.dead = True
        vfs.umount(ROOT)
        again = RamFlash(self.blocks, self.data)
        again.mount()
        return again


def fresh(blocks):
    flash = RamFlash(blocks)
    vfs.VfsLfs2.mkfs(flash, progsize=PROGRAM)
    flash.mount()
    return flash


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
    store.save_profile(b"first profile")
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
    store.save_profile(b"second profile")
    told["profile"] = b"second profile"
    told["erasing"] = 1
    store.erase(store.row(1))
    del told[1]


def check_promises(told):
    """After a restart everything that was promised is there."""
    store = opened()
    assert store.boot > told.get("boot", 0)
    profile = store.profile()
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
    """Small flash, filled: the curve closes, a restart finds it, erasing gives room again."""
    flash = fresh(16)
    store = opened()
    recorder = Recorder(store, (1, 2, 3), 7)
    assert not store.has_room() or recorder.start(0, (0, 0), 0, b"", False)
    store.has_room = lambda: True
    if not recorder.running:
        recorder.start(0, (0, 0), 0, b"", False)
    now_ms, failed = 0, False
    # Values that jump as far as they can make the longest blocks.
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
    assert recorder.running
    recorder.end(now_ms, "button")
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
    return size


def wear():
    """Blocks a minute, not samples a second: erases in an hour of recording."""
    flash = fresh(48)
    recorder = Recorder(opened(), (1, 2, 3), 7)
    recorder.start(0, (0, 0), 0, b"profile", False)
    before = flash.erases
    for second in range(3600):
        recorder.reading(4000 + second % 9)
        recorder.step(second * 1000, 2100)
    recorder.end(3600000, "button")
    vfs.umount(ROOT)
    return flash.erases - before


equal_after_restart()
print("cuts", power_cuts(), "full", full_flash(), "erases", wear())
