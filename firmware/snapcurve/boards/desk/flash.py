"""Flash of the desk board: a block device in a file, with real littlefs on it.

Every program and erase goes straight to the file, so a process that is killed leaves
what a board that loses power leaves.
"""

import os
import sys

from snapcurve.wire.const import const

_BLOCK = const(4096)
_BLOCKS = const(192)
_PROGRAM = const(256)
_BLANK = const(64)  # bytes at a time where there is nothing


class FileFlash:
    """MicroPython's extended block device over ``path``.

    Each erase calls ``stall(erase_ms)``: on a board nothing else runs meanwhile.
    """

    def __init__(self, path: str, stall, erase_ms: int):
        self._stall = stall
        self._erase_ms = erase_ms
        self._blank = b"\xff" * _BLANK
        try:
            self._file = open(path, "r+b")  # noqa: SIM115
        except OSError:
            with open(path, "wb"):
                pass
            self._file = open(path, "r+b")  # noqa: SIM115
        # To its full length: a new file, or one whose making was cut off.
        at = self._file.seek(0, 2)
        while at < _BLOCKS * _BLOCK:
            at += self._file.write(self._blank[: min(_BLANK, _BLOCKS * _BLOCK - at)])
        self._file.flush()

    def readblocks(self, block: int, buffer, offset: int = 0) -> None:
        """Read."""
        self._file.seek(block * _BLOCK + offset)
        self._file.readinto(buffer)

    def never_used(self) -> bool:
        """Whether all but the first two blocks, where formatting begins, are blank."""
        self._file.seek(2 * _BLOCK)
        for _ in range((_BLOCKS - 2) * (_BLOCK // _BLANK)):
            if self._file.read(_BLANK) != self._blank:
                return False
        return True

    def writeblocks(self, block: int, buffer, offset: int = 0) -> None:
        """Program bytes that were erased before."""
        self._file.seek(block * _BLOCK + offset)
        self._file.write(buffer)
        self._file.flush()

    def ioctl(self, request: int, argument: int):
        """Block count, block size, erase."""
        if request == 4:
            return _BLOCKS
        if request == 5:
            return _BLOCK
        if request == 6:
            self._file.seek(argument * _BLOCK)
            for _ in range(_BLOCK // _BLANK):
                self._file.write(self._blank)
            if self._erase_ms:
                self._stall(self._erase_ms)
        return 0


def mount(path: str, stall, erase_ms: int) -> str:
    """Mount the flash image ``path``; the folder it is mounted on.

    Only an image on which nothing was ever recorded is formatted. Without littlefs (CPython) a
    plain folder beside ``path`` takes its place.
    """
    try:
        import vfs
    except ImportError:
        folder = path + ".files"
        try:
            os.mkdir(folder)
        except OSError:
            pass
        return folder
    flash = FileFlash(path, stall, erase_ms)
    try:
        disk = vfs.VfsLfs2(flash, progsize=_PROGRAM)
    except OSError:
        if not flash.never_used():
            sys.stderr.write(
                "the flash image %s is damaged and was left alone: move it away to begin anew\n"
                % path
            )
            sys.exit(1)
        vfs.VfsLfs2.mkfs(flash, progsize=_PROGRAM)
        disk = vfs.VfsLfs2(flash, progsize=_PROGRAM)
    vfs.mount(disk, "/curves")
    return "/curves"
