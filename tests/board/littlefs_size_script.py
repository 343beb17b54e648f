"""Whether littlefs mounts a file system that is smaller than its device."""

import vfs

BLOCK = 4096


class Flash:
    """``blocks`` of a buffer as MicroPython's extended block device."""

    def __init__(self, data, blocks):
        self._data = data
        self._blocks = blocks

    def readblocks(self, block, buffer, offset=0):
        """Read."""
        at = block * BLOCK + offset
        buffer[:] = self._data[at : at + len(buffer)]

    def writeblocks(self, block, buffer, offset=0):
        """Program."""
        at = block * BLOCK + offset
        self._data[at : at + len(buffer)] = buffer

    def ioctl(self, request, argument):
        """Block count, block size, erase."""
        if request == 4:
            return self._blocks
        if request == 5:
            return BLOCK
        if request == 6:
            self._data[argument * BLOCK : (argument + 1) * BLOCK] = b"\xff" * BLOCK
        return 0


data = bytearray(b"\xff" * (64 * BLOCK))
vfs.VfsLfs2.mkfs(Flash(data, 32), progsize=256)
for blocks in (32, 64):
    try:
        vfs.VfsLfs2(Flash(data, blocks), progsize=256)
        error = 0
    except OSError as failure:
        error = failure.errno
    print("on_" + str(blocks), error)
