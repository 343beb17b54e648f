"""A 20-minute batch on real littlefs with the power cut after every single flash operation;
under MicroPython, run by test_store_littlefs.py. Prints what was counted.
"""

import binascii
import sys

import vfs
from littlefs_flash import ROOT, fresh

from snapcurve.probe.recorder import Recorder
from snapcurve.probe.requests import Requests
from snapcurve.probe.store import Store
from snapcurve.wire import catalogue, codec
from snapcurve.wire.curve import GAP, parse_block
from snapcurve.wire.curve_data import parse_data

BLOCKS = 32
SECONDS = 1200
VERSION = (1, 2, 3)
PROFILE = b"profile" * 9
STATED_LOSS_S = catalogue.BLOCK_FIRST_SAMPLES


class Told:
    """What the store has promised so far: size and CRC of what was flushed."""

    def __init__(self):
        self.size = 0
        self.crc = 0
        self.curve = 0
        self.fed = 0  # samples given to the recorder
        self.samples = 0  # of them flushed
        self.closed = False


def value_of(second):
    """A course without any repetition, in 1/128 degrees."""
    return 3900 + (second * 37) % 101 + second // 11


def batch(store, told):
    """Record; after each append note what was promised."""
    store.start()
    append = store.append

    def noted(buffer, length, replace=False):
        append(buffer, length, replace)
        row = store.rows[-1]
        told.curve, told.size, told.crc = row.curve, row.size, row.crc
        told.samples = max(told.samples, told.fed) if row.blocks > 1 else 0

    store.append = noted
    recorder = Recorder(store, VERSION, 7)
    recorder.start(0, (0, 0), 0, PROFILE, False)
    for second in range(SECONDS):
        recorder.reading(value_of(second))
        told.fed = second + 1
        recorder.step(second * 1000, 2100)
        if second == 333:
            recorder.clock_set(second * 1000, 1800000000, 0)
        if second % 100 == 50:
            recorder.event(second * 1000, "mark", 1, "work", 3000, second)
    recorder.end(SECONDS * 1000, "button")
    told.closed = True


def download(requests, row):
    """The curve's bytes by the requests of the link."""
    raw = b""
    while len(raw) < row[3]:
        answer = requests.handle(
            0, catalogue.message_number("curve_read"), (row[0], len(raw), 1024)
        )
        assert answer[:4] == (row[0], len(raw), row[3], row[5])
        assert len(answer[4]) > 0
        raw += bytes(answer[4])
    return raw


def samples_of(raw):
    """Samples of a curve, second by second, and how many blocks."""
    at = blocks = 0
    values = {}
    kinds = []
    while at < len(raw):
        kind, _, block, start, end = parse_block(raw, at)
        assert block == blocks
        if kind == "data":
            head, found, _ = parse_data(raw, start, end)
            for index, value in enumerate(found):
                values[head[0] // 1000 + index] = value
        kinds.append(kind)
        blocks += 1
        at = end
    return values, kinds


def check(told, cut):
    """After a restart: all that was flushed, listed and downloaded; and life goes on."""
    store = Store(ROOT)
    store.start()
    chunk = bytearray(catalogue.CURVE_CHUNK_MAX)
    requests = Requests((), store, None, None, None, None, None, chunk)
    _, total, raw = requests.handle(0, catalogue.message_number("curves_list"), (0,))
    rows = codec.unpack_rows(catalogue.CURVE_ROW, raw)
    assert len(rows) == total
    recorded = 0
    if told.size:
        rows = [row for row in rows if row[0] == told.curve]
        assert len(rows) == 1, (cut, "the curve is gone")
    if rows:
        row = rows[0]
        raw = download(requests, row)
        assert (len(raw), binascii.crc32(raw)) == (row[3], row[4]), cut
        # What came since is there or not; a cut may strike just after the change-over.
        assert len(raw) >= told.size, (cut, len(raw), told.size)
        if len(raw) == told.size:
            assert binascii.crc32(raw) == told.crc, cut
        values, kinds = samples_of(raw)
        assert len(values) >= told.samples, (cut, len(values), told.samples)
        assert kinds[0] == "head"
        recorded = len(values)
        for second in range(recorded):
            assert values[second] == value_of(second), (cut, second)
            assert values[second] != GAP
        if told.closed:
            assert kinds[-1] == "end"
    lost = told.fed - recorded
    assert 0 <= lost <= STATED_LOSS_S, (cut, lost)
    # A new batch records, and both are there after one more restart.
    recorder = Recorder(store, VERSION, 7)
    assert recorder.start(0, (0, 0), 0, PROFILE, False)
    for second in range(65):
        recorder.reading(4000)
        recorder.step(second * 1000, 2100)
    recorder.end(65000, "button")
    return lost, [(row.curve, row.size, row.crc) for row in store.rows]


def main():
    """Cut after each operation in turn; ``argv`` may give share and number of shares."""
    share, shares = (int(sys.argv[1]), int(sys.argv[2])) if len(sys.argv) > 2 else (0, 1)
    flash = fresh(BLOCKS)
    before, erases = flash.done, flash.erases
    told = Told()
    batch(Store(ROOT), told)
    operations = flash.done - before
    erases = flash.erases - erases
    vfs.umount(ROOT)
    assert told.closed
    worst = cuts = 0
    for cut in range(1 + share, operations + 1, shares):
        flash = fresh(BLOCKS)
        flash.cut_at = flash.done + cut
        told = Told()
        try:
            batch(Store(ROOT), told)
            raise AssertionError("no cut at operation", cut)
        except OSError:
            assert flash.dead
        flash = flash.restart()
        lost, rows = check(told, cut)
        worst = max(worst, lost)
        cuts += 1
        flash.restart()
        again = Store(ROOT)
        again.start()
        assert [(row.curve, row.size, row.crc) for row in again.rows] == rows, cut
        vfs.umount(ROOT)
    print("operations", operations, "erases", erases, "cuts", cuts, "lost", worst)


main()
