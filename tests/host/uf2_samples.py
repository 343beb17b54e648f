"""A MicroPython of our own making for the image's tests, old file systems, and a model of the
RP2040's boot ROM."""

import random
import struct

from littlefs import LittleFS
from littlefs.context import UserContext

FLASH_AT = 0x10000000
FLASH_BYTES = 2 << 20
STORAGE_AT, STORAGE_BLOCKS = 0x100A0000, 352  # RPI_PICO (ports/rp2, mpconfigboard.h)
SETTINGS = {
    "block_size": 4096, "read_size": 32, "prog_size": 256, "cache_size": 1024,
    "lookahead_size": 32, "block_cycles": 100,
}  # fmt: skip
RP2040, RP2350, ABSOLUTE, ESP32S3 = 0xE48BFF56, 0xE48BFF59, 0xE48BFF57, 0xC47E5767


def micropython(
    version="v1.28.0",
    name="MicroPython",
    board="pico",
    storage=(STORAGE_AT, STORAGE_BLOCKS * 4096),
    size=300_700,
    header_at=0x100,
):
    """Bytes of a program from FLASH_AT on that says so of itself, as the pico-sdk lays it out;
    the rest is noise."""
    image = bytearray(random.Random(1).randbytes(size))
    texts_at, entries_at, table_at = 0x4F40, 0x5000, 0x5FF8  # across the ends of pages and sectors
    entries = []

    def put(at, raw):
        image[at : at + len(raw)] = raw

    at = texts_at
    for identity, text in ((0x02031C86, name), (0x11A9BC3A, version), (0xB63CFFBB, board)):
        put(at, text.encode() + b"\0")
        entries.append(struct.pack("<HHII", 6, 0x5052, identity, FLASH_AT + at))
        at += len(text) + 1
    entries.append(struct.pack("<HHIi", 5, 0x5052, 0x68F465DE, FLASH_AT + size))
    if storage:
        entries.append(struct.pack("<HHIIIIH", 7, 0x504D, FLASH_AT + texts_at, *storage, 0, 3))
    pointers, at = [], entries_at
    for entry in entries:
        put(at, entry)
        pointers.append(FLASH_AT + at)
        at += len(entry) + 3 & ~3
    put(table_at, struct.pack(f"<{len(pointers)}I", *pointers))
    last = FLASH_AT + table_at + 4 * len(pointers)
    put(header_at, struct.pack("<5I", 0x7188EBF2, FLASH_AT + table_at, last, 0, 0xE71AA390))
    return bytes(image)


def blocks(raw, family=RP2040, at=FLASH_AT):
    """``raw`` as UF2, in pages one after the other, as the linker's file comes."""
    count = -(-len(raw) // 256)
    return b"".join(
        struct.pack("<8I", 0x0A324655, 0x9E5D5157, 0x2000, at + 256 * n, 256, n, count, family)
        + raw[256 * n : 256 * n + 256].ljust(476, b"\0")
        + struct.pack("<I", 0x0AB16F30)
        for n in range(count)
    )


class BootRom:
    """How the RP2040's boot ROM writes (pico-bootrom-rp2040, virtual_disk.c): only its own family
    and whole pages; a sector is erased when the first of 16 block numbers comes; bits are only
    cleared. ``restarted`` when every number of a transfer has come."""

    def __init__(self, flash):
        self.flash = flash
        self.restarted = False
        self._count, self._erased, self._seen = 0, set(), set()

    def take(self, data):
        for at in range(0, len(data), 512):
            self._block(data[at : at + 512])

    def _block(self, raw):
        first, second, flags, address, size, number, count, family = struct.unpack_from("<8I", raw)
        if (first, second, raw[-4:]) != (0x0A324655, 0x9E5D5157, struct.pack("<I", 0x0AB16F30)):
            return
        at = address - FLASH_AT
        if family != RP2040 or not flags & 0x2000 or size != 256 or address % 256:
            return
        if not 0 <= at < len(self.flash) or number >= count:
            return
        if count != self._count:
            self._count, self._erased, self._seen = count, set(), set()
        if number // 16 not in self._erased:
            self._erased.add(number // 16)
            sector = at & ~4095
            self.flash[sector : sector + 4096] = b"\xff" * 4096
        for index in range(256):
            self.flash[at + index] &= raw[32 + index]
        self._seen.add(number)
        self.restarted = len(self._seen) == count


class Storage(UserContext):
    """The file system's part of a flash."""

    def __init__(self, raw):
        super().__init__(buffer=bytearray(raw))


def mounted(context, blocks=STORAGE_BLOCKS):
    """The file system there, mounted as MicroPython does."""
    disk = LittleFS(context, mount=False, block_count=blocks, **SETTINGS)
    disk.mount()
    return disk


def files_in(disk):
    """Path to bytes."""
    found = {}
    for folder, _, names in disk.walk("/"):
        for name in names:
            path = f"{folder.rstrip('/')}/{name}"
            with disk.open(path, "rb") as file:
                found[path.lstrip("/")] = file.read()
    return found


def used(seed, blocks=STORAGE_BLOCKS):
    """The bytes of a file system on which files and folders came and went."""
    chance = random.Random(seed)
    context = Storage(bytes([chance.choice((0xFF, 0x55, 0x00))]) * 4096 * blocks)
    disk = LittleFS(context, mount=False, block_count=blocks, **SETTINGS)
    disk.format()
    disk.mount()
    paths = []
    for turn in range(chance.randrange(5, 80)):
        if paths and chance.random() < 0.35:
            disk.remove(paths.pop(chance.randrange(len(paths))))
            continue
        folder = f"/f{chance.randrange(6)}/{chance.choice('ab')}"
        disk.makedirs(folder, exist_ok=True)
        path = f"{folder}/{turn}"
        with disk.open(path, "wb") as file:
            file.write(chance.randbytes(chance.choice((10, 700, 5000, 20000))))
        paths.append(path)
    disk.unmount()
    return bytes(context.buffer)


def dragged(data, flash):
    """``flash`` after the file ``data`` was dragged onto the drive of its board."""
    rom = BootRom(bytearray(flash))
    rom.take(data)
    assert rom.restarted
    return bytes(rom.flash)


def storage_of(flash):
    at = STORAGE_AT - FLASH_AT
    return flash[at : at + 4096 * STORAGE_BLOCKS]
