"""Finished files: written whole beside the old one, then put in its place."""

import os
import secrets
from pathlib import Path

from snapcurve.errors import SnapcurveError


def write_whole(path: Path, data: bytes, what: str = "chart") -> None:
    """Put ``data`` at ``path``; an old file there stays as it was until all is written.

    SnapcurveError naming ``path`` if it cannot be done (full disk, no such folder, no
    permission), which calls it ``what``; nothing half-written is left behind.
    """
    target = Path(os.path.realpath(path))  # a link keeps pointing where it points
    beside = target.with_name(f".{secrets.token_hex(6)}.part")
    try:
        if target.is_dir():
            raise IsADirectoryError(None, "there is a folder of that name")
        try:
            with open(beside, "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())  # some file systems report a full disk only here
            os.replace(beside, target)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise SnapcurveError(
            f"the {what} {path} cannot be written: {error.strerror or error}; "
            "make room or name another place for it"
        ) from error
