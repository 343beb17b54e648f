"""The couvertures that this computer sent to boards, by the profile that was sent.

A profile holds of its couverture only the name. A file given by path may lie anywhere, and may
have changed when the batches come home; so its text is kept as it was. Of files that make the
same profile, name and all, the one sent last counts.
"""

import hashlib
from pathlib import Path

from snapcurve.couvertures.checking_file import parse
from snapcurve.couvertures.model import Couverture
from snapcurve.errors import SnapcurveError
from snapcurve.shown.folders import made
from snapcurve.shown.whole_files import write_whole

FOLDER = "loaded"


def remember(folder: Path, profile: bytes, couverture: Couverture) -> None:
    """Keep below `folder` what `profile` was made from; RecordError if that fails."""
    path = _path(folder, profile)
    made(path.parent)
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
