"""UF2, the format of files that are dragged onto a board's drive: read, and written so that the
boot ROMs of both chips take it.

After the format's description (microsoft/uf2, README) and the boot ROMs' published sources. The
RP2040's ROM erases a sector when the first of 16 consecutive block numbers comes, wherever its
address lies (pico-bootrom-rp2040, virtual_disk.c): so sectors go whole, 16 blocks each.
"""

import struct
from collections.abc import Mapping
from dataclasses import dataclass

from snapcurve.errors import SnapcurveError

_HEAD = struct.Struct("<8I")
_START, _SECOND, _END = 0x0A324655, 0x9E5D5157, 0x0AB16F30
_FAMILY_GIVEN, _NOT_FOR_FLASH = 0x2000, 0x0001
BLOCK, PAGE, SECTOR = 512, 256, 4096
FLASH_AT, FLASH_END = 0x10000000, 0x11000000
# Families of programs (pico-sdk, boot/uf2.h), and the board file that runs there.
BOARD_OF_FAMILY = {0xE48BFF56: "pico", 0xE48BFF59: "pico2", 0xE48BFF5A: "pico2"}
# picotool's extra block against an error of the RP2350: it would land in the file system's end.
_ABSOLUTE = 0xE48BFF57


@dataclass(frozen=True)
class Uf2:
    """A program for flash: ``pages`` of PAGE bytes by address."""

    family: int
    pages: Mapping[int, bytes]

    def sectors(self) -> dict[int, bytes]:
        """Whole sectors by address; what the file leaves out is blank."""
        found: dict[int, bytearray] = {}
        for address, page in self.pages.items():
            at = address % SECTOR
            sector = found.setdefault(address - at, bytearray(b"\xff" * SECTOR))
            sector[at : at + PAGE] = page
        return {address: bytes(sector) for address, sector in sorted(found.items())}


def read(data: bytes, name: str) -> Uf2:
    """The program in ``data``, the bytes of the file ``name``. SnapcurveError if it is no UF2
    file, a damaged one, or for a chip on which the firmware does not run."""
    if len(data) < BLOCK or len(data) % BLOCK or data[:4] != struct.pack("<I", _START):
        raise SnapcurveError(f"{name} is no UF2 file: take MicroPython's .uf2 for your board.")
    damaged = SnapcurveError(f"{name} is damaged: download it again.")
    families: set[int] = set()
    pages: dict[int, bytes] = {}
    count = 0
    for at in range(0, len(data), BLOCK):
        first, second, flags, address, size, _, total, family = _HEAD.unpack_from(data, at)
        (end,) = struct.unpack_from("<I", data, at + BLOCK - 4)
        if (first, second, end) != (_START, _SECOND, _END):
            raise damaged
        if flags & _NOT_FOR_FLASH or family == _ABSOLUTE:
            continue
        families.add(family if flags & _FAMILY_GIVEN else 0)
        page = data[at + _HEAD.size : at + _HEAD.size + PAGE]
        if size != PAGE or address % PAGE or pages.setdefault(address, page) != page:
            raise damaged
        count = total
    if len(families) != 1 or not families <= set(BOARD_OF_FAMILY):
        raise SnapcurveError(
            f"{name} is for another chip: an image is made for boards with an RP2040 or RP2350."
        )
    if len(pages) != count or not FLASH_AT <= min(pages) <= max(pages) < FLASH_END:
        raise damaged
    return Uf2(families.pop(), pages)


def build(family: int, sectors: Mapping[int, bytes]) -> bytes:
    """The file that writes ``sectors``, SECTOR bytes each by address."""
    pages = [
        (address + at, sector[at : at + PAGE])
        for address, sector in sorted(sectors.items())
        for at in range(0, SECTOR, PAGE)
    ]
    return b"".join(
        _HEAD.pack(_START, _SECOND, _FAMILY_GIVEN, address, PAGE, number, len(pages), family)
        + page.ljust(BLOCK - _HEAD.size - 4, b"\0")
        + struct.pack("<I", _END)
        for number, (address, page) in enumerate(pages)
    )
