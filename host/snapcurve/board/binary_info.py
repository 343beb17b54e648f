"""What a program for a Pico says of itself: name, version, board, and where its storage lies.

After the pico-sdk's headers (pico_binary_info, defs.h and structure.h): within the program's first
kilobyte stand a marker, the ends of a table of pointers, and a second marker.
"""

import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass

from snapcurve.board.uf2 import FLASH_AT, SECTOR
from snapcurve.errors import SnapcurveError

_MARKER, _MARKER_END = 0x7188EBF2, 0xE71AA390
_SEARCHED = 1024  # bytes
_HEAD, _CORE = struct.Struct("<5I"), struct.Struct("<2H")
_ID_AND_STRING, _BLOCK_DEVICE = 6, 7
_TAG = int.from_bytes(b"RP", "little")
_NAME, _VERSION, _BOARD = 0x02031C86, 0x11A9BC3A, 0xB63CFFBB
_ENTRIES_MOST, _TEXT_MOST = 1000, 200


@dataclass(frozen=True)
class ProgramInfo:
    """``version`` as numbers; storage by address and size in bytes."""

    name: str
    version: tuple[int, ...]
    board: str
    storage_at: int
    storage_size: int


class _Image:
    """The program's bytes by address; blank where the file has none."""

    def __init__(self, sectors: Mapping[int, bytes]):
        self._sectors = sectors

    def at(self, address: int, size: int) -> bytes:
        found = b""
        while len(found) < size:
            inside = (address + len(found)) % SECTOR
            sector = self._sectors.get(address + len(found) - inside, b"\xff" * SECTOR)
            found += sector[inside:]
        return found[:size]

    def numbers(self, address: int, form: struct.Struct) -> tuple[int, ...]:
        return tuple(form.unpack(self.at(address, form.size)))

    def text(self, address: int) -> str:
        return self.at(address, _TEXT_MOST).split(b"\0")[0].decode("ascii", "replace")


def program_info(sectors: Mapping[int, bytes], name: str) -> ProgramInfo:
    """What the program in ``sectors`` (by address) says. SnapcurveError if it is not MicroPython
    or does not say where its file system lies; ``name`` is the file's."""
    image = _Image(sectors)
    texts: dict[int, str] = {}
    storage = (0, 0)
    for address in _entries(image):
        kind, tag = image.numbers(address, _CORE)
        if kind == _ID_AND_STRING and tag == _TAG:
            identity, value = image.numbers(address + _CORE.size, struct.Struct("<2I"))
            texts[identity] = image.text(value)
        elif kind == _BLOCK_DEVICE:
            _, at, size = image.numbers(address + _CORE.size, struct.Struct("<3I"))
            storage = (at, size)
    if texts.get(_NAME) != "MicroPython":
        raise SnapcurveError(f"{name} does not hold MicroPython: take its .uf2 for your board.")
    version = re.match(r"v?(\d+)\.(\d+)(?:\.(\d+))?", texts.get(_VERSION, ""))
    at, size = storage
    if version is None or not size or at % SECTOR or size % SECTOR or at < FLASH_AT:
        raise SnapcurveError(
            f"{name} does not say which MicroPython it is or where its file system lies: use "
            "'snapcurve install' without --image."
        )
    numbers = tuple(int(part or 0) for part in version.groups())
    return ProgramInfo(texts[_NAME], numbers, texts.get(_BOARD, ""), at, size)


def _entries(image: _Image) -> list[int]:
    for at in range(FLASH_AT, FLASH_AT + _SEARCHED, 4):
        marker, first, last, _, end = image.numbers(at, _HEAD)
        if (marker, end) == (_MARKER, _MARKER_END) and 0 <= last - first <= 4 * _ENTRIES_MOST:
            raw = image.at(first, (last - first) // 4 * 4)
            return [pointer for (pointer,) in struct.iter_unpack("<I", raw)]
    return []
