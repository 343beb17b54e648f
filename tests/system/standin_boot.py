"""Start-up of the stand-in board: what a board's interpreter does before the prompt.

Run by MicroPython's unix port. One littlefs holds everything, as on a Pico: the firmware,
and the recordings in /curves. Arguments: flash image, file numbers of control, bench and
bus, and ``main`` or ``prompt``.
"""

import os
import sys

import vfs

BLOCK = 4096
PROGRAM = 256
image, control_number, bench, bus, mode, version = sys.argv[1:7]
control = open(int(control_number), "r+b")  # noqa: SIM115


def tell(word):
    """Have the supervisor do something, and wait until it is done."""
    control.write(word)
    control.read(1)


class Flash:
    """The image as MicroPython's extended block device."""

    def __init__(self):
        self._file = open(image, "r+b")  # noqa: SIM115
        self._blocks = self._file.seek(0, 2) // BLOCK

    def readblocks(self, block, buffer, offset=0):
        """Read."""
        self._file.seek(block * BLOCK + offset)
        self._file.readinto(buffer)

    def writeblocks(self, block, buffer, offset=0):
        """Program."""
        self._file.seek(block * BLOCK + offset)
        self._file.write(buffer)
        self._file.flush()

    def ioctl(self, request, argument):
        """Block count, block size, erase."""
        if request == 4:
            return self._blocks
        if request == 5:
            return BLOCK
        if request == 6:
            self.writeblocks(argument, b"\xff" * BLOCK)
        return 0


class Machine:
    """What the unix port's own module lacks."""

    @staticmethod
    def reset():
        """The supervisor pulls the plug and puts it in again."""
        tell(b"r")


class OldSystem:
    """sys of an interpreter of another version."""

    def __init__(self, numbers):
        self.implementation = OldImplementation(numbers)


class OldImplementation:
    """Name, version and machine."""

    name = "micropython"
    _machine = "Raspberry Pi Pico with RP2040"
    _mpy = 6

    def __init__(self, numbers):
        self.version = tuple([int(part) for part in numbers.split(".")])


flash = Flash()
try:
    disk = vfs.VfsLfs2(flash, progsize=PROGRAM)
except OSError:
    vfs.VfsLfs2.mkfs(flash, progsize=PROGRAM)
    disk = vfs.VfsLfs2(flash, progsize=PROGRAM)
vfs.umount("/")
vfs.mount(disk, "/")
os.chdir("/")
sys.path[:] = ["", "/lib"]
try:
    os.mkdir("/curves")
except OSError:
    pass  # it is there already
sys.argv[:] = ["main.py", "bench=fd:" + bench, "bus=fd:" + bus, "store=/curves", "speed=real"]
sys.modules["machine"] = Machine()

if mode == "main" and "main.py" in os.listdir("/"):
    tell(b"n")  # the firmware's reads never block
    try:
        with open("/main.py") as file:
            source = file.read()
        exec(source, {"__name__": "__main__"})
    except KeyboardInterrupt:
        print("KeyboardInterrupt: ")
    except SystemExit:
        tell(b"r")
    except Exception as error:
        sys.print_exception(error)
    tell(b"b")
if version:
    sys.modules["sys"] = OldSystem(version)
