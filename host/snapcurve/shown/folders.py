"""The folder in which the program keeps what is no notebook: charts, days, a board's memory."""

import os
from pathlib import Path

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.shown.plain_text import short

FOLDER = "SNAPCURVE_FOLDER"


def data_folder() -> Path:
    """Where charts and the rehearsal board's flash are kept; made if it is not there.

    RecordError if it cannot be.
    """
    import platformdirs

    text = os.environ.get(FOLDER)
    folder = Path(text) if text else Path(platformdirs.user_data_dir("snapcurve", appauthor=False))
    return made(folder)


def named_path(variable: str, text: str) -> Path:
    """The path that an environment variable names; SnapcurveError for the home of nobody."""
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise SnapcurveError(
            f"{variable} names the home of nobody, {short(text)}: write the path in full."
        ) from error


def made(folder: Path) -> Path:
    """``folder``, made if it is not there; RecordError if it cannot be."""
    with file_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    return folder
