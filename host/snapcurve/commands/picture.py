"""snapcurve picture: a picture of a batch, by its place and its SHA-256."""

import argparse
from pathlib import Path

from snapcurve.commands import people


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.add_argument("file", type=Path, help="the picture; it stays where it is")
    parser.add_argument("text", nargs="?", help="what it shows")


def run(arguments: argparse.Namespace) -> int:
    """Write down where it is and what its bytes are."""
    import hashlib

    from snapcurve.errors import SnapcurveError

    try:
        with arguments.file.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        path = str(arguments.file.resolve())
        path.encode()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SnapcurveError(f"{arguments.file} cannot be read: {reason}") from error
    payload = {"path": path, "sha256": sha256, "text": arguments.text}
    return people.add_entry(arguments, "picture", payload)
