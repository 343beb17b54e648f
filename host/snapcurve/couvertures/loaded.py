"""The couvertures that this computer sent to boards, by the profile that was sent.

A profile holds of its couverture only the name. A file given by path may lie anywhere, and may
have changed when the batches come home; so its text is kept as it was. Of files that make the
same profile, name and all, the one sent last counts.
"""

import hashlib
from pathlib import Path

from snapcurve.charts.files import write_whole
from snapcurve.errors import SnapcurveError

from .couverture import Couverture
from .reading import parse

FOLDER = "loaded"


def remember(folder: Path, profile: bytes, couverture: Couverture) -> None:
    """Keep below `folder` what `profile` was made from; SnapcurveError if that fails."""
    path = _path(folder, profile)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SnapcurveError(
            f"the folder {path.parent} cannot be made: {error.strerror or error}; "
            "name another with SNAPCURVE_FOLDER"
        ) from error
    write_whole(path, couverture.toml_text.encode("utf-8"), "copy of the couverture")


def recall(folder: Path, profile: bytes) -> Couverture | None:
    """What `profile` was made from; None if this computer did not send it, or lost the file."""
    path = _path(folder, profile)
    try:
        text = path.read_bytes().decode("utf-8")
        return parse(text, str(path), path.stem, str(path))
    except (OSError, ValueError, SnapcurveError):
        return None


def _path(folder: Path, profile: bytes) -> Path:
    return folder / FOLDER / f"{hashlib.sha256(profile).hexdigest()[:32]}.toml"
