"""Finished files: written whole beside the old one, then put in its place."""

import errno
import logging
import os
import secrets
from pathlib import Path

from snapcurve.errors import file_errors

_log = logging.getLogger(__name__)


def write_whole(path: Path, data: bytes, what: str = "chart") -> None:
    """Put ``data`` at ``path``; an old file there stays as it was until all is written.

    RecordError naming ``path`` if it cannot be done (full disk, no such folder, no
    permission), which calls it ``what``; nothing half-written is left behind.
    """
    target = Path(os.path.realpath(path))  # a link keeps pointing where it points
    beside = target.with_name(f".{secrets.token_hex(6)}.part")
    with file_errors(f"write the {what} {path}"):
        if target.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        try:
            with open(beside, "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())  # some file systems report a full disk only here
            os.replace(beside, target)
            _log.debug("wrote %s: %d bytes", target, len(data))
        finally:
            beside.unlink(missing_ok=True)
