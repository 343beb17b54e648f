"""Curves, profile, calibration and counters on the board's flash.

A curve is one file of blocks (wire/curve.py), flushed after every block: littlefs keeps
nothing before that. A block is written when half full, and the full one takes its place.
littlefs puts new content beside the old and changes over in one step, so a power cut leaves
the one or the other and costs at most BLOCK_FIRST_SAMPLES seconds; heads of blocks cost
half as much as with blocks of that length.

The curve's size is where its last good block ends; a torn tail after a power cut is no part
of it. Good blocks behind a bad one still belong to it. A file without a good block, left by
a power cut, is removed at the next start.

A small file is written under another name and then renamed, which littlefs does in one step.
"""

import binascii
import errno
import os
import struct

from snapcurve.wire import catalogue
from snapcurve.wire.const import const
from snapcurve.wire.curve import block_crc, parse_block
from snapcurve.wire.errors import WireError

_CURVES_MAX = const(64)
ROOM_FOR_BATCH = 48 * 1024  # bytes: a four-hour curve with its directory
# Left free by an open curve: littlefs writes the new copy of a block before it gives up the
# old one, and the last blocks, counters and settings must still be written.
ROOM_TO_CLOSE = 24 * 1024
_ROOM_STEP = const(4096)  # bytes written before free space is looked at again
_COUNTERS = "counters"
PROFILE = "profile"
CALIBRATION = "calibration"
_CALIBRATION_BEFORE = "calibration.before"


class CurveRow:
    """What the store knows of one curve."""

    def __init__(self, curve: int):
        self.curve = curve
        self.open = False
        self.boot = self.size = self.crc = 0
        self.generation = 0  # CRC-32 of the first block, which says when and where it began
        self.blocks = 0
        self.ended = False  # an end block closes it
        self.size_before = self.crc_before = 0  # without the last block


