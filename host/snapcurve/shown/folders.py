"""The folder in which the program keeps its data: notebook, charts, days, a board's memory."""

import os
from pathlib import Path

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.shown.plain_text import short

FOLDER = "SNAPCURVE_FOLDER"


def data_path() -> Path:
    """Where all data are kept, unless the notebook or the couvertures are elsewhere.

    SNAPCURVE_FOLDER names it. SnapcurveError if it would lie in the home of nobody.
    """
    import platformdirs

    if chosen := os.environ.get(FOLDER):
        return named_path(FOLDER, chosen)
    return platformdirs.user_data_path("snapcurve", appauthor=False)


def data_folder() -> Path:
    """That folder, made if it is not there; RecordError if it cannot be."""
    return made(data_path(), f" ({FOLDER})" if os.environ.get(FOLDER) else "")


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
