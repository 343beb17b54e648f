"""What one release of the firmware is made of: each source file, compiled for the board.

Everything is plain byte code: no file uses native code, so the compiled files are the same
for every processor (a test compares them), and one compiler serves all boards.
"""

import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from snapcurve.board.firmware_files import START, compiled, sources
from snapcurve.wire.version import __version__

FOLDER_PREFIX = "snapcurve."
MANIFEST = "manifest"
_MARK = "written by snapcurve install"


@dataclass(frozen=True)
class BoardFile:
    """One file of a release; ``path`` is relative to the release's folder."""

    path: str
    data: bytes

    @property
    def sha256(self) -> str:
        """The file's digest in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class Release:
    """All files of one firmware for one board, under a folder name that their content gives."""

    version: str
    board: str
    files: tuple[BoardFile, ...]
    main: bytes

    @property
    def folder(self) -> str:
        """The folder on the board: two releases that differ anywhere never share one."""
        return folder_name(self.files)

    @property
    def size(self) -> int:
        """Bytes of all files together."""
        return sum(len(file.data) for file in self.files)

    @property
    def manifest(self) -> bytes:
        """Digest, size and path of each file; the last thing that goes into the folder."""
        lines = [f"snapcurve {self.version} {self.board}"]
        lines += [f"{file.sha256} {len(file.data)} {file.path}" for file in self.files]
        return ("\n".join(lines) + "\n").encode()

    @property
    def folders(self) -> list[str]:
        """Folders inside the release's folder, parents first."""
        parents = {str(parent) for file in self.files for parent in Path(file.path).parents}
        return sorted(parents - {"."})


def folder_name(files: tuple[BoardFile, ...]) -> str:
    """The folder of a release with these files."""
    digest = hashlib.sha256()
    for file in files:
        digest.update(f"{file.path} {file.sha256}\n".encode())
    return FOLDER_PREFIX + digest.hexdigest()[:8]


@cache
def build(board: str, named: bool = False) -> Release:
    """Compile the firmware for ``board``. ``named``: a person named the board, and the board
    is not to judge for itself. SnapcurveError if it cannot be compiled here."""
    files = [BoardFile(f"{name}.mpy", data) for name, data in compiled(sources(board)).items()]
    main = main_text(folder_name(tuple(files)), __version__, board if named else "")
    return Release(__version__, board, tuple(files), main)


def main_text(folder: str, version: str, board: str = "") -> bytes:
    """The board's main.py: the one file that says which release runs."""
    lines = [
        "import micropython",
        "micropython.kbd_intr(-1)  # the wire is binary: no byte of it may interrupt",
        f"# snapcurve {version}, {_MARK}",
        "import sys",
        f'sys.path.insert(0, "/{folder}")',
    ]
    if board:
        lines += ["from snapcurve import boards", f'boards.FITTED = "{board}"']
    lines.append(f"import {START}")
    return ("\n".join(lines) + "\n").encode()


def folder_of(main: bytes) -> str:
    """The folder that a board's main.py starts; empty if it is not one of ours."""
    text = main.decode("utf-8", "replace")
    if _MARK not in text:
        return ""
    for line in text.splitlines():
        if line.startswith('sys.path.insert(0, "/' + FOLDER_PREFIX):
            return line.split('"')[1].lstrip("/")
    return ""
