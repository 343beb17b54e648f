"""Options that several commands share."""

import argparse
import os
import re
from pathlib import Path
from typing import Any

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.plain_text import json_text
from wire.catalogue import METHODS

FOLDER = "SNAPCURVE_FOLDER"


def port(parser: argparse.ArgumentParser) -> None:
    """--port"""
    parser.add_argument(
        "--port",
        help="serial port, socket://HOST:PORT, or 'rehearsal' for the built-in board; "
        "left out: the one board that is attached",
    )


def method(parser: argparse.ArgumentParser) -> None:
    """--method"""
    parser.add_argument(
        "--method",
        choices=METHODS,
        default="seeding",
        help="how the chocolate is tempered (default: seeding)",
    )


def notebook(parser: argparse.ArgumentParser) -> None:
    """--notebook"""
    parser.add_argument(
        "--notebook",
        metavar="PLACE",
        help="file of the notebook, or a database URL (default: the user's own, "
        "or SNAPCURVE_NOTEBOOK)",
    )


def negative_amounts(parser: argparse.ArgumentParser) -> None:
    """Let -1kg reach the command, which says in one sentence what is wrong with it."""
    parser._negative_number_matcher = re.compile(r"^-\.?\d")  # no public way


def as_json(parser: argparse.ArgumentParser) -> None:
    """--json"""
    parser.add_argument("--json", action="store_true", help="print JSON for a script")


def checked_limit(limit: int | None) -> None:
    """SnapcurveError for a list of fewer than one."""
    if limit is not None and limit < 1:
        raise SnapcurveError("--limit must be at least 1")


def print_json(value: Any) -> None:
    """One JSON document on standard output."""
    print(json_text(value))


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
