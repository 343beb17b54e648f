"""One file to drag onto a new board: MicroPython with the firmware in its file system.

MicroPython formats a file system that it cannot mount at once, and it mounts only one of exactly
its own size. A directory lies in two blocks, of which the one with the higher revision counts: the
other must be in the file as well, also while it is blank, or an older one on the board may win.
So the file has every block that littlefs uses.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from snapcurve.board import binary_info, uf2
from snapcurve.board.fitted import Fitted
from snapcurve.board.installation import OLDEST, SPARE_BLOCKS
from snapcurve.board.release import MANIFEST, Release
from snapcurve.board.uf2 import SECTOR
from snapcurve.errors import SnapcurveError
from snapcurve.wire import catalogue, codec

NO_LIBRARY = (
    "An image needs the package littlefs-python: install it with pip install 'snapcurve[image]'."
)
STORE = "curves"  # where the firmware keeps what it records and its settings


@dataclass(frozen=True)
class Base:
    """A MicroPython file that was read: its UF2 family, sectors by address, what it says of
    itself, and the board file for its chip."""

    family: int
    sectors: Mapping[int, bytes]
    info: binary_info.ProgramInfo
    board: str


def read_base(data: bytes, name: str, board: str | None) -> Base:
    """MicroPython in ``data``, the bytes of the file ``name``. SnapcurveError if it is none, too
    old, or not for ``board`` (None: whatever it is for)."""
    program = uf2.read(data, name)
    sectors, chips_board = program.sectors(), uf2.BOARD_OF_FAMILY[program.family]
    if board not in (None, chips_board):
        raise SnapcurveError(f"{name} is for a {chips_board}, not for a {board}.")
    info = binary_info.program_info(sectors, name)
    if info.version[:2] < OLDEST:
        has, oldest = ".".join(map(str, info.version)), ".".join(map(str, OLDEST))
        raise SnapcurveError(
            f"{name} holds MicroPython {has}, and the firmware needs {oldest} or newer."
        )
    if max(sectors) >= info.storage_at:
        raise SnapcurveError(f"{name} has a file system in it already: take MicroPython alone.")
    return Base(program.family, sectors, info, chips_board)


def contents(release: Release, fitted: Fitted | None) -> dict[str, bytes]:
    """What the file system holds, by path: as an installation leaves it, and the setting of the
    probe if there is one."""
    files = {f"{release.folder}/{file.path}": file.data for file in release.files}
    files[f"{release.folder}/{MANIFEST}"] = release.manifest
    files["main.py"] = release.main
    if fitted is not None:
        files[f"{STORE}/probe"] = codec.pack(catalogue.PROBE, tuple(vars(fitted).values()))
    return files


def image(base: Base, files: Mapping[str, bytes]) -> bytes:
    """The UF2 file with MicroPython and ``files``. SnapcurveError if they do not fit."""
    blocks = file_system(files, base.info.storage_size // SECTOR)
    stored = {base.info.storage_at + SECTOR * block: raw for block, raw in blocks.items()}
    return uf2.build(base.family, {**base.sectors, **stored})


def file_system(files: Mapping[str, bytes], count: int) -> dict[int, bytes]:
    """A littlefs of ``count`` blocks that holds ``files``: each block that it uses, by number.
    SnapcurveError if they do not fit, or the library is missing."""
    try:
        from littlefs import LittleFS, LittleFSError
        from littlefs.context import UserContext
    except ImportError as error:
        raise SnapcurveError(NO_LIBRARY) from error
    touched: set[int] = set()

    class Noting(UserContext):
        """Which blocks are read, programmed or erased."""

        def read(self, cfg: Any, block: int, off: int, size: int) -> bytearray:
            touched.add(block)
            return bytearray(super().read(cfg, block, off, size))

        def prog(self, cfg: Any, block: int, off: int, data: bytes) -> int:
            touched.add(block)
            return int(super().prog(cfg, block, off, data))

        def erase(self, cfg: Any, block: int) -> int:
            touched.add(block)
            return int(super().erase(cfg, block))

    flash = Noting(SECTOR * count)
    try:
        # As MicroPython mounts it (ports/rp2/modules/_boot.py, extmod/vfs_lfsx.c).
        disk = LittleFS(
            flash, mount=False, block_size=SECTOR, block_count=count, read_size=32, prog_size=256,
            cache_size=1024, lookahead_size=32, block_cycles=100,
        )  # fmt: skip
        disk.format()
        disk.mount()
        for path, data in files.items():
            disk.makedirs("/" + path.rpartition("/")[0], exist_ok=True)
            with disk.open("/" + path, "wb") as file:
                file.write(data)
        disk.unmount()
        disk.mount()
        for path, data in files.items():
            with disk.open("/" + path, "rb") as file:
                assert file.read() == data
        used = disk.used_block_count
        disk.unmount()
    except LittleFSError as error:
        raise _too_small(count) from error
    if used + SPARE_BLOCKS > count:
        raise _too_small(count)
    if used > len(touched):
        raise SnapcurveError("The image would lack a block: this is a mistake in snapcurve.")
    return {block: bytes(flash.buffer[SECTOR * block :][:SECTOR]) for block in sorted(touched)}


def _too_small(count: int) -> SnapcurveError:
    return SnapcurveError(
        f"The file system has {count * SECTOR // 1024} KiB, too little for the firmware: take a "
        "board with more flash."
    )
