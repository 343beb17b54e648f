"""Flash that loses power where the test says, for scripts that run under MicroPython."""

import vfs

BLOCK = 4096
PROGRAM = 256
ROOT = "/flash"


def erased(blocks):
    """Memory of so many erased blocks, without a second one of that size in between."""
    data = bytearray(blocks * BLOCK)
    blank = b"\xff" * BLOCK
    for at in range(0, len(data), BLOCK):
        data[at : at + BLOCK] = blank
    return data


class RamFlash:
    """NOR flash in memory: erasing sets bits, programming clears them, both are counted.

    Power goes with operation number ``cut_at``: that one is half done, and from then on
    nothing is read or written by this object; ``restart`` gives one with the same content.
    Without power it allocates nothing, since the files it leaves behind are closed by the
    garbage collector.
    """

    def __init__(self, blocks, data=None):
        self.blocks = blocks
        self.data = erased(blocks) if data is None else data
        self.done = 0
        self.erases = 0
        self.erased = [0] * blocks  # how often each block was
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
            self.erased[argument] += 1
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
