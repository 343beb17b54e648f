"""Finished files: written whole beside the old one, then put in its place."""

import errno
import logging
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from snapcurve.errors import file_errors

_log = logging.getLogger(__name__)


def write_whole(path: Path, data: bytes, what: str = "chart") -> None:
    """Put ``data`` at ``path``; an old file there stays as it was until all is written.

    RecordError naming ``path`` if it cannot be done (full disk, no such folder, no
    permission), which calls it ``what``; nothing half-written is left behind.
    """
    with file_errors(f"write the {what} {path}"), writing_whole(path) as file:
        file.write(data)


@contextmanager
def writing_whole(path: Path) -> Iterator[BinaryIO]:
    """A file to write that takes the name ``path`` when it is complete: at the end of the
    ``with``, unless that ends with an error. OSError if it cannot be done."""
    target = Path(os.path.realpath(path))  # a link keeps pointing where it points
    beside = target.with_name(f".{secrets.token_hex(6)}.part")
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    try:
        with open(beside, "xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())  # some file systems report a full disk only here
            size = file.tell()
        os.replace(beside, target)
        _log.debug("wrote %s: %d bytes", target, size)
    finally:
        beside.unlink(missing_ok=True)