class Store:
    """Files below ``root``. Every method may raise OSError."""

    def __init__(self, root: str):
        self._root = root
        self._file = _untyped()
        self._open_row = None  # type: CurveRow
        self.rows = []  # type: list[CurveRow]
        self.boot = 0
        self._next_curve = 1
        self._looked = False  # at what is there: nothing may be opened before
        self.fits = 0  # batches, when last looked
        self._free = self._since = 0  # bytes free when last looked, and written since

    def start(self) -> None:
        """Count this start and find the curves that are there."""
        self.boot = self.counted()
        numbers = []
        scratch = bytearray(catalogue.BLOCK_MAX)
        for name in os.listdir(self._root):
            if len(name) == 6 and name[0] == "c" and name[1:].isdigit():
                numbers.append(int(name[1:]))
            elif name.endswith(".new"):  # a setting whose saving was cut off
                self.forget(name)
        for curve in sorted(numbers):
            self._next_curve = max(self._next_curve, curve + 1)
            self._find(curve, scratch)
        self._looked = True
        self.boot += 1
        self._save_counters()

    def counted(self) -> int:
        """Starts so far; takes up the number of the next curve, too."""
        raw = self.load(_COUNTERS)
        if len(raw) != 12 or binascii.crc32(raw[:8]) != struct.unpack("<I", raw[8:])[0]:
            return 0
        boot, self._next_curve = struct.unpack("<II", raw[:8])
        return boot

    def _path(self, name: str) -> str:
        return self._root + "/" + name

    def _curve_path(self, curve: int) -> str:
        return self._path("c%05d" % curve)

    def _save_counters(self) -> None:
        raw = struct.pack("<II", self.boot, self._next_curve)
        self.save(_COUNTERS, raw + struct.pack("<I", binascii.crc32(raw)))

    def load(self, name: str) -> bytes:
        """The bytes of the small file ``name``; empty if there is none."""
        try:
            with open(self._path(name), "rb") as file:
                return file.read()
        except OSError:
            return b""

    def size(self, name: str) -> int:
        """Bytes of the small file ``name`` as the file system has it, whether they can be read
        or not; -1 if there is none."""
        try:
            return int(os.stat(self._path(name))[6])
        except OSError as error:
            return -1 if error.args[0] == errno.ENOENT else 1

    def save(self, name: str, raw: bytes) -> None:
        """Replace the small file ``name`` in one step."""
        with open(self._path(name + ".new"), "wb") as file:
            file.write(raw)
        _replace(self._path(name + ".new"), self._path(name))

    def forget(self, name: str) -> None:
        """Remove the small file ``name``."""
        os.remove(self._path(name))

    def calibration(self, file: str = "current") -> bytes:
        """The bytes of the calibration in use, or of the one before it; empty if none."""
        return self.load(CALIBRATION if file == "current" else _CALIBRATION_BEFORE)

    def save_calibration(self, raw: bytes) -> None:
        """Keep ``raw`` as the calibration, and the one it replaces beside it."""
        before = self.calibration()
        if raw == before:
            return
        self.save(_CALIBRATION_BEFORE, before)
        self.save(CALIBRATION, raw)

    def _find(self, curve: int, scratch) -> None:
        """Read curve ``curve`` block by block up to its last good one."""
        row = CurveRow(curve)
        at = 0
        crc = 0  # of all bytes up to ``at``, whole blocks or not
        with open(self._curve_path(curve), "rb") as file:
            while True:
                file.seek(at)
                got = file.readinto(scratch)
                if not got:
                    break
                view = memoryview(scratch)
                try:
                    kind, number, block, start, end = parse_block(view[:got])
                    if number != curve & 0xFFFF or block < row.blocks:
                        raise WireError("bad_value")
                except WireError:
                    end = _next_sync(scratch, got)
                    crc = binascii.crc32(view[:end], crc)
                    at += end
                    continue
                if row.size == 0:
                    row.generation = block_crc(scratch)
                if kind == "head":
                    row.boot = struct.unpack_from("<I", scratch, start + 4)[0]
                row.crc = crc = binascii.crc32(view[:end], crc)
                row.size = at = at + end
                row.blocks = block + 1
                row.ended = kind == "end"
        if row.size:
            self.rows.append(row)
        else:
            os.remove(self._curve_path(curve))

    def row(self, curve: int):
        """The row of curve ``curve``, or None."""
        for row in self.rows:
            if row.curve == curve:
                return row
        return None

    def free(self) -> int:
        """Bytes that are free. Walks the whole disk: ask rarely."""
        info = os.statvfs(self._root)
        return info[0] * info[3]

    def has_room(self) -> bool:
        """Whether one more batch fits; ``fits`` says how many. Walks the whole disk: ask
        rarely."""
        self._free = self.free()
        self._since = 0
        self.fits = max(0, min(_CURVES_MAX - len(self.rows), self._free // ROOM_FOR_BATCH))
        return self.fits > 0

    def free_at_least(self) -> int:
        """Bytes that are free while a curve is written: looked at now and then, and what
        was written since taken off."""
        if self._since >= _ROOM_STEP:
            self._free = self.free()
            self._since = 0
        return self._free - self._since

    def begin(self) -> int:
        """Open a new curve; its number. Its first block follows with ``append``."""
        if not self._looked:
            raise OSError(5)  # its number might belong to a curve that is there
        curve = self._next_curve
        self._next_curve += 1
        self._save_counters()
        self._file = open(self._curve_path(curve), "wb")  # noqa: SIM115
        row = CurveRow(curve)
        row.open = True
        row.boot = self.boot
        self._open_row = row
        self.rows.append(row)
        return curve

    def append(self, buffer, length: int, replace: bool = False) -> None:
        """Write one block to the open curve, or with ``replace`` a longer form of its last
        one, and see it through to flash."""
        row = self._open_row
        block = memoryview(buffer)[:length]
        if replace:
            self._file.seek(row.size_before)
        if self._file.write(block) != length:
            raise OSError(28)
        self._file.flush()
        if row.blocks == 0:
            row.generation = block_crc(buffer)
        if not replace:
            row.size_before, row.crc_before = row.size, row.crc
            row.blocks += 1
        row.crc = binascii.crc32(block, row.crc_before)
        row.size = row.size_before + length
        self._since += length

    def end(self) -> None:
        """Close the open curve."""
        if self._open_row is None:
            return
        row, file = self._open_row, self._file
        self._open_row = self._file = None
        row.open = False
        if row.blocks == 0:
            self.rows.remove(row)
        file.close()

    def read_into(self, row, offset: int, buffer, at: int, longest: int) -> int:
        """Bytes of the curve from ``offset`` into ``buffer[at:]``; how many."""
        count = min(longest, row.size - offset)
        if count <= 0:
            return 0
        with open(self._curve_path(row.curve), "rb") as file:
            file.seek(offset)
            return file.readinto(memoryview(buffer)[at : at + count]) or 0

    def erase(self, row) -> None:
        """Remove a closed curve."""
        os.remove(self._curve_path(row.curve))
        self.rows.remove(row)


def _next_sync(buffer, length: int) -> int:
    """Where the next block may begin in ``buffer[:length]``, or ``length``."""
    for index in range(1, length):
        if buffer[index] == catalogue.BLOCK_SYNC:
            return index
    return length


def _untyped():
    """None, of any type later."""
    return


def _replace(new: str, old: str) -> None:
    # On littlefs a rename onto an existing name replaces it in one step. CPython's
    # rename does the same on POSIX; only there does os.replace exist, for Windows.
    getattr(os, "replace", os.rename)(new, old)
