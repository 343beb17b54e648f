"""The folder in which the program keeps what is no notebook: charts, days, a board's memory."""

import os
from pathlib import Path

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.shown.plain_text import short

FOLDER = "SNAPCURVE_FOLDER"


def data_folder() -> Path:
    """Where charts and the rehearsal board's flash are kept; made if it is not there.

    SNAPCURVE_FOLDER names it. RecordError if it cannot be made, SnapcurveError if it would lie
    in the home of nobody.
    """
    import platformdirs

    if chosen := os.environ.get(FOLDER):
        return made(named_path(FOLDER, chosen), f" ({FOLDER})")
    return made(platformdirs.user_data_path("snapcurve", appauthor=False))


def named_path(variable: str, text: str) -> Path:
    """The path that an environment variable names; SnapcurveError for the home of nobody."""
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise SnapcurveError(
            f"{variable} names the home of nobody, {short(text)}: write the path in full."
        ) from error


def made(folder: Path, named_by: str = "") -> Path:
    """``folder``, made if it is not there; RecordError, with ``named_by``, if it cannot be."""
    with file_errors(f"make the folder {folder}{named_by}"):
        folder.mkdir(parents=True, exist_ok=True)
    return folder
