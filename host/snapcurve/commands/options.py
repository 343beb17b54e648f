"""Options that several commands share."""

import argparse
import json
import os
import re
from pathlib import Path
from typing import Any

from snapcurve.errors import SnapcurveError
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


def mistakes(parser: argparse.ArgumentParser) -> None:
    """--mistakes"""
    parser.add_argument(
        "--mistakes",
        action="store_true",
        help="also records that were started by mistake and never stood in chocolate",
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
    print(json.dumps(value, ensure_ascii=False, indent=2))


def data_folder() -> Path:
    """Where charts and the rehearsal board's flash are kept; made if it is not there."""
    import platformdirs

    text = os.environ.get(FOLDER)
    folder = Path(text) if text else Path(platformdirs.user_data_dir("snapcurve", appauthor=False))
    folder.mkdir(parents=True, exist_ok=True)
    return folder
