"""The folder in which the program keeps what is no notebook: charts, days, a board's memory."""

import os
from pathlib import Path

from snapcurve.errors import file_errors

FOLDER = "SNAPCURVE_FOLDER"


def data_folder() -> Path:
    """Where charts and the rehearsal board's flash are kept; made if it is not there.

    RecordError if it cannot be.
    """
    import platformdirs

    text = os.environ.get(FOLDER)
    folder = Path(text) if text else Path(platformdirs.user_data_dir("snapcurve", appauthor=False))
    return made(folder)


def made(folder: Path) -> Path:
    """``folder``, made if it is not there; RecordError if it cannot be."""
    with file_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    return folder
